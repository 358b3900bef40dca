"""Which slot each event of a beat belongs to, for the likely grids at once: dynamic programming
over the events.

The model (a metrical hidden Markov model; see the package's docstring for where it is published)
    A beat's events go through the slots of its grid from left to right. An event either stays in
    the slot of the event before it (a chord, a flam, an ornament) or goes to a later one. Its
    deviation from the slot has two parts: a drift that events close to each other share, small at
    the click and larger between clicks, and the motor noise of each stroke. Given the deviation of
    the event before, the next one is expected to deviate alike: so a beat that is hurried as a
    whole still keeps its shape.
Conventions
    A *batch* is beats, each with one choice of cuts, that have the same number of events. Places
    are phases of the beat, 0 to 1; densities are per beat. Of each event only the three slots
    nearest to it are tried. Array axes: (b)eat, (g)rid, slot before, slot.
"""

from functools import lru_cache
from math import lgamma, log
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.grids import MOST, SIZE
from loopdeck.analysis.transcription.table import Table

_BINS = 480
_NEVER = np.float32(-1e9)
_LOG_2PI = np.float32(np.log(2 * np.pi))
#: Cells of an array of the inner loop, so that it stays in the cache.
_CELLS = 60_000
#: Grids of a beat that are searched in full.
PROMISING = 8
#: Beyond this part of a beat a deviation costs so much more a beat, however far the floor reaches.
NEAR, FAR = 0.12, 25.0
#: The same for a note that stands with another one and is not a voice of a rolled chord; flams and
#: grace notes at a quick tempo may be so many milliseconds off.
NEAR_MS = 40.0
#: Grids less likely than this (logarithm) are not looked at.
NEVER_USED = -30.0
#: See ``Batch.spare``.
NOT = np.float32(1e9)
_BESIDE = np.array([-1, 0, 1])

Floats = NDArray[np.float32]
Ints = NDArray[np.int64]


class Frame(NamedTuple):
    """What the grids of one kind look like when played: ``position`` (g, MOST) with 9 where there
    is no slot, and the index of the slot
    nearest to each phase, ``nearest`` (g, bins) for phases from -1 to 2."""

    position: Floats
    nearest: Ints
    kind: slice


class Noise(NamedTuple):
    """How far playing lies from the click in this piece: drift at the click and between clicks in
    beats, motor noise in milliseconds; ``bend``: degrees of freedom of a beat's deviations, 0 for
    Gaussian ones; ``apart``: the share of chords in which one hand is ahead of the beat.
    """

    edge: float
    middle: float
    motor_ms: float
    bend: float = 30.0
    apart: float = 0.02


class Batch(NamedTuple):
    """Beats with the same number k of events. ``phase`` (b, k) and ``half`` (b, k), how much
    earlier and later parts of it are; ``same`` and ``step`` (b, k): what the step to each event
    tells for staying and for going on (logarithms, per beat); ``spare`` (b, k): if an event stays
    in the slot of the one before, the one nearer to the slot counts; that costs so much (``NOT`` if
    only the first one counts); ``loose`` (b, k): whether an event that stays there may be far from
    it; ``beat_ms`` (b,); ``phase_from`` and ``phase_length`` (b,): see Beats.
    """

    phase: Floats
    half: Floats
    same: Floats
    step: Floats
    spare: Floats
    loose: NDArray[np.bool_]
    beat_ms: Floats
    phase_from: Floats
    phase_length: Floats


class Assigned(NamedTuple):
    """For each beat its most promising grids: indices within the frame's kind (b, g), scores (b,
    g), slots (b, g, k).
    """

    grid: Ints
    score: Floats
    slot: NDArray[np.int8]


class _Column(NamedTuple):
    """One event's three slots on each grid (b, g, 3): their number, flat index, position, the
    event's ``off``\\ set from them, the penalty for being ``far`` from it, the ``drift`` variance
    there, how well the event fits ``alone``, and whether there is such a slot.
    """

    slot: Ints
    flat: Ints
    position: Floats
    off: Floats
    far: Floats
    drift: Floats
    alone: Floats
    there: NDArray[np.bool_]


def frame(position: Floats, kind: slice) -> Frame:
    """A frame of grids with these played positions, shape (g, MOST)."""
    phases = (np.arange(3 * _BINS + 1) / _BINS - 1.0).astype(np.float32)
    nearest = np.zeros((len(position), len(phases)), np.int64)
    for row, size in enumerate(SIZE[kind].tolist()):
        places = position[row, :size]
        nearest[row] = np.searchsorted((places[1:] + places[:-1]) / 2, phases, side="right")
    return Frame(position, nearest, kind)


