"""Which beats a take's notes may belong to, and which notes could begin each beat.

Conventions
    A beat is a group of the meter up to a dotted quarter long; a longer group is taken quarter by
    quarter. A group of three units is a compound beat. Positions are quarters from the start of the
    take. Only beats near notes are listed, so that ten silent hours cost nothing. A *cut* is the
    index of the first event of a beat. Near a beat it is not clear which event is the first one of
    it: an early downbeat comes before the click, a late last sixteenth after it. Each beat has up
    to ``CUTS`` cuts to choose from; the first is the plain one.
"""

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.rhythm.meter import Cycle

#: The most cuts a beat has.
CUTS = 3
#: How far from the beat a cut may lie, in beats.
_REACH = 0.36
#: Gaps shorter than this are never cut, in milliseconds.
_CLOSED_MS = 8.0
#: A cut that looks worse than the best by more than this is not tried.
_MARGIN = 2.0


class Stretch(NamedTuple):
    """From quarter ``start`` on, ``cycle`` repeats, until the next stretch begins."""

    start: Fraction
    cycle: Cycle


class CycleBeats(NamedTuple):
    """The beats of one cycle, in order: exact starts and lengths, whether compound, and the group
    each lies in (start, length).
    """

    start: tuple[Fraction, ...]
    length: tuple[Fraction, ...]
    compound: tuple[bool, ...]
    group: tuple[tuple[Fraction, Fraction], ...]


class Beats(NamedTuple):
    """The beats that may hold notes, by start, arrays of shape (m,).

    ``start_q`` and ``length_q`` in quarters; ``compound``; ``stretch``, ``pass_index`` and
    ``number`` say which beat of which pass of which stretch it is; ``phase_from`` and
    ``phase_length``: the part of its group it covers, from 0 to 1.
    """

    start_q: NDArray[np.float64]
    length_q: NDArray[np.float64]
    compound: NDArray[np.bool_]
    stretch: NDArray[np.int64]
    pass_index: NDArray[np.int64]
    number: NDArray[np.int64]
    phase_from: NDArray[np.float64]
    phase_length: NDArray[np.float64]


@lru_cache(maxsize=64)
def cycle_beats(cycle: Cycle) -> CycleBeats:
    """The beats of a cycle."""
    rows = []
    for group in cycle.groups:
        if group.length <= Fraction(3, 2):
            rows.append((group.start, group.length, group.length == 3 * group.unit, (group.start, group.length)))
            continue
        whole, rest = divmod(group.length, 1)
        lengths = [Fraction(1)] * int(whole) + ([rest] if rest else [])
        rows += [
            (group.start + part, length, False, (group.start, group.length)) for part, length in enumerate(lengths)
        ]
    return CycleBeats(*(tuple(column) for column in zip(*rows, strict=True)))


