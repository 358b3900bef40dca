"""The beats of a row of bars."""

from collections.abc import Iterable
from fractions import Fraction
from typing import NamedTuple

from loopdeck.analysis.transcription.beats import cycle_beats
from loopdeck.rhythm.meter import Cycle, Meter


class Beat(NamedTuple):
    """A beat, quarters from the start of bar 1; ``compound``: of three units."""

    start: Fraction
    length: Fraction
    compound: bool


def beats_of(bars: Iterable[tuple[Fraction, Meter]]) -> list[Beat]:
    """The beats of bars, each with its start."""
    found = []
    for begin, meter in bars:
        beats = cycle_beats(Cycle((meter,)))
        rows = zip(beats.start, beats.length, beats.compound, strict=True)
        found += [Beat(begin + start, length, compound) for start, length, compound in rows]
    return found


def edges_of(beats: Iterable[Beat], early: float = 1e-7) -> list[float]:
    """Where beats start, as floats, a hair early: an exact place in a beat lies behind its edge."""
    # A quotient is quicker than a Fraction's own float.
    return [beat.start.numerator / beat.start.denominator - early for beat in beats]
