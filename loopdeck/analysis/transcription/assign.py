"""Which slot each event of a beat belongs to, for every grid at once: dynamic programming over the events.

The model (a metrical hidden Markov model; see the package's docstring for where it is published)
    A beat's events go through the slots of its grid from left to right. An event either stays in the slot of the event before it (a
    chord, a flam, an ornament) or goes to a later one. Its deviation from the slot has two parts: a drift that events close to each other
    share, small at the click and larger between clicks, and the motor noise of each stroke. Given the deviation of the event
    before, the next one is expected to deviate alike: so a beat that is hurried as a whole still keeps its shape.
Conventions
    A *stretch of events* is a beat with one choice of cuts. Places are phases of the beat, 0 to 1; densities are per beat. Of each event
    only the three slots nearest to it are tried.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.grids import MOST, SIZE
from loopdeck.analysis.transcription.table import Table

_BINS = 480
_NEVER = np.float32(-1e9)
_LOG_2PI = np.float32(np.log(2 * np.pi))
#: Bytes an array of the inner loop may take, so that it stays in the cache.
_CELLS = 60_000
#: Grids of a stretch that are searched in full.
PROMISING = 12


class Frame(NamedTuple):
    """What the grids of one kind look like when played: ``position`` (g, MOST) with 9 where there is no slot, and the index of the slot
    nearest to each phase, ``nearest`` (g, bins) for phases from -1 to 2."""

    position: NDArray[np.float32]
    nearest: NDArray[np.int64]
    kind: slice


class Noise(NamedTuple):
    """How far playing lies from the click in this piece: drift at the click and between clicks in beats, motor noise in milliseconds."""

    edge: float
    middle: float
    motor_ms: float


def frame(position: NDArray[np.float32], kind: slice) -> Frame:
    """A frame of grids with these played positions, shape (g, MOST)."""
    phases = (np.arange(3 * _BINS + 1) / _BINS - 1.0).astype(np.float32)
    nearest = np.zeros((len(position), len(phases)), np.int64)
    for row, size in enumerate(SIZE[kind].tolist()):
        places = position[row, :size]
        nearest[row] = np.searchsorted((places[1:] + places[:-1]) / 2, phases, side="right")
    return Frame(position, nearest, kind)


class Batch(NamedTuple):
    """Batch with the same number k of events. ``phase`` (b, k); ``same`` and ``step`` (b, k): what the step to each event tells for
    staying and for going on (logarithms, per beat); ``grace`` (b, k): how far the event before may be a grace note of each event, 0 to 1;
    ``beat_ms`` (b,); ``phase_from`` and ``phase_length`` (b,): see Beats."""

    phase: NDArray[np.float32]
    same: NDArray[np.float32]
    step: NDArray[np.float32]
    grace: NDArray[np.float32]
    beat_ms: NDArray[np.float32]
    phase_from: NDArray[np.float32]
    phase_length: NDArray[np.float32]


class Assigned(NamedTuple):
    """For each stretch its most promising grids, best first: indices within the frame's kind (b, g), scores (b, g), slots (b, g, k)."""

    grid: NDArray[np.int64]
    score: NDArray[np.float32]
    slot: NDArray[np.int8]


