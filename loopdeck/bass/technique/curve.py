"""The pitch of raw notes over their lives, as even samples.

Conventions
    Seconds after the onset, semitones. A curve is resampled every ``STEP_SEC``; between two bend
    messages the pitch is taken to have moved in the last ``REACH_SEC`` before the second, since a
    message tells of what has happened since the one before. What comes at the end and puts the bend
    back for the next note is left out. All notes are sampled at once and lie end to end in one
    array: thousands of small ones would cost ten times as much.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

STEP_SEC = 0.004
REACH_SEC, CUT_SEC = 0.012, 0.004
#: What comes in the last ``TAIL_SEC`` and is in the middle, after what was away from it.
TAIL_SEC, MIDDLE, AWAY = 0.016, 0.3, 0.5
#: What comes so long before the next note of the channel is meant for that one, where this one ends
#: no later than so long after it.
NEXT_SEC, TAKES_OVER_SEC = 0.004, 0.03
#: No sensor is slower than this.
MOST_SPACING_SEC = 0.05
#: So many messages tell of a sensor's noise.
_FEW = 40
#: What moves less than this, and stays nearer to its fret than the other, is neither vibrato nor
#: bend.
STILL, LEAST_MOVE = 0.15, 0.3
#: Where a note is steady: after the attack, and before much can have happened.
STEADY_SEC = (0.04, 0.3)


def middle(values: Sequence[float]) -> float:
    """The median of some values, one at least; of few ones ten times as fast as numpy's, which
    looks for what cannot be here.
    """
    ordered = sorted(values)
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2


def own_bends(notes: NDArray[np.void], bends: Sequence[NDArray[np.float64]]) -> tuple[NDArray[np.float64], ...]:
    """The bend curves of ``notes`` (NOTE_DTYPE, (n,), in order of onset) without what belongs to
    the next note of the channel: a pickup puts the bend right for it just before it begins, and may
    end the old note only afterwards.
    """
    out = list(bends)
    last: dict[tuple[int, int], int] = {}
    onset, length = notes["onset_sec"].tolist(), notes["duration_sec"].tolist()
    for row, key in enumerate(zip(notes["channel"].tolist(), notes["string"].tolist(), strict=True)):
        before = last.get(key)
        last[key] = row
        out[row] = _without_return(out[row], length[row])
        if before is None or len(out[before]) < 2:
            continue
        until = onset[row] - onset[before]
        # A string sounds one note at a time; a channel of many strings may not.
        if until - NEXT_SEC <= length[before] <= until + (np.inf if key[1] else TAKES_OVER_SEC):
            curve = out[before]
            out[before] = curve[: max(int(np.searchsorted(curve[:, 0], until - NEXT_SEC)), 1)]
    return tuple(out)


def _without_return(curve: NDArray[np.float64], length: float) -> NDArray[np.float64]:
    """``curve`` without the last messages of a note that put its bend back to the middle."""
    end = len(curve)
    while end > 1 and curve[end - 1, 0] >= length - TAIL_SEC and abs(curve[end - 1, 1]) < MIDDLE:
        end -= 1
    return curve[:end] if end < len(curve) and abs(curve[end - 1, 1]) >= AWAY else curve


def up_to_next(curve: NDArray[np.float64], until_sec: float) -> NDArray[np.float64]:
    """``curve`` of a note without what belongs to the next one of its string, which takes over so
    long after its onset (``own_bends`` for one note).
    """
    return _without_return(curve[: max(int(np.searchsorted(curve[:, 0], until_sec - NEXT_SEC)), 1)], until_sec)


class Samples(NamedTuple):
    """The pitch of many notes as even samples: of note i those from ``first[i]`` to ``first[i +
    1]``, every ``STEP_SEC`` from its onset, in ``semitones``; ``lowest`` and ``highest`` of each.
    ``spacing``: seconds between messages where the string moves. ``noise``: how unsteady a sensor
    the messages come from, in semitones (standard deviation).
    """

    first: NDArray[np.int64]
    semitones: NDArray[np.float64]
    lowest: NDArray[np.float64]
    highest: NDArray[np.float64]
    spacing: float = np.inf
    noise: float = 0.0


def sampled(bends: Sequence[NDArray[np.float64]], durations: Sequence[float]) -> Samples:
    """Bend curves, (k, 2) each, of notes that last so long, as even samples, all of them at
    once.
    """
    if not bends:
        return Samples(np.zeros(1, np.int64), np.zeros(0), np.zeros(0), np.zeros(0))
    length = np.array([len(bend) for bend in bends])
    if length.max() == 1:
        # Nothing moves: one sample tells all of a note.
        still = np.array([bend[0, 1] for bend in bends])
        return Samples(np.arange(len(bends) + 1), still, still, still)
    lasts = np.asarray(durations, float)
    end = np.maximum(lasts - CUT_SEC, np.minimum(lasts, STEP_SEC))
    count = np.ceil((end + 1e-9) / STEP_SEC).astype(np.int64)
    first = np.concatenate([[0], np.cumsum(count)])
    rows = np.concatenate(bends)
    semitones = _between_messages(rows, length, first)
    lowest, highest = (of.reduceat(semitones, first[:-1]) for of in (np.minimum, np.maximum))
    return Samples(first, semitones, lowest, highest, _usual_spacing(rows[:, 0]), _noise(rows, length))


def _usual_spacing(at: NDArray[np.float64]) -> float:
    """The time between messages of a sensor that is at work: one that tells of changes only leaves
    longer gaps where there are none.
    """
    between = np.diff(at)
    between = between[(between > 0.0) & (between < MOST_SPACING_SEC)]
    between.sort()
    return float(between[len(between) // 4]) if len(between) else np.inf


def _noise(rows: NDArray[np.float64], length: NDArray[np.int64]) -> float:
    """The noise of curves whose messages lie end to end in ``rows``, ``length[i]`` of each: from
    how far each message is off the line between its neighbours, where that is least.
    """
    if len(rows) < _FEW:
        return 0.0
    off = np.abs(np.diff(rows[:, 1], 2))
    inside = np.ones(len(off), bool)
    ends = np.cumsum(length)[:-1]
    for before in (1, 2):
        inside[ends[(ends >= before) & (ends - before < len(off))] - before] = False
    off = off[inside]
    if len(off) < _FEW:
        return 0.0
    quarter = len(off) // 4
    # The second difference of noise varies by the root of six times it; a quarter of normally
    # spread values lie within 0.3186 of their standard deviation.
    return float(np.partition(off, quarter)[quarter]) / (0.3186 * math.sqrt(6.0))


def _between_messages(
    rows: NDArray[np.float64], length: NDArray[np.int64], first: NDArray[np.int64]
) -> NDArray[np.float64]:
    """The samples of curves whose messages lie end to end in ``rows``, ``length[i]`` messages from
    0.0 on for the samples from ``first[i]`` to ``first[i + 1]``.
    """
    at, value = rows[:, 0], rows[:, 1]
    zero = np.repeat(first[:-1], length)
    begins = np.cumsum(length) - length
    # From which sample on each message holds, until the next one.
    since = np.clip(np.ceil(at / STEP_SEC - 1e-9).astype(np.int64), 0, np.repeat(np.diff(first), length)) + zero
    since[begins] = first[:-1]
    message = np.repeat(np.arange(len(at)), np.diff(np.maximum.accumulate(since), append=first[-1]))
    following = np.append(at[1:], 0.0)
    rise = np.diff(value, append=0.0)
    leaves = np.maximum(at, following - REACH_SEC)
    rise[begins + length - 1] = 0.0
    # Two messages at one moment are a step.
    slope = rise * STEP_SEC / np.where(following > leaves, following - leaves, np.inf)
    moved = np.arange(len(message)) - (zero + leaves / STEP_SEC)[message]
    np.maximum(moved, 0.0, out=moved)
    moved *= slope[message]
    moved += value[message]
    return moved


def still_of(samples: Samples) -> NDArray[np.bool_]:
    """Which notes have no bend, vibrato or step: nothing in them moves, shape (n,)."""
    return (samples.highest - samples.lowest < STILL) & (samples.highest < LEAST_MOVE)


def middles(samples: Samples, notes: NDArray[np.int64], begin: int, most: int) -> NDArray[np.float64]:
    """The median of ``most`` samples of each of these notes from its sample ``begin`` on, of fewer
    where it ends before; every one must have more than ``begin``.
    """
    start = samples.first[notes] + begin
    count = np.minimum(samples.first[notes + 1] - start, most)
    step = np.arange(most)
    at = np.minimum(start[:, None] + step, len(samples.semitones) - 1)
    ordered = np.where(step < count[:, None], samples.semitones[at], np.inf)
    ordered.sort(axis=1)
    place = np.arange(len(notes))
    return np.asarray((ordered[place, (count - 1) // 2] + ordered[place, count // 2]) / 2)


def levels_of(
    samples: Samples, bends: Sequence[NDArray[np.float64]], durations: Sequence[float]
) -> NDArray[np.float64]:
    """The middle pitch of each note's steady part in semitones, NaN for one that has none, (n,)."""
    begin, end = (round(sec / STEP_SEC) for sec in STEADY_SEC)
    bent = np.array([len(bend) > 1 for bend in bends], bool)
    levels = np.where(~bent & (np.asarray(durations) > 0.08), samples.semitones[samples.first[:-1]], np.nan)
    steady = np.flatnonzero(bent & (np.diff(samples.first) > begin + 4))
    if len(steady):
        levels[steady] = middles(samples, steady, begin, end + 1 - begin)
    return levels


def offset_of(levels: NDArray[np.float64]) -> float:
    """How far a string is out of tune, in semitones (-0.5 to 0.5): the middle of what the
    ``levels`` of its notes are off.
    """
    rests = [level - round(level) for level in levels.tolist() if not math.isnan(level)]
    return middle(rests) if len(rests) >= 5 else 0.0


def tuned(samples: Samples, offset: NDArray[np.float64]) -> Samples:
    """The samples with what each note's string is out of tune taken off; ``offset`` has shape
    (n,), semitones.
    """
    if not offset.any():
        return samples
    semitones = samples.semitones - np.repeat(offset, np.diff(samples.first))
    return Samples(
        samples.first, semitones, samples.lowest - offset, samples.highest - offset, samples.spacing, samples.noise
    )
