"""A bar as a row of events without gaps: chords, rests, and what is held over from the bar before,
each as heads with ties.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from loopdeck.page.form import PageBar, PageNote
from loopdeck.page.values import Value, split


@dataclass(frozen=True)
class Head:
    """One head at ``at`` in its bar: of ``notes`` (none: a rest), tied to what is before and after
    it.
    """

    at: Fraction
    value: Value
    notes: tuple[PageNote, ...]
    from_before: bool = False
    to_next: bool = False


def heads_of(bars: Sequence[PageBar]) -> list[list[Head]]:
    """The heads of every bar; in each their lengths add up to the bar's."""
    found: list[list[Head]] = []
    over: tuple[PageNote, ...] = ()
    left = Fraction(0)
    for bar in bars:
        heads: list[Head] = []
        at = Fraction(0)
        if left > 0:
            length = min(left, bar.length)
            heads += _tied(at, length, over, bar, True, left > length)
            at, left = length, left - length
        for place, chord in _chords(bar):
            if place > at:
                heads += _tied(at, place - at, (), bar, False, False)
            until = place + chord[0].duration
            length = min(until, bar.length) - place
            heads += _tied(place, length, chord, bar, False, until > bar.length)
            at, over, left = place + length, chord, until - bar.length
        if at < bar.length:
            heads += _tied(at, bar.length - at, (), bar, False, False)
        found.append(heads)
        left = max(left, Fraction(0))
    return found


def _chords(bar: PageBar) -> list[tuple[Fraction, tuple[PageNote, ...]]]:
    places: dict[Fraction, list[PageNote]] = {}
    for note in bar.notes:
        places.setdefault(note.at, []).append(note)
    return [(place, tuple(places[place])) for place in sorted(places)]


def _tied(
    at: Fraction, length: Fraction, notes: tuple[PageNote, ...], bar: PageBar, before: bool, after: bool
) -> list[Head]:
    # A pick-up bar is the end of a whole one.
    shift = bar.meter.quarters - bar.length if bar.pickup else Fraction(0)
    values = split(at + shift, length, bar.meter)
    heads = []
    for index, value in enumerate(values):
        last = index + 1 == len(values)
        tied = bool(notes)
        heads.append(Head(at, value, notes, tied and (index > 0 or before), tied and (not last or after)))
        at += value.length
    return heads
