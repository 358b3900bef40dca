"""What each beat could be: for every choice of cuts the few best patterns, with their scores.

Conventions
    A *pattern* is the set of places struck in a beat, known by a 64-bit hash. Scores are logarithms
    of probabilities. Arrays run over (beat, start cut, end cut, choice): shape (m, CUTS, CUTS,
    TOP); what is impossible scores -1e9.
"""

from collections.abc import Sequence
from math import log
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.assign import NOT, Assigned, Batch, Frame, Noise, assign
from loopdeck.analysis.transcription.beats import CUTS, Beats
from loopdeck.analysis.transcription.events import (
    AGAIN,
    FLAM_MS,
    GAP_EDGES,
    GRACE,
    HANDS_MS,
    HELD_LEAP,
    HELD_STEP,
    Events,
)
from loopdeck.analysis.transcription.grids import GRIDS, KIND, MOST, PLACE_OF, PLACES
from loopdeck.analysis.transcription.table import Table

#: Patterns kept for each choice of cuts.
TOP = 5
#: A beat with more events than this is not searched; its events go to the nearest of 24 places.
MOST_EVENTS = 40
#: What it costs that a pitch is struck again in one slot so late that it is not a flam.
_STRUCK_AGAIN = 2.0
#: Neither trills nor rolled chords have gaps of more than this; what each so many ms more cost.
_SLOW_MS, _SLOWER_MS = 120.0, 8.0
_NEVER = np.float32(-1e9)
_MARKS = np.random.default_rng(24).integers(1, 2**63, len(PLACES), dtype=np.uint64)
_FINEST = (
    next(number for number, grid in enumerate(GRIDS[KIND[0]]) if grid.name == "24"),
    KIND[1].start + next(number for number, grid in enumerate(GRIDS[KIND[1]]) if grid.name == "24"),
)


class Choices(NamedTuple):
    """``score``, ``grid``, ``pattern`` and ``prior`` (of the pattern under its grid): (m, CUTS,
    CUTS, TOP). ``slots``: the slots of all
    choices one after the other, those of a choice from ``at`` on, as many as it has events."""

    score: NDArray[np.float32]
    grid: NDArray[np.int16]
    pattern: NDArray[np.uint64]
    prior: NDArray[np.float32]
    at: NDArray[np.int64]
    slots: NDArray[np.int8]


def choices(
    events: Events,
    beats: Beats,
    cut: NDArray[np.int64],
    beat_ms: NDArray[np.float64],
    shape_of: NDArray[np.int64],
    shapes: Sequence[Frame],
    table: Table,
    noise: Noise,
) -> Choices:
    """The choices of every beat; ``shape_of`` (m,) says which of the frames ``shapes`` each beat
    has, -1 that it is not looked at.
    """
    count = len(beats.start_q)
    shape = (count, CUTS, CUTS, TOP)
    score = np.full(shape, _NEVER, np.float32)
    grid = np.zeros(shape, np.int16)
    pattern, prior = np.zeros(shape, np.uint64), np.zeros(shape, np.float32)
    at = np.zeros(shape, np.int64)
    pools: list[NDArray[np.int8]] = []
    used = 0
    begin, end = cut[:-1, :, None], cut[1:, None, :]
    length = np.where((begin >= 0) & (end >= begin), end - begin, -1)
    grid[beats.compound] = KIND[1].start
    score[..., 0] = np.where(length == 0, np.float32(table.knobs.empty), score[..., 0])
    same, step, spare, loose = _hints(events, table, noise)
    for number, frame in enumerate(shapes):
        kind = int(frame.kind.start > 0)
        of_kind = (shape_of == number)[:, None, None]
        for size in np.unique(length[of_kind & (length > 0)]).tolist():
            beat, first, last = np.nonzero(of_kind & (length == size))
            index = cut[beat, first][:, None] + np.arange(size)
            phase = (events.onset_q[index] - beats.start_q[beat, None]) / beats.length_q[beat, None]
            if size > MOST_EVENTS:
                slots = np.clip(np.round(phase * 24), 0, 23).astype(np.int8)
                score[beat, first, last, 0] = -4.0 * size
                grid[beat, first, last, 0] = _FINEST[kind]
                at[beat, first, last, 0] = used + np.arange(len(beat)) * size
                pools.append(slots.reshape(-1))
                used += slots.size
                continue
            ms = beat_ms[beat]
            found = Batch(
                phase.astype(np.float32),
                (events.half_q[index] / beats.length_q[beat, None]).astype(np.float32),
                (same[index] + np.log(ms)[:, None]).astype(np.float32),
                step[index].astype(np.float32),
                spare[index],
                loose[index],
                ms.astype(np.float32),
                beats.phase_from[beat].astype(np.float32),
                beats.phase_length[beat].astype(np.float32),
            )
            best = _best(found, frame, table, noise)
            where = (beat, first, last)
            score[where], grid[where], pattern[where], prior[where] = best[:4]
            at[where] = used + np.arange(len(beat) * TOP).reshape(len(beat), TOP) * size
            pools.append(best[4].reshape(-1))
            used += best[4].size
    return Choices(score, grid, pattern, prior, at, np.concatenate(pools) if pools else np.zeros(0, np.int8))


