"""Which grid a beat of written music is on."""

from fractions import Fraction

from loopdeck.analysis.transcription.grids import GRIDS, KIND

_AS_SET = [frozenset(grid.places) for grid in GRIDS]


def simplest(places: frozenset[Fraction], compound: bool) -> int | None:
    """The first grid of its kind that holds all the places; None if none does."""
    for number in range(*KIND[int(compound)].indices(len(GRIDS))):
        if places <= _AS_SET[number]:
            return number
    return None