def assign(found: Batch, shape: Frame, table: Table, noise: Noise) -> Assigned:
    """The best slots of each stretch on the ``PROMISING`` grids that a first look finds."""
    grids = min(PROMISING, len(shape.position))
    chunk = max(1, _CELLS // max(grids * 9, len(shape.position)))
    parts = []
    for at in range(0, len(found.phase), chunk):
        some = Batch._make(column[at : at + chunk] for column in found)
        worth = _first_look(some, shape, table, noise)
        grid = np.argpartition(-worth, grids - 1, axis=1)[:, :grids]
        parts.append(_assign(some, grid, shape, table, noise))
    return Assigned(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def _first_look(found: Batch, shape: Frame, table: Table, noise: Noise) -> NDArray[np.float32]:
    """A rough score of each stretch on every grid (b, g): each event in its nearest slot, by itself."""
    knobs = table.knobs
    count, events = found.phase.shape
    number = np.arange(len(shape.position))
    weight = np.float32(knobs.slot_weight)
    starts, ends = table.start[shape.kind] * weight, table.end[shape.kind] * weight
    nexts = (table.next[shape.kind] * weight).reshape(-1)
    variance = (noise.middle**2 * 0.7 + (noise.motor_ms / found.beat_ms) ** 2 + noise.edge**2).astype(np.float32)
    scale, base = (-0.5 / variance)[:, None], (-0.5 * np.log(variance) - 0.5 * _LOG_2PI)[:, None]
    score = np.tile(table.grid[shape.kind] * np.float32(knobs.grid_weight), (count, 1))
    before = np.zeros((count, len(number)), np.int64)
    for event in range(events):
        phase = found.phase[:, event]
        slot = shape.nearest[:, _bins(phase)].T
        flat = number * MOST + slot
        off = phase[:, None] - shape.position.reshape(-1)[flat]
        likely = np.maximum(off * off * scale, np.float32(knobs.floor)) + base
        if event == 0:
            likely += starts.reshape(-1)[flat]
        else:
            likely += nexts[(number * MOST + before) * MOST + slot] + found.step[:, event][:, None]
            likely = np.where(slot == before, found.same[:, event][:, None] + np.float32(np.log(knobs.more)), likely)
        score += likely
        before = slot
    return np.asarray(score + ends.reshape(-1)[number * MOST + before])


def _bins(phase: NDArray[np.float32]) -> NDArray[np.int64]:
    return np.clip(((phase + 1.0) * _BINS + 0.5).astype(np.int64), 0, 3 * _BINS)


def _assign(found: Batch, grid: NDArray[np.int64], shape: Frame, table: Table, noise: Noise) -> Assigned:
    """Dynamic programming on the grids (b, g) of each stretch."""
    knobs = table.knobs
    count, events = found.phase.shape
    grids = grid.shape[1]
    size = SIZE[shape.kind][grid]
    weight = np.float32(knobs.slot_weight)
    starts, ends = (table.start[shape.kind] * weight).reshape(-1), (table.end[shape.kind] * weight).reshape(-1)
    nexts = (table.next[shape.kind] * weight).reshape(-1)
    more, stop = np.float32(np.log(knobs.more)), np.float32(np.log(1 - knobs.more))
    motor = (noise.motor_ms / found.beat_ms) ** 2
    own = motor[:, None, None]
    home = (grid * MOST)[:, :, None]
    best_from = np.zeros((events, count, grids, 3), np.int8)
    slots = np.zeros((events, count, grids, 3), np.int8)
    edge, middle = np.float32(noise.edge**2), np.float32(4 * noise.middle**2)
    score = before_pos = before_off = before_gain = before_alone = np.zeros(0, np.float32)
    flat = before_flat = np.zeros(0, np.int64)
    for event in range(events):
        phase = found.phase[:, event]
        nearest = shape.nearest[grid, _bins(phase)[:, None]]
        slot = nearest[:, :, None] + np.array([-1, 0, 1])
        valid = (slot >= 0) & (slot < size[:, :, None])
        slot = np.clip(slot, 0, MOST - 1)
        flat = home + slot
        position = shape.position.reshape(-1)[flat]
        off = phase[:, None, None] - position
        turn = found.phase_from[:, None, None] + position * found.phase_length[:, None, None]
        drift = edge + middle * np.maximum(turn * (1 - turn), 0)
        alone = np.maximum(-0.5 * off * off / (drift + own), np.float32(knobs.first_floor))
        if event == 0:
            score = alone - 0.5 * (np.log(drift + own) + _LOG_2PI) + starts[flat]
        else:
            apart = position[:, :, None, :] - before_pos[:, :, :, None]
            keep = np.float32(1.0) / (1 + np.maximum(apart, 0) * np.float32(1 / knobs.memory_beat))
            gain = keep * before_gain[:, :, :, None]
            miss = off[:, :, None, :] - gain * before_off[:, :, :, None]
            variance = drift[:, :, None, :] * (1 - keep * gain) + own[..., None]
            likely = np.maximum(-0.5 * miss * miss / variance, np.float32(knobs.floor))
            likely -= 0.5 * np.log(variance)
            likely += nexts[before_flat[:, :, :, None] * MOST + slot[:, :, None, :]]
            likely += (found.step[:, event] + stop - 0.5 * _LOG_2PI)[:, None, None, None]
            # A grace note may be early if its main note is in place.
            better = np.maximum(alone[:, :, None, :] - before_alone[:, :, :, None] - np.float32(knobs.grace), 0)
            better *= found.grace[:, event][:, None, None, None]
            likely = np.where(apart == 0, (found.same[:, event] + more)[:, None, None, None] + better, likely)
            likely += score[:, :, :, None]
            best_from[event] = likely.argmax(axis=2)
            score = likely.max(axis=2)
        score = np.where(valid, score, _NEVER)
        slots[event] = slot
        before_pos, before_flat, before_off, before_alone = position, flat, off, alone
        before_gain = drift / (drift + own)
    score = score + ends[flat] + stop
    choice = score.argmax(axis=2)
    chosen = np.zeros((count, grids, events), np.int8)
    rows, columns = np.ogrid[:count, :grids]
    for event in range(events - 1, -1, -1):
        chosen[:, :, event] = slots[event, rows, columns, choice]
        choice = best_from[event, rows, columns, choice]
    return Assigned(grid, score.max(axis=2), chosen)