def merged(usual: Choices, allowed: NDArray[np.bool_], fresh: Choices, where: NDArray[np.bool_]) -> Choices:
    """The usual choices as far as their grids are ``allowed`` (g,), and the fresh ones of the beats
    marked in ``where`` (m,).
    """
    here = where[:, None, None, None]
    return Choices(
        np.where(here, fresh.score, np.where(allowed[usual.grid], usual.score, _NEVER)),
        np.where(here, fresh.grid, usual.grid),
        np.where(here, fresh.pattern, usual.pattern),
        np.where(here, fresh.prior, usual.prior),
        np.where(here, fresh.at + len(usual.slots), usual.at),
        np.concatenate([usual.slots, fresh.slots]),
    )


def _hints(
    events: Events, table: Table, noise: Noise
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32], NDArray[np.bool_]]:
    """For the step to each event: the log density a millisecond if it stays in its slot, the log
    share of its kind if not, ``Batch.spare`` and ``Batch.loose``.
    """
    bins = np.searchsorted(GAP_EDGES, events.gap_ms)
    known = events.kind >= 0
    weight = np.float32(table.knobs.hint_weight)
    gaps = np.logaddexp.reduce(table.same, axis=0)
    same = gaps[bins] + np.where(known, weight * (table.same[events.kind, bins] - gaps[bins]), 0)
    again = (events.kind == AGAIN) & (events.gap_ms > FLAM_MS)
    same[again] = table.same[AGAIN, bins[again]] - np.float32(_STRUCK_AGAIN)
    same -= (np.clip(events.gap_ms - _SLOW_MS, 0, None) / _SLOWER_MS).astype(np.float32)
    hands = np.isin(events.kind, (HELD_LEAP, HELD_STEP)) & (events.gap_ms < HANDS_MS)
    same[hands] += np.float32(log(1 - noise.apart))
    spare = np.where(hands, np.float32(log((1 - noise.apart) / noise.apart)), NOT)
    spare[events.kind == GRACE] = table.knobs.grace
    loose = ~known | (events.kind == HELD_LEAP)
    step = np.where(known, weight * table.step[events.kind, bins], np.float32(0))
    return same, step, spare.astype(np.float32), loose


def _best(
    found: Batch, shape: Frame, table: Table, noise: Noise
) -> tuple[NDArray[np.float32], NDArray[np.int64], NDArray[np.uint64], NDArray[np.float32], NDArray[np.int8]]:
    """The TOP patterns of each stretch: score, grid, pattern, prior, slots."""
    done = assign(found, shape, table, noise)
    if (lacking := TOP - done.grid.shape[1]) > 0:
        beside = ((0, 0), (0, lacking))
        grids, slots = np.pad(done.grid, beside, mode="edge"), np.pad(done.slot, (*beside, (0, 0)), mode="edge")
        done = Assigned(grids, np.pad(done.score, beside, constant_values=_NEVER), slots)
    worth = done.score + np.float32(table.knobs.grid_weight) * table.grid[shape.kind][done.grid]
    some = worth.shape[1]
    order = np.argsort(-worth, axis=1, kind="stable")
    worth = np.take_along_axis(worth, order, axis=1)
    rows = np.arange(len(order))[:, None]
    slots = done.slot[rows, order]
    grid = done.grid[rows, order] + shape.kind.start
    fresh = np.ones(slots.shape, bool)
    fresh[:, :, 1:] = slots[:, :, 1:] != slots[:, :, :-1]
    pattern = (_MARKS[PLACE_OF[grid[:, :, None], slots]] * fresh).sum(axis=2, dtype=np.uint64)
    for later in range(1, some):
        twin = (pattern[:, :later] == pattern[:, later : later + 1]).any(axis=1)
        worth[twin, later] = _NEVER
    keep = np.argsort(-worth, axis=1, kind="stable")[:, :TOP]
    grid, pattern, slots = grid[rows, keep], pattern[rows, keep], slots[rows, keep]
    fresh = fresh[rows, keep]
    dead = np.take_along_axis(worth, keep, axis=1) < -1e8
    score = np.where(dead, _NEVER, done.score[rows, order[rows, keep]])
    steps = table.next.reshape(-1)[(grid[:, :, None] * MOST + slots[:, :, :-1]) * MOST + slots[:, :, 1:]]
    prior = table.start[grid, slots[:, :, 0]] + table.end[grid, slots[:, :, -1]]
    prior = prior + np.where(fresh[:, :, 1:], steps, 0).sum(axis=2)
    return score, grid, pattern, prior.astype(np.float32), slots
