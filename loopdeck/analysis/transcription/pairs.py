"""What is a swung pair and what a triplet in a take that swings in eighths.

At 2:1 a swung off-beat falls on the last third of its beat, so timing alone cannot tell them apart.
Players write the pair straight and keep the triplet for beats with something on the second third
(common practice, no source); so it is here.
"""

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.beats import Beats
from loopdeck.analysis.transcription.grids import GRIDS, KIND, PLACE_NUMBER, PLACES
from loopdeck.rhythm.swing import UNITS, Swing

_NUMBER = {grid.name: number for number, grid in enumerate(GRIDS[KIND[0]])}
_AT = {(int(place.numerator), int(place.denominator)): number for place, number in PLACE_NUMBER.items()}
_QUARTER, _THIRD, _HALF, _LAST = _AT[1, 4], _AT[1, 3], _AT[1, 2], _AT[2, 3]
_BEGIN = _AT[0, 1]
#: An off-beat further from the last third than this, in beats, is no triplet's; and how much nearer
#: to swung sixteenths than to a triplet two notes must lie to be taken for them.
_NEAR, _CLEARLY = 0.09, 0.03
_PLACE = np.array([float(place) for place in PLACES])


def swings_in_eighths(swing: Swing) -> bool:
    """Whether pairs of eighths are uneven."""
    return swing.unit == UNITS["1/8"] and not swing.straight


def written_as_pairs(
    beat: NDArray[np.int64],
    place: NDArray[np.int64],
    grid: NDArray[np.int64],
    onset_q: NDArray[np.float64],
    beats: Beats,
    swing: Swing,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """``place`` (k,) of events and ``grid`` (m,) of beats, settled; ``beat`` and ``onset_q`` of the
    events. Nothing is changed but beats of a quarter in a take that swings in eighths.
    """
    share = float(swing.ratio / (swing.ratio + 1))
    place, grid = place.copy(), grid.copy()
    phase = (onset_q - beats.start_q[beat]) / beats.length_q[beat]
    whole = (np.abs(beats.length_q - 1.0) < 1e-6) & ~beats.compound
    # One number for the set of places in each beat: thirds without the second one, or two
    # sixteenths.
    first = np.searchsorted(beat, np.arange(len(grid) + 1))
    for index in np.flatnonzero(whole & np.isin(grid, (_NUMBER["3"], _NUMBER["4"]))).tolist():
        rows = slice(first[index], first[index + 1])
        struck = set(place[rows].tolist())
        if grid[index] == _NUMBER["3"] and _THIRD not in struck and _LAST in struck:
            off = phase[rows][place[rows] == _LAST]
            if (np.abs(off - share) < _NEAR).all():
                place[rows][place[rows] == _LAST] = _HALF
                grid[index] = _NUMBER["2"]
        elif grid[index] == _NUMBER["4"] and struck - {_BEGIN} == {_QUARTER, _HALF}:
            inner = place[rows] != _BEGIN
            straight = _PLACE[place[rows][inner]]
            swung = np.abs(phase[rows][inner] - straight * 2 * share).mean()
            triplet = np.abs(phase[rows][inner] - straight * 4 / 3).mean()
            if triplet < swung + _CLEARLY:
                place[rows] = np.select([place[rows] == _QUARTER, place[rows] == _HALF], [_THIRD, _LAST], place[rows])
                grid[index] = _NUMBER["3"]
    return place, grid
