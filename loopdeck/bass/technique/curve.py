"""The pitch of raw notes over their lives, as even samples.

Conventions
    Seconds after the onset, semitones. A curve is resampled every ``STEP_SEC``; between two bend
    messages the pitch is taken to have moved in the last ``REACH_SEC`` before the second, since a
    message tells of what has happened since the one before. What comes at the end and puts the bend
    back for the next note is left out. All notes are sampled at once and lie end to end in one
    array: thousands of small ones would cost ten times as much.
"""

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


class Samples(NamedTuple):
    """The pitch of many notes as even samples: of note i those from ``first[i]`` to ``first[i +
    1]``, every ``STEP_SEC`` from its onset, in ``semitones``; ``lowest`` and ``highest`` of each.
    ``spacing``: seconds between messages where the string moves.
    """

    first: NDArray[np.int64]
    semitones: NDArray[np.float64]
    lowest: NDArray[np.float64]
    highest: NDArray[np.float64]
    spacing: float = np.inf


def sampled(bends: Sequence[NDArray[np.float64]], durations: Sequence[float]) -> Samples:
    """Bend curves, (k, 2) each, of notes that last so long, as even samples. All of them are laid
    end to end, far enough apart, and read at once.
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
    last = np.cumsum(length)
    rows = np.concatenate(bends)
    # A row behind each curve holds its last value to the end.
    at = np.insert(rows[:, 0], last, rows[last - 1, 0] + end + 1.0)
    value = np.insert(rows[:, 1], last, rows[last - 1, 1])
    own = np.repeat(np.arange(len(bends)), length + 1)
    before = np.maximum(np.arange(len(at)) - 1, 0)
    starts = np.concatenate([[0], np.cumsum(length + 1)[:-1]])
    before[starts] = starts
    room = np.concatenate([[0.0], np.cumsum(at[np.cumsum(length + 1) - 1] + 1.0)[:-1]])
    x, y = np.empty(2 * len(at)), np.empty(2 * len(at))
    x[0::2], x[1::2] = np.maximum(at[before], at - REACH_SEC) + room[own], at + room[own]
    y[0::2], y[1::2] = value[before], value
    first = np.concatenate([[0], np.cumsum(count)])
    times = (np.arange(first[-1]) - np.repeat(first[:-1], count)) * STEP_SEC + np.repeat(room, count)
    semitones = np.interp(times, x, y)
    lowest, highest = (of.reduceat(semitones, first[:-1]) for of in (np.minimum, np.maximum))
    return Samples(first, semitones, lowest, highest, _usual_spacing(rows[:, 0]))


def _usual_spacing(at: NDArray[np.float64]) -> float:
    """The time between messages of a sensor that is at work: one that tells of changes only leaves
    longer gaps where there are none.
    """
    between = np.diff(at)
    between = between[(between > 0.0) & (between < MOST_SPACING_SEC)]
    return float(np.percentile(between, 25)) if len(between) else np.inf


def still_of(samples: Samples) -> NDArray[np.bool_]:
    """Which notes have no bend, vibrato or step: nothing in them moves, shape (n,)."""
    return (samples.highest - samples.lowest < STILL) & (samples.highest < LEAST_MOVE)


def levels_of(
    samples: Samples, bends: Sequence[NDArray[np.float64]], durations: Sequence[float]
) -> NDArray[np.float64]:
    """The middle pitch of each note's steady part in semitones, NaN for one that has none, (n,)."""
    length = np.diff(samples.first)
    steady = np.asarray(durations) > 0.08
    levels = np.where(steady, samples.semitones[samples.first[:-1]], np.nan) if len(length) else np.zeros(0)
    begin, end = (round(sec / STEP_SEC) for sec in STEADY_SEC)
    bent = np.array([len(bend) > 1 for bend in bends], bool)
    wide = end + 1 - begin
    count = np.minimum(length - begin, wide)
    levels[bent] = np.nan
    rows = np.flatnonzero(bent & (count > 4))
    if len(rows):
        inside = np.arange(wide)[None, :] < count[rows, None]
        at = np.minimum(samples.first[rows, None] + begin + np.arange(wide)[None, :], len(samples.semitones) - 1)
        ordered = np.sort(np.where(inside, samples.semitones[at], np.inf), axis=1)
        half = count[rows] // 2
        places = np.arange(len(rows))
        lower = np.where(count[rows] % 2 == 1, half, half - 1)
        levels[rows] = (ordered[places, lower] + ordered[places, half]) / 2
    return levels


def offset_of(levels: NDArray[np.float64]) -> float:
    """How far a string is out of tune, in semitones (-0.5 to 0.5): the middle of what the
    ``levels`` of its notes are off.
    """
    rests = levels[~np.isnan(levels)]
    return float(np.median(rests - np.round(rests))) if len(rests) >= 5 else 0.0


def tuned(samples: Samples, offset: NDArray[np.float64]) -> Samples:
    """The samples with what each note's string is out of tune taken off; ``offset`` has shape
    (n,), semitones.
    """
    if not offset.any():
        return samples
    semitones = samples.semitones - np.repeat(offset, np.diff(samples.first))
    return Samples(samples.first, semitones, samples.lowest - offset, samples.highest - offset, samples.spacing)
