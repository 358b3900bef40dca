"""Written lengths: where a note ends on paper.

Rule
    A note ends on the grid of the beat in which it ends: in a beat with a tuplet on the places of
    that tuplet, elsewhere on the grid. In a file that was written its own length stands as long as
    it ends so. Players let go a little early rather than late: an end just before a beat means the
    beat, and one between two places more likely the later of them (common practice, no source).
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor, lcm

from loopdeck.page.beat_rows import Beat, edges_of

#: A note that sounds through so much of the time to the next is written up to it.
LEGATO = 0.6
#: Shorter gaps are never written as a note and a rest: a quick note that is let go early is short
#: by touch.
_NO_REST_Q = Fraction(1, 2)
#: Up to this share of its length a note that means to last to a beat ends before it, and this share
#: early is any end, in no case more than so much of a place of the grid.
_TO_THE_BEAT, _EARLY, _EARLY_PLACE = 0.11, 0.07, 0.4
#: The finest ends: 64ths, and triplets of sixteenths; of other tuplets the 32nds.
_FINEST = {1: 16, 3: 24}


@dataclass(frozen=True)
class Ends:
    """Where notes may end: the beats of a piece in order, the edges between them as floats (a hair
    early, so that exact places lie behind theirs), and the unit of each.
    """

    beats: Sequence[Beat]
    edges: Sequence[float]
    units: Sequence[Fraction]

    @classmethod
    def of(cls, beats: Sequence[Beat], places: Sequence[Fraction], step: Fraction) -> "Ends":
        """For notes that begin at ``places``, on a grid of ``step``."""
        edges = edges_of(beats)
        parts = [1] * len(beats)
        for place in places:
            number = max(bisect_right(edges, float(place)) - 1, 0)
            parts[number] = lcm(parts[number], (place - beats[number].start).denominator)
        known = {
            part: Fraction(1, part) if _odd(part) > 1 and part <= 48 else min(step, Fraction(1, part))
            for part in set(parts)
        }
        return cls(beats, edges, [known[part] for part in parts])

    def _number(self, at: float) -> int:
        return min(max(bisect_right(self.edges, at) - 1, 0), len(self.edges) - 1)

    def holds(self, end: Fraction) -> bool:
        """Whether a note may end there, in a file that was written."""
        number = self._number(float(end))
        inside = (end - self.beats[number].start).denominator
        odd = _odd(inside)
        if odd in _FINEST:
            return inside <= _FINEST[odd]
        return odd == _odd(self.units[number].denominator) and inside <= 4 * odd

    def near(self, place: Fraction, end: float) -> Fraction:
        """The end on paper of what begins at ``place`` and was let go at ``end``, behind
        ``place``.
        """
        number = self._number(end)
        beat, unit = self.beats[number], float(self.units[number])
        begun, start = float(place), float(beat.start)
        following = start + float(beat.length)
        if following - end <= _TO_THE_BEAT * (following - begun):
            return beat.start + beat.length
        later = min(_EARLY * (end - begun), _EARLY_PLACE * unit)
        found = beat.start + round((end + later - start) / unit) * self.units[number]
        return found if found > place else self._after(place)

    def _after(self, place: Fraction) -> Fraction:
        number = self._number(float(place))
        start, unit = self.beats[number].start, self.units[number]
        return start + (floor((place - start) / unit) + 1) * unit


def _odd(number: int) -> int:
    return number // (number & -number)


def as_told(place: Fraction, length: Fraction | None, until: Fraction | None, ends: Ends) -> Fraction | None:
    """The exact length of a note in a written file, up to the next one; None where its end has no
    place on paper.
    """
    if not length:
        return None
    if until is not None and place + length >= until:
        return until - place
    return length if ends.holds(place + length) else None


def on_grid(place: Fraction, sounding: float, until: Fraction | None, step: Fraction, ends: Ends) -> Fraction:
    """The written length of a note in a file whose notes end on the grid: of the grid, 32nds,
    triplets of them, and the tuplet that it stands in.
    """
    own = Fraction(1, place.denominator)
    units = (step, Fraction(1, 8), Fraction(1, 12), *([own] if own < 1 else []))
    lengths = [Fraction(round(sounding / float(unit)), 1) * unit for unit in units]
    lengths = [length for length in lengths if length > 0 and ends.holds(place + length)]
    if not lengths:
        return played(place, sounding, until, ends)
    length = min(lengths, key=lambda one: abs(float(one) - sounding) + (0.01 if one % step else 0.0))
    return length if until is None else min(length, until - place)


def played(place: Fraction, sounding: float, until: Fraction | None, ends: Ends) -> Fraction:
    """The written length of a note that was played; ``until``: where the next one begins."""
    length = ends.near(place, float(place) + sounding) - place
    if until is None:
        return length
    gap = until - place
    if length >= gap or sounding >= LEGATO * float(gap) or gap <= _NO_REST_Q:
        return gap
    return length
