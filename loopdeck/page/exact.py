"""Files that were written and not played: their notes stand on exact places, which paper takes as
they are instead of hearing them.

Rule
    A file is taken for written when every onset lies within ``NEAR_Q`` of a place that a head can
    begin at (down to a 64th and to the triplets, quintuplets and septuplets of sixteenths), and
    most of them on plain sixteenths or triplets. Nobody plays like that: of 24 places in a quarter,
    each a few thousandths wide, a played note hits one in seven by chance. Thirty-seconds are plain
    but where all of them may be offbeats that swing (eighths by 62.5 %, sixteenths by 75 %).
"""

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction

from loopdeck.page.beat_rows import beats_of, edges_of
from loopdeck.page.form import MOST_BARS
from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.swing import Swing
from loopdeck.shelf.material import Material
from loopdeck.shelf.take import IMPORTED

#: Half a tick of a file with 160 a quarter, and the rounding of its tempo.
NEAR_Q = 0.0033
#: Denominators of places in a quarter, the plainest first; the first few are where most notes are.
_DENOMINATORS = (1, 2, 4, 3, 6, 8, 5, 12, 7, 10, 16)
_PLAIN, _SHARE = 5, 0.7


def exact_places(onset_q: Sequence[float], material: Material) -> list[tuple[int, Fraction]] | None:
    """(bar from 1, place in it) of each onset; None for what was played."""
    if material.take.origin != IMPORTED or not len(onset_q) or min(onset_q) < -NEAR_Q:
        return None
    bars = _bars_to(max(onset_q), material)
    if bars is None:
        return None
    beats = beats_of((begin, material.meter_of(bar)) for bar, begin in enumerate(bars, 1))
    # Places lie further from each other than floats and ticks err.
    edges = edges_of(beats, NEAR_Q)
    found, inside = [], []
    for onset in onset_q:
        start = beats[bisect_right(edges, onset) - 1].start
        near = exact(onset - float(start))
        if near is None:
            return None
        inside.append(near)
        found.append(start + near)
    if not _plain_enough(inside):
        return None
    homes = [bisect_right(bars, place) for place in found]
    return [(bar, place - bars[bar - 1]) for bar, place in zip(homes, found, strict=True)]


def _bars_to(end_q: float, material: Material) -> list[Fraction] | None:
    """Where the bars begin that begin before a quarter; None for more than a page has."""
    found = [Fraction(0)]
    while float(found[-1]) <= end_q + NEAR_Q:
        if len(found) > MOST_BARS:
            return None
        found.append(found[-1] + material.meter_of(len(found)).quarters)
    return found


def _plain_enough(inside: Sequence[Fraction]) -> bool:
    """Whether most places in their beats are such as players write."""
    plain = set(_DENOMINATORS[:_PLAIN])
    fine = {place % 1 for place in inside if place.denominator == 8}
    if not (fine <= {Fraction(5, 8)} or fine <= {Fraction(3, 8), Fraction(7, 8)}):
        plain.add(8)
    if len({place % 1 for place in inside if place.denominator == 5}) > 2:
        # Quintuplets; a swing of 60 % has one or two such places.
        plain.add(5)
    return sum(place.denominator in plain for place in inside) >= _SHARE * len(inside)


def exact(length_q: float) -> Fraction | None:
    """The plainest fraction at which a place or length stands; None for none."""
    for denominator in _DENOMINATORS:
        count = round(length_q * denominator)
        if abs(length_q * denominator - count) <= NEAR_Q * denominator:
            return Fraction(count, denominator)
    return None


def leaves_swing_to_a_sign(
    places: Sequence[tuple[int, Fraction]], material: Material, grid: Grid, swing: Swing
) -> bool:
    """Whether of the second notes of pairs more stand where they are written than where ``swing``
    has them played.
    """
    unit = swing.unit_for(grid)
    late = 2 * unit * swing.ratio / (swing.ratio + 1)
    straight = swung = 0
    for bar, place in places:
        starts = material.meter_of(bar).group_starts
        inside = (place - starts[bisect_right(starts, place) - 1]) % (2 * unit)
        straight += inside == unit
        swung += abs(inside - late) <= NEAR_Q
    return straight > swung or not swung


def plainly_straight(places: Sequence[tuple[int, Fraction]]) -> bool:
    """Whether all places are halves of halves of a beat, so that no swing need be listened for."""
    return all(place.denominator in (1, 2, 4) for _, place in places)
