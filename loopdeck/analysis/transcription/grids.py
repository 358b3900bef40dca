"""The ways a beat can be divided that the rhythm model chooses from.

Conventions
    A *place* is a fraction of a beat, 0 up to 1 (not 1 itself: that is the next beat's 0).
    ``PLACES`` lists every place that any grid knows, rising; places are passed on as indices into
    it. A *grid* is a set of places, rising, that begins with 0. Simple beats (a quarter, a half of
    a divided group) and compound beats (three units) have grids of their own; ``GRIDS`` holds the
    simple ones, then the compound ones, each simplest first. A set of onsets is explained by the
    first grid that holds all of it.

Which grids there are
    Even divisions of the beat; halves of a simple beat divided each in its own way (an eighth and a
    sixteenth triplet); and two divisions at once, as two hands play them (three against two).
"""

from fractions import Fraction
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Places = tuple[Fraction, ...]


class BeatDivision(NamedTuple):
    """One way to divide a beat: what it is called in reports, and its places."""

    name: str
    places: Places


def _even(parts: int) -> Places:
    return tuple(Fraction(index, parts) for index in range(parts))


def _halves(first: int, second: int) -> Places:
    half = Fraction(1, 2)
    return tuple(place * half for place in _even(first)) + tuple(half + place * half for place in _even(second))


def _both(one: int, other: int) -> Places:
    return tuple(sorted({*_even(one), *_even(other)}))


def _listed(rows: tuple[str, ...]) -> tuple[BeatDivision, ...]:
    """``4`` is an even division, ``1|3`` halves, ``3:2`` both at once."""
    found = []
    for row in rows:
        if "|" in row:
            first, second = row.split("|")
            places = _halves(int(first), int(second))
        elif ":" in row:
            first, second = row.split(":")
            places = _both(int(first), int(second))
        else:
            places = _even(int(row))
        found.append(BeatDivision(row, places))
    return tuple(found)


SIMPLE = _listed(
    (
        "1", "2", "4", "3", "3:2", "6", "1|4", "4|1", "2|4", "4|2", "8", "1|3", "3|1", "2|3", "3|2", "3:4", "5", "7", "9", "10", "12",
        "5:2", "5:4", "5:3", "3|4", "4|3", "1|5", "5|1", "2|5", "5|2", "1|6", "6|1", "2|6", "6|2", "1|7", "7|1", "4:6", "6|4", "4|6", "3:8",
        "7:2", "7:4", "11", "13", "16", "14", "15", "9:2", "24",
    )
)  # fmt: skip
COMPOUND = _listed(
    ("1", "3", "6", "2", "2:3", "4", "3:4", "12", "9", "6:4", "5", "7", "8", "10", "6:9", "6:8", "3:5", "6:5", "11", "18", "15", "13", "14", "24", "3:7")
)  # fmt: skip
GRIDS = SIMPLE + COMPOUND
#: The grids of simple and of compound beats among ``GRIDS``.
KIND = (slice(0, len(SIMPLE)), slice(len(SIMPLE), len(GRIDS)))
PLACES: Places = tuple(sorted({place for grid in GRIDS for place in grid.places}))
PLACE_NUMBER = {place: index for index, place in enumerate(PLACES)}
#: The most places a grid has.
MOST = max(len(grid.places) for grid in GRIDS)
#: Positions of the grids' slots, shape (grids, MOST); where there is no slot, 9.
POSITION: NDArray[np.float32] = np.full((len(GRIDS), MOST), 9.0, np.float32)
#: The same as indices into PLACES; where there is no slot, 0.
PLACE_OF: NDArray[np.int64] = np.zeros((len(GRIDS), MOST), np.int64)
#: How many slots each grid has.
SIZE: NDArray[np.int64] = np.array([len(grid.places) for grid in GRIDS])
for _number, _grid in enumerate(GRIDS):
    POSITION[_number, : len(_grid.places)] = [float(place) for place in _grid.places]
    PLACE_OF[_number, : len(_grid.places)] = [PLACE_NUMBER[place] for place in _grid.places]
for _array in (POSITION, PLACE_OF, SIZE):
    _array.setflags(write=False)


#: Grids whose slots move with the swing: those made of halves.
_BINARY = ({"1", "2", "4", "8", "16", "1|4", "4|1", "2|4", "4|2"}, {"1", "3", "6", "12", "24"})
SWUNG: NDArray[np.bool_] = np.array([grid.name in _BINARY[number >= len(SIMPLE)] for number, grid in enumerate(GRIDS)])
SWUNG.setflags(write=False)
