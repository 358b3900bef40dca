"""Quantize: which slot an onset belongs to, and how far it is moved towards it.

Conventions
    Positions are quarters as float64, counted from the start of pass 0, and may be negative. A slot has a *written* place (exact)
    and a *played* one (moved by swing), both from the start of the cycle. An onset belongs to the slot whose played place is
    nearest; exactly between two it belongs to the later one. So an onset less than half a slot before the end of the cycle belongs
    to slot 0 of the next pass: an early downbeat is a downbeat.

The grid called auto
    Live playing cannot wait to see a whole beat, so there ``slots`` takes 1/16. ``auto_slots`` looks at all the notes of a beat (a
    group of the meter; one longer than a dotted quarter is taken quarter by quarter) and chooses the first of 1/4, 1/8, 1/8T, 1/16,
    1/16T from which none of them lies further than 1/24 quarter, half the distance between a sixteenth and the triplet eighth beside
    it; if there is none, the one with the least sum of squares. This project's rule, no source.
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
#: What auto chooses from, simplest first.
AUTO_GRIDS = tuple(Grid(name) for name in ("1/4", "1/8", "1/8T", "1/16", "1/16T"))
#: How far from its slot a note may lie for a grid to fit, in quarters.
AUTO_FITS_Q = 1 / 24


@dataclass(frozen=True, eq=False)
class Slots:
    """The slots of one cycle, in order, ``n`` of them; the arrays are read-only.

    ``written``: exact written places, from the start of the cycle; ``written_q`` the same as float64, shape (n,).
    ``played_q``: where each slot is played, shape (n,), rising, starting with 0.0.
    ``edges``: the midpoints between neighbouring played places, shape (n - 1,).
    ``cycle_q``: the length of the cycle. ``half_q``: how long before its end slot 0 of the next pass begins to draw notes.
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
    """For each onset: the pass it belongs to (int64), its slot (int64) and the slot's played place from the start of pass 0 (float64)."""

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
    """The slots of a cycle. The grid starts afresh at every group; ``auto`` is taken as 1/16, swung as ``auto`` says."""
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
    """The slot each onset belongs to. ``position_q``: shape (k,), quarters since the start of pass 0; the answer's arrays alike."""
    places = _finite(position_q)
    passes = np.floor((places + table.half_q) / table.cycle_q)
    starts = passes * table.cycle_q
    slot = np.searchsorted(table.edges, places - starts, side="right")
    return Located(passes.astype(np.int64), slot, starts + table.played_q[slot])


def quantize(position_q: ArrayLike, table: Slots, strength: float = 1.0, window: float = 1.0) -> NDArray[np.float64]:
    """Where each onset goes: shape (k,), quarters since the start of pass 0.

    ``strength`` 0 to 1: the share of the way to the slot's played place. ``window`` above 0 up to 1: an onset further from its slot than
    this share of the half distance to the neighbour on its side stays where it is; 1 moves every onset.
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


class AutoLocated(NamedTuple):
    """As ``Located``, with a grid of its own for each onset: ``grid`` indexes ``AUTO_GRIDS``, ``slot`` indexes ``written``.

    ``written`` holds the written places of all the grids together, rising. ``moved_q``: where each onset goes.
    """

    pass_index: NDArray[np.int64]
    slot: NDArray[np.int64]
    target_q: NDArray[np.float64]
    moved_q: NDArray[np.float64]
    grid: NDArray[np.int64]
    written: tuple[Fraction, ...]


@lru_cache(maxsize=16)
def _auto_tables(
    cycle: Cycle, swing: Swing
) -> tuple[tuple[Slots, ...], tuple[Fraction, ...], tuple[NDArray[np.int64], ...], NDArray[np.float64]]:
    """The tables of the grids, all their written places together, where each table's slots stand among them, and the beats' starts."""
    # One subdivision is swung, whichever grid a beat turns out to have: else one written place would have two played ones.
    swung = Swing(swing.ratio, swing.unit_for(Grid("auto")))
    tables = tuple(slots(cycle, grid, swung) for grid in AUTO_GRIDS)
    written = tuple(sorted({place for table in tables for place in table.written}))
    number = {place: index for index, place in enumerate(written)}
    numbers = tuple(np.array([number[place] for place in table.written], np.int64) for table in tables)
    beats = []
    for group in cycle.groups:
        parts = 1 if group.length <= Fraction(3, 2) else -int(-group.length // 1)
        beats += [float(group.start + part) for part in range(parts)]
    return tables, written, numbers, np.array(beats)


def auto_slots(
    position_q: ArrayLike, cycle: Cycle, swing: Swing, strength: float = 1.0, window: float = 1.0
) -> AutoLocated:
    """Onsets located on the simplest grid that fits each beat, by the rule at the top of this module.

    ``position_q``: shape (k,), quarters since the start of pass 0, in any order. A note within 1/12 quarter before a beat (half of the
    finest step) is judged with that beat. ``strength`` and ``window`` as in ``quantize``.
    """
    places = _finite(position_q)
    tables, written, numbers, beats = _auto_tables(cycle, swing)
    cycle_q, early_q = float(cycle.quarters), 1 / 12
    passes = np.floor((places + early_q) / cycle_q)
    beat = np.searchsorted(beats, places - passes * cycle_q + early_q, side="right") - 1
    _, key = np.unique(passes * len(beats) + beat, return_inverse=True)
    found = [locate(places, table) for table in tables]
    miss = np.stack([np.abs(places - one.target_q) for one in found])
    beats_played = int(key.max()) + 1 if len(key) else 0
    worst = np.zeros((len(tables), beats_played))
    squares = np.zeros_like(worst)
    for index, row in enumerate(miss):
        np.maximum.at(worst[index], key, row)
        np.add.at(squares[index], key, row**2)
    fits = worst <= AUTO_FITS_Q + 1e-9
    grid = np.where(fits.any(axis=0), fits.argmax(axis=0), squares.argmin(axis=0))[key]

    def chosen(rows: list[NDArray[np.float64]] | list[NDArray[np.int64]]) -> NDArray[np.float64] | NDArray[np.int64]:
        return np.stack(rows)[grid, np.arange(len(places))]

    return AutoLocated(
        pass_index=chosen([one.pass_index for one in found]).astype(np.int64),
        slot=chosen([names[one.slot] for names, one in zip(numbers, found, strict=True)]).astype(np.int64),
        target_q=chosen([one.target_q for one in found]).astype(np.float64),
        moved_q=chosen(
            [move(places, one, table, strength, window) for one, table in zip(found, tables, strict=True)]
        ).astype(np.float64),
        grid=grid.astype(np.int64),
        written=written,
    )