def assign(found: Batch, shape: Frame, table: Table, noise: Noise) -> Assigned:
    """The best slots of each beat on the ``PROMISING`` grids that a first look finds, or on all of
    them where there are no more.
    """
    known = np.flatnonzero(table.grid[shape.kind] > NEVER_USED)
    grids = min(PROMISING, len(known))
    chunk = max(1, _CELLS // max(grids * 9, len(shape.position)))
    parts = []
    for at in range(0, len(found.phase), chunk):
        some = Batch._make(column[at : at + chunk] for column in found)
        if len(known) > grids:
            worth = _first_look(some, shape, table, noise)
            grid = np.argpartition(-worth, grids - 1, axis=1)[:, :grids]
        else:
            grid = np.tile(known, (len(some.phase), 1))
        parts.append(_search(some, grid, shape, table, noise))
    return Assigned(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def _first_look(found: Batch, shape: Frame, table: Table, noise: Noise) -> Floats:
    """A rough score of each beat on every grid (b, g): each event in its nearest slot, by
    itself.
    """
    knobs = table.knobs
    count, events = found.phase.shape
    home = np.arange(len(shape.position)) * MOST
    nexts, starts, ends = table.weighted(shape.kind)
    variance = (noise.middle**2 * 0.7 + (noise.motor_ms / found.beat_ms) ** 2 + noise.edge**2).astype(np.float32)
    scale, base = (-0.5 / variance)[:, None], (-0.5 * np.log(variance) - 0.5 * _LOG_2PI)[:, None]
    score = np.tile(table.grid[shape.kind] * np.float32(knobs.grid_weight), (count, 1))
    positions = shape.position.reshape(-1)
    more = np.float32(np.log(knobs.more))
    before = np.zeros((count, len(home)), np.int64)
    for event in range(events):
        phase = found.phase[:, event]
        flat = shape.nearest.take(_bins(phase), axis=1).T + home
        off = _off(phase[:, None], found.half[:, event, None], positions.take(flat))
        off *= off
        off *= scale
        likely = np.maximum(off, np.float32(knobs.floor), out=off)
        likely += base
        if event == 0:
            likely += starts.take(flat)
        else:
            onward = nexts.take(before * MOST + (flat - home)) + found.step[:, event][:, None]
            likely += onward
            np.copyto(likely, (found.same[:, event] + more)[:, None], where=flat == before)
        score += likely
        before = flat
    return np.asarray(score + ends.take(before))


def _off(phase: Floats, half: Floats, position: Floats) -> Floats:
    """How far events are from places; a rolled chord is on its place while it passes it."""
    off = phase - position
    if half.any():
        off = off - np.clip(off, -half, half)
    return off


def _bins(phase: Floats) -> Ints:
    return np.clip(((phase + 1.0) * _BINS + 0.5).astype(np.int64), 0, 3 * _BINS)


def _column(found: Batch, event: int, grid: Ints, own: Floats, shape: Frame, noise: Noise, floor: float) -> _Column:
    phase = found.phase[:, event]
    nearest = shape.nearest.reshape(-1).take(grid * shape.nearest.shape[1] + _bins(phase)[:, None])
    slot = nearest[:, :, None] + _BESIDE
    there = (slot >= 0) & (slot < SIZE[shape.kind][grid][:, :, None])
    slot = np.clip(slot, 0, MOST - 1)
    flat = (grid * MOST)[:, :, None] + slot
    position = shape.position.reshape(-1).take(flat)
    off = _off(phase[:, None, None], found.half[:, event, None, None], position)
    turn = found.phase_from[:, None, None] + position * found.phase_length[:, None, None]
    drift = np.maximum(turn * (1 - turn), 0) * np.float32(4 * noise.middle**2) + np.float32(noise.edge**2)
    far = np.float32(FAR) * np.maximum(np.abs(off) - np.float32(NEAR), 0)
    alone = np.maximum(-0.5 * off * off / (drift + own), np.float32(floor)) - far
    return _Column(slot, flat, position, off, far, drift, alone, there)


def _onward(found: Batch, event: int, last: _Column, now: _Column, own: Floats, table: Table, nexts: Floats) -> Floats:
    """What each slot after each slot before adds to the score, (b, g, 3, 3)."""
    knobs = table.knobs
    apart = now.position[:, :, None, :] - last.position[:, :, :, None]
    keep = np.float32(knobs.memory_beat) / (np.maximum(apart, 0) + np.float32(knobs.memory_beat))
    gain = keep * (last.drift / (last.drift + own))[:, :, :, None]
    miss = now.off[:, :, None, :] - gain * last.off[:, :, :, None]
    np.subtract(1, keep * gain, out=gain)
    variance = gain * now.drift[:, :, None, :]
    variance += own[..., None]
    miss *= miss
    miss /= variance
    miss *= np.float32(-0.5)
    likely: Floats = np.maximum(miss, np.float32(knobs.floor), out=miss)
    likely -= now.far[:, :, None, :]
    likely -= np.float32(0.5) * np.log(variance, out=variance)
    likely += nexts.take(last.flat[:, :, :, None] * MOST + now.slot[:, :, None, :])
    stop = np.float32(np.log(1 - knobs.more)) - np.float32(0.5) * _LOG_2PI
    likely += (found.step[:, event] + stop)[:, None, None, None]
    # A grace note may be early if its main note is in place, and one hand if the other is.
    least = last.alone + found.spare[:, event][:, None, None] + _away(found, event, last.far)
    stay = now.alone[:, :, None, :] - least[:, :, :, None]
    stay = np.maximum(stay, 0, out=stay)
    same = (found.same[:, event] + np.float32(np.log(knobs.more)))[:, None, None]
    stay += (same - _away(found, event, now.far))[:, :, None, :]
    np.copyto(likely, stay, where=apart == 0)
    return likely


def _away(found: Batch, event: int, far: Floats) -> Floats:
    """What it costs that a note so ``far`` from its slot (b, g, 3) is not the one that counts
    there.
    """
    free = np.float32(FAR) * np.maximum(np.float32(NEAR_MS) / found.beat_ms - np.float32(NEAR), 0)
    away = far * ~found.loose[:, event][:, None, None]
    return np.maximum(away - free[:, None, None], 0) if free.any() else away


def _search(found: Batch, grid: Ints, shape: Frame, table: Table, noise: Noise) -> Assigned:
    """Dynamic programming on the grids (b, g) of each beat."""
    knobs = table.knobs
    events = found.phase.shape[1]
    nexts, starts, ends = table.weighted(shape.kind)
    own = ((noise.motor_ms / found.beat_ms) ** 2)[:, None, None].astype(np.float32)
    came = np.zeros((events, *grid.shape, 3), np.int8)
    slots = np.zeros((events, *grid.shape, 3), np.int8)
    last = _column(found, 0, grid, own, shape, noise, knobs.first_floor)
    score = last.alone - 0.5 * (np.log(last.drift + own) + _LOG_2PI) + starts.take(last.flat)
    for event in range(events):
        if event:
            now = _column(found, event, grid, own, shape, noise, knobs.first_floor)
            likely = _onward(found, event, last, now, own, table, nexts)
            likely += score[:, :, :, None]
            score, came[event] = _best_of_three(likely)
            last = now
        score = np.where(last.there, score, _NEVER)
        slots[event] = last.slot
    score = score + ends.take(last.flat) + np.float32(np.log(1 - knobs.more))
    best = _way_back(came, slots, score.argmax(axis=2))
    worth = score.max(axis=2)
    if noise.bend:
        worth = worth + _bent(found, grid, best, shape, table, noise)
    return Assigned(grid, worth, best)


def _bent(found: Batch, grid: Ints, slot: NDArray[np.int8], shape: Frame, table: Table, noise: Noise) -> Floats:
    """What the best ways (b, g, k) gain because a whole beat may be bent: its deviations are those
    of Student's t and not Gaussian.
    """
    knobs = table.knobs
    position = shape.position.reshape(-1).take(grid[:, :, None] * MOST + slot)
    off = _off(found.phase[:, None, :], found.half[:, None, :], position)
    turn = found.phase_from[:, None, None] + position * found.phase_length[:, None, None]
    drift = np.maximum(turn * (1 - turn), 0) * np.float32(4 * noise.middle**2) + np.float32(noise.edge**2)
    own = ((noise.motor_ms / found.beat_ms) ** 2)[:, None, None].astype(np.float32)
    sure = drift / (drift + own)
    apart = position[:, :, 1:] - position[:, :, :-1]
    keep = np.float32(knobs.memory_beat) / (np.maximum(apart, 0) + np.float32(knobs.memory_beat))
    gain = keep * sure[:, :, :-1]
    miss = off[:, :, 1:] - gain * off[:, :, :-1]
    square = np.minimum(miss * miss / ((1 - keep * gain) * drift[:, :, 1:] + own), np.float32(-2 * knobs.floor))
    onward = apart > 0
    first = np.minimum(off[:, :, 0] ** 2 / (drift[:, :, 0] + own[:, :, 0]), np.float32(-2 * knobs.first_floor))
    total = first + (square * onward).sum(axis=2)
    count = 1 + onward.sum(axis=2)
    freedom = np.float32(noise.bend)
    return np.asarray(
        0.5 * total - 0.5 * (freedom + count) * np.log1p(total / freedom) + _t_constant(noise.bend)[count], np.float32
    )


@lru_cache(maxsize=64)
def _t_constant(freedom: float) -> Floats:
    """By the number of deviations, how much more likely small ones are than Gaussian ones."""
    base = lgamma(freedom / 2)
    return np.array([lgamma((freedom + n) / 2) - base - n / 2 * log(freedom / 2) for n in range(64)], np.float32)


def _best_of_three(likely: Floats) -> tuple[Floats, NDArray[np.int8]]:
    """The maximum over the slot before and where it is; much faster than numpy's over so short an
    axis.
    """
    first, second, third = likely[:, :, 0], likely[:, :, 1], likely[:, :, 2]
    came = (second > first).astype(np.int8)
    best = np.maximum(first, second)
    np.copyto(came, np.int8(2), where=third > best)
    return np.maximum(best, third), came


def _way_back(came: NDArray[np.int8], slots: NDArray[np.int8], choice: Ints) -> NDArray[np.int8]:
    """The slots of the best way, (b, g, k), from where each slot was reached from."""
    events, count, grids, _ = came.shape
    chosen = np.zeros((count, grids, events), np.int8)
    rows, columns = np.ogrid[:count, :grids]
    for event in range(events - 1, -1, -1):
        chosen[:, :, event] = slots[event, rows, columns, choice]
        choice = came[event, rows, columns, choice]
    return chosen