def beats_near(onset_q: NDArray[np.float64], stretches: Sequence[Stretch]) -> Beats:
    """The beats that ``onset_q`` (rising) may belong to: those they lie in, and the ones beside
    where they lie near their ends.
    """
    starts = np.array([float(stretch.start) for stretch in stretches])
    home = np.maximum(np.searchsorted(starts, onset_q, side="right") - 1, 0)
    rows: list[NDArray[np.float64]] = []
    wanted: dict[int, list[NDArray[np.int64]]] = {index: [] for index in range(len(stretches))}
    for index, (_, cycle) in enumerate(stretches):
        beats = cycle_beats(cycle)
        begin = np.array(beats.start, float)
        length = np.array(beats.length, float)
        places = onset_q[home == index] - starts[index]
        if not len(places):
            continue
        cycle_q = float(cycle.quarters)
        passes = np.floor(places / cycle_q)
        inside = places - passes * cycle_q
        which = np.maximum(np.searchsorted(begin, inside, side="right") - 1, 0)
        phase = (inside - begin[which]) / length[which]
        number = passes.astype(np.int64) * len(begin) + which
        near = np.unique(np.concatenate([number, number[phase > 1 - _REACH] + 1, number[phase < _REACH] - 1]))
        wanted[index].append(near if index == 0 else near[near >= 0])
        # A beat beside this stretch lies in the next one, or in the one before.
        if (
            index + 1 < len(stretches)
            and (starts[index] + _start(near, cycle_q, begin) >= starts[index + 1] - 1e-9).any()
        ):
            wanted[index + 1].append(np.zeros(1, np.int64))
        if index and (near < 0).any():
            before = stretches[index - 1]
            reach = float(stretches[index].start - before.start) - 1e-9
            before_begin = np.array(cycle_beats(before.cycle).start, float)
            turns = np.floor(reach / float(before.cycle.quarters))
            last = np.searchsorted(before_begin, reach - turns * float(before.cycle.quarters), side="right") - 1
            wanted[index - 1].append(np.array([int(turns) * len(before_begin) + int(last)], np.int64))
    for index, (_, cycle) in enumerate(stretches):
        if not wanted[index]:
            continue
        beats = cycle_beats(cycle)
        near = np.unique(np.concatenate(wanted[index]))
        begin, length = np.array(beats.start, float), np.array(beats.length, float)
        group = np.array(beats.group, float)
        start = starts[index] + _start(near, float(cycle.quarters), begin)
        if index + 1 < len(stretches):
            near, start = near[start < starts[index + 1] - 1e-9], start[start < starts[index + 1] - 1e-9]
        which = near % len(begin)
        lengths = length[which]
        if index + 1 < len(stretches):
            lengths = np.minimum(lengths, starts[index + 1] - start)
        compound = np.array(beats.compound)[which] & (lengths == length[which])
        phase = (begin[which] - group[which, 0]) / group[which, 1]
        share = length[which] / group[which, 1]
        rows.append(
            np.stack([start, lengths, compound, np.full(len(near), index), near // len(begin), which, phase, share])
        )
    table = np.concatenate(rows, axis=1) if rows else np.zeros((8, 0))
    table = table[:, np.argsort(table[0], kind="stable")]
    whole = table[2:6].astype(np.int64)
    return Beats(table[0], table[1], whole[0].astype(bool), whole[1], whole[2], whole[3], table[6], table[7])


def _start(number: NDArray[np.int64], cycle_q: float, begin: NDArray[np.float64]) -> NDArray[np.float64]:
    """Where beats of a repeating cycle start, from its start."""
    return np.asarray((number // len(begin)) * cycle_q + begin[number % len(begin)])


def cuts(event_q: NDArray[np.float64], beat_ms: NDArray[np.float64], beats: Beats) -> NDArray[np.int64]:
    """The cuts of each beat and of the end: shape (m + 1, CUTS); -1 where there is none.
    ``event_q`` rising, ``beat_ms`` shape (m,).
    """
    count, events = len(beats.start_q), len(event_q)
    found = np.full((count + 1, CUTS), -1, np.int64)
    found[0, 0], found[count, 0] = 0, events
    if count < 2:
        return found
    start, length = beats.start_q[1:], beats.length_q[1:]
    joined = np.abs(start - beats.start_q[:-1] - beats.length_q[:-1]) < 1e-6
    plain = np.searchsorted(event_q, start - 0.1 * length)
    offsets = np.arange(-5, 8)
    index = np.clip(plain[:, None] + offsets, 0, events)
    padded = np.concatenate([[-np.inf], event_q, [np.inf]])
    before, after = padded[index], padded[index + 1]
    gap = np.clip((after - before) / length[:, None], 0.0, 0.6)
    late = (np.clip(after, None, (start + length)[:, None]) - start[:, None]) / length[:, None]
    early = (np.clip(before, (start - length)[:, None], None) - start[:, None]) / length[:, None]
    allowed = (early < _REACH) & (late > -_REACH) & (gap * beat_ms[1:, None] > _CLOSED_MS)
    allowed &= np.concatenate([np.ones((count - 1, 1), bool), np.diff(index, axis=1) > 0], axis=1)
    # Good cuts have a gap, no event near the beat before them, and none well before the beat after
    # them.
    worth = np.log(np.minimum(gap, 0.15) + 0.02) - 6.0 * np.clip(-late, 0, None) - 12.0 * np.clip(early + 0.08, 0, None)
    worth = np.where(allowed, worth, -np.inf)
    worth[index == plain[:, None]] += 0.3
    order = np.argsort(-worth, axis=1, kind="stable")[:, :CUTS]
    chosen = np.take_along_axis(index, order, axis=1)
    ranked = np.take_along_axis(worth, order, axis=1)
    good = np.isfinite(ranked) & (ranked > ranked[:, :1] - _MARGIN)
    good[~joined, 1:] = False
    chosen = np.where(good, chosen, -1)
    alone = ~good[:, 0] | ~joined
    between = np.searchsorted(event_q, (start + beats.start_q[:-1] + beats.length_q[:-1]) / 2)
    chosen[alone, 0] = np.where(joined, plain, between)[alone]
    chosen[alone, 1:] = -1
    found[1:count] = chosen
    return found
