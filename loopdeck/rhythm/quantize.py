"""Quantize: which slot an onset belongs to, and how far it is moved towards it.

Conventions
    Positions are quarters as float64, counted from the start of pass 0, and may be negative. A slot
    has a *written* place (exact) and a *played* one (moved by swing), both from the start of the
    cycle. An onset belongs to the slot whose played place is nearest; exactly between two it
    belongs to the later one. So an onset less than half a slot before the end of the cycle belongs
    to slot 0 of the next pass: an early downbeat is a downbeat.

The grid called auto
    Live playing cannot wait to see a whole beat, so here ``slots`` takes 1/16. A take that is there
    as a whole is read by ``analysis.transcription``.
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.errors import UserError
from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.meter import Cycle
from loopdeck.rhythm.swing import Swing, bends

#: The grid that stands in for auto while playing.
LIVE_GRID = Grid("1/16")


@dataclass(frozen=True, eq=False)
class Slots:
    """The slots of one cycle, in order, ``n`` of them; the arrays are read-only.

    ``written``: exact written places, from the start of the cycle; ``written_q`` the same as
    float64, shape (n,). ``played_q``: where each slot is played, shape (n,), rising, starting with
    0.0. ``edges``: the midpoints between neighbouring played places, shape (n - 1,). ``cycle_q``:
    the length of the cycle. ``half_q``: how long before its end slot 0 of the next pass begins to
    draw notes.
    """

    written: tuple[Fraction, ...]
    written_q: NDArray[np.float64]
    played_q: NDArray[np.float64]
    edges: NDArray[np.float64]
    cycle_q: float
    half_q: float

    def __len__(self) -> int:
        return len(self.written)


class Located(NamedTuple):
    """For each onset: the pass it belongs to (int64), its slot (int64) and the slot's played place
    from the start of pass 0 (float64).
    """

    pass_index: NDArray[np.int64]
    slot: NDArray[np.int64]
    target_q: NDArray[np.float64]


def _table(written: list[Fraction], played: NDArray[np.float64], cycle: Cycle) -> Slots:
    arrays = (np.array(written, float), played, (played[1:] + played[:-1]) / 2)
    for array in arrays:
        array.setflags(write=False)
    cycle_q = float(cycle.quarters)
    return Slots(tuple(written), *arrays, cycle_q, (cycle_q - float(played[-1])) / 2)


@lru_cache(maxsize=64)
def slots(cycle: Cycle, grid: Grid, swing: Swing) -> Slots:
    """The slots of a cycle.

    The grid starts afresh at every group; ``auto`` is taken as 1/16, swung as ``auto`` says.
    """
    step = (LIVE_GRID if grid.auto else grid).step
    assert step is not None
    written = [group.start + index * step for group in cycle.groups for index in range(-int(-group.length // step))]
    corners = bends(cycle, swing, grid)
    places = np.array(written, float)
    played = np.interp(places, np.array(corners[0], float), np.array(corners[1], float)) if corners else places.copy()
    return _table(written, played, cycle)


def _finite(positions: ArrayLike) -> NDArray[np.float64]:
    places = np.atleast_1d(np.asarray(positions, dtype=np.float64))
    if not np.isfinite(places).all():
        raise UserError("A position is not a number; onsets must be finite.")
    return places


def locate(position_q: ArrayLike, table: Slots) -> Located:
    """The slot each onset belongs to.

    ``position_q``: shape (k,), quarters since the start of pass 0; the answer's arrays alike.
    """
    places = _finite(position_q)
    passes = np.floor((places + table.half_q) / table.cycle_q)
    starts = passes * table.cycle_q
    slot = np.searchsorted(table.edges, places - starts, side="right")
    return Located(passes.astype(np.int64), slot, starts + table.played_q[slot])


def quantize(position_q: ArrayLike, table: Slots, strength: float = 1.0, window: float = 1.0) -> NDArray[np.float64]:
    """Where each onset goes: shape (k,), quarters since the start of pass 0.

    ``strength`` 0 to 1: the share of the way to the slot's played place. ``window`` above 0 up to
    1: an onset further from its slot than this share of the half distance to the neighbour on its
    side stays where it is; 1 moves every onset.
    """
    places = _finite(position_q)
    found = locate(places, table)
    return move(places, found, table, strength, window)


def move(
    places: NDArray[np.float64], found: Located, table: Slots, strength: float = 1.0, window: float = 1.0
) -> NDArray[np.float64]:
    """As ``quantize``, for onsets that have been located in ``table`` already."""
    if not 0.0 <= strength <= 1.0:
        raise UserError(f"The strength {strength:g} is out of range; it must lie between 0 and 1.")
    if not 0.0 < window <= 1.0:
        raise UserError(f"The window {window:g} is out of range; it must lie above 0 and not above 1.")
    if strength == 1.0 and window == 1.0:
        return found.target_q
    away = found.target_q - places
    moved = found.target_q if strength == 1.0 else places + strength * away
    if window == 1.0:
        return moved
    before = np.empty(len(table))
    before[1:] = np.diff(table.played_q) / 2
    before[0] = table.half_q
    reach = np.where(away > 0, before[found.slot], np.roll(before, -1)[found.slot])
    return np.where(np.abs(away) <= window * reach, moved, places)
