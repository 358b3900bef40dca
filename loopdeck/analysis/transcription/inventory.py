"""Whether a take needs more than sixteenths: two readings of all of it are held against each other.

A free player's late sixteenth looks like a triplet here and like a thirty-second there. So a take
that hardly ever leaves the divisions by one, two and four is read a second time with nothing else,
and what is simpler is believed unless the other divisions explain much more: each beat that has one
must be worth a part of a description length (Rissanen, "Modeling by shortest data description",
Automatica 14(5), 1978).
"""

from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.grids import GRIDS, KIND
from loopdeck.analysis.transcription.table import Table

#: Divisions of simple and of compound beats that are sixteenths or slower.
_NAMES = ({"1", "2", "4"}, {"1", "3", "6"})
BASIC: NDArray[np.bool_] = np.array([grid.name in _NAMES[number >= KIND[1].start] for number, grid in enumerate(GRIDS)])
#: What each beat with another division must gain (natural logarithms), and the share of such beats
#: from which on the whole take is doubted and not only these beats: then each must gain less, for
#: what is usual in a take costs little to name.
WORTH, MOST_OTHERS, WORTH_OF_MANY = 2.5, 0.25, 1.4
#: In what share of a take's beats a division is rare and uncommon, and what each beat that has it
#: must gain by itself then.
RARE, UNCOMMON = (0.04, 2.5), (0.1, 0.0)
_NEVER = -40.0


@lru_cache(maxsize=8)
def basic(table: Table) -> Table:
    """The table of takes that have basic divisions alone."""
    grid = np.full_like(table.grid, _NEVER)
    follows = np.full_like(table.follows, _NEVER)
    for kind in KIND:
        some = np.arange(kind.start, kind.stop)[BASIC[kind]]
        grid[some] = table.grid[some] - np.logaddexp.reduce(table.grid[some])
        rows = table.follows[:, some]
        follows[:, some] = rows - np.logaddexp.reduce(rows, axis=1, keepdims=True)
    return replace(table, grid=grid, follows=follows)


def others(grid: NDArray[np.int64]) -> int:
    """How many beats have another division; ``grid`` of each beat, -1 where it is empty."""
    return int((~BASIC[grid[grid >= 0]]).sum())


def needing_others(grid: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which beats have another division or stand beside one that has, (m,)."""
    odd = np.concatenate([[False], (grid >= 0) & ~BASIC[grid], [False]])
    return np.asarray(odd[1:-1] | odd[:-2] | odd[2:])


def many_others(grid: NDArray[np.int64]) -> bool:
    """Whether another division is nothing unusual in a take, or wrong all over it."""
    return others(grid) > MOST_OTHERS * int((grid >= 0).sum())


def doubtful(grid: NDArray[np.int64]) -> bool:
    """Whether a second reading is worth its time."""
    return others(grid) > 0 and not many_others(grid)


def needless(grid: NDArray[np.int64], gain: float) -> bool:
    """Whether basic divisions are to be believed, when the reading with ``grid`` scores ``gain``
    more.
    """
    return gain <= (WORTH_OF_MANY if many_others(grid) else WORTH) * others(grid)


def stray(grid: NDArray[np.int64], gain: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Beats with a division that the take seldom has and that explains little there, (m,).

    ``gain`` (m,): what the beat scores more than with a basic division.
    """
    odd = (grid >= 0) & ~BASIC[grid]
    share = np.bincount(grid[odd], minlength=len(GRIDS)) / max(int((grid >= 0).sum()), 1)
    own = share[np.maximum(grid, 0)]
    # A division is weighed together with the beats beside it, whose notes may change sides.
    around = gain.copy()
    around[1:] += gain[:-1]
    around[:-1] += gain[1:]
    least = np.where(own < RARE[0], RARE[1], np.where(own < UNCOMMON[0], UNCOMMON[1], -np.inf))
    return np.asarray(odd & (around < least))
