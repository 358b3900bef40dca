"""The pitch of one raw note over its life, as steps and steady stretches.

Conventions
    Seconds after the onset, semitones. A curve is resampled every ``STEP_SEC``; between two bend
    messages the pitch is taken to have moved in the last ``REACH_SEC`` before the second, since a
    message tells of what has happened since the one before. What comes in the last ``TAIL_SEC`` is
    the bend being put back for the next note, and left out.

Method
    A fret makes the pitch jump; a string that is pulled makes it glide. A jump is a change of
    ``JUMP`` semitones within ``FAST_SEC``: twice as fast as the widest and fastest bend (two
    semitones in a tenth of a second). Jumps in one direction with no more than ``DWELL_SEC``
    between them are one move. Figures: common practice, no source; tried on simulated pickups.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

STEP_SEC = 0.004
REACH_SEC, TAIL_SEC = 0.012, 0.016
#: What comes so long before the next note of the channel is meant for that one, where this one ends
#: no later than so long after it.
NEXT_SEC, TAKES_OVER_SEC = 0.004, 0.03
FAST_SEC, JUMP, DWELL_SEC = 0.012, 0.5, 0.085
#: Without frets: a glide goes at least so far within ``FAST_SEC``, and in all; a vibrato does not
#: get that far.
GLIDE, GLIDE_BY = 0.15, 0.8
#: What moves less than this, and stays nearer to its fret than the other, is neither vibrato nor
#: bend.
STILL, LEAST_MOVE = 0.15, 0.3
#: How near to a fret is on it, and how long a sliding finger is there at least.
ON_FRET, STAIR_SEC = 0.1, 0.012


def middle(values: NDArray[np.float64]) -> float:
    """The median of some values, shape (n,), n >= 1; of few ones ten times as fast as numpy's,
    which looks for what cannot be here.
    """
    ordered = values.copy()
    ordered.sort()
    half = len(ordered) // 2
    return float(ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2)


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
        if before is None or len(out[before]) < 2:
            continue
        until = onset[row] - onset[before]
        if until - NEXT_SEC <= length[before] <= until + TAKES_OVER_SEC:
            curve = out[before]
            out[before] = curve[: max(int(np.searchsorted(curve[:, 0], until - NEXT_SEC)), 1)]
    return tuple(out)


class Move(NamedTuple):
    """One or more jumps in one direction, from moment ``start`` to ``end``, from pitch ``before``
    to ``after`` (semitones above the note's number).

    ``lasted``: seconds from a tenth to nine tenths of the way; ``spacing``: seconds between the
    messages that told of it. ``stair``: it stood on every fret between.
    """

    start: float
    end: float
    before: float
    after: float
    lasted: float
    spacing: float = 0.0
    stair: bool = False

    @property
    def by(self) -> float:
        """The way in semitones, as measured."""
        return self.after - self.before

    @property
    def goal(self) -> int:
        """Where it ends, in whole semitones above the note's number."""
        return round(self.after)


class Curve(NamedTuple):
    """``times`` and ``semitones`` of shape (n,), and the moves; ``fretless`` where those are
    glides.
    """

    times: NDArray[np.float64]
    semitones: NDArray[np.float64]
    moves: tuple[Move, ...]
    fretless: bool = False
    #: Where nothing moves there are no samples: whole semitones above the note's number.
    still: int = 0

    def level(self, start: float, end: float) -> float:
        """The middle pitch between two moments."""
        inside = self.between(start, end)
        if not len(inside):
            return float(np.interp((start + end) / 2, self.times, self.semitones))
        return middle(inside)

    def between(self, start: float, end: float) -> NDArray[np.float64]:
        """The samples from one moment to another."""
        first, last = math.ceil(start / STEP_SEC - 1e-6), math.floor(end / STEP_SEC + 1e-6)
        return self.semitones[max(first, 0) : max(last + 1, 0)]


class Samples(NamedTuple):
    """The pitch of many notes as even samples: of note i those from ``first[i]`` to ``first[i +
    1]``, every ``STEP_SEC`` from its onset, in ``semitones``; ``lowest`` and ``highest`` of each.
    """

    first: NDArray[np.int64]
    semitones: NDArray[np.float64]
    lowest: NDArray[np.float64]
    highest: NDArray[np.float64]

    def of(self, note: int) -> NDArray[np.float64]:
        """The samples of one note, (k,), k >= 1."""
        return self.semitones[self.first[note] : self.first[note + 1]]


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
    end = np.maximum(lasts - TAIL_SEC, np.minimum(lasts, STEP_SEC))
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
    return Samples(first, semitones, lowest, highest)


def curve_of(
    bend: NDArray[np.float64], samples: Samples, note: int, offset: float = 0.0, fretless: bool = False
) -> Curve:
    """The curve of a note among ``samples``, with the string's own ``offset`` (semitones out of
    tune) taken off.
    """
    low, high = float(samples.lowest[note]) - offset, float(samples.highest[note]) - offset
    if high - low < STILL and high < LEAST_MOVE:
        nothing = np.zeros(0)
        return Curve(nothing, nothing, (), fretless, round((low + high) / 2))
    semitones = samples.of(note) - offset
    times: NDArray[np.float64] = np.arange(len(semitones)) * np.float64(STEP_SEC)
    if high - low < (GLIDE if fretless else JUMP):
        return Curve(times, semitones, (), fretless)
    moves = [
        move._replace(spacing=_spacing(bend[:, 0], move), stair=_stair(bend, move, offset))
        for move in _moves(times, semitones, fretless)
    ]
    return Curve(times, semitones, tuple(moves), fretless)


def _spacing(at: NDArray[np.float64], move: Move) -> float:
    """The usual time between messages around a move."""
    near = at[(at >= move.start - 0.03) & (at <= move.end + 0.03)]
    return middle(np.diff(near)) if len(near) > 1 else 0.0


def _stair(bend: NDArray[np.float64], move: Move, offset: float) -> bool:
    """True where the messages name every fret on the way, and leave the pitch on it for a while: of
    a pickup that tells of changes only.
    """
    frets = abs(round(move.before) - move.goal)
    inside = (bend[:, 0] >= move.start - STEP_SEC) & (bend[:, 0] <= move.end + 1.5 * STEP_SEC)
    rows = bend[inside]
    around = (np.abs(bend[:, 0] - (move.start + move.end) / 2) < 0.1 + (move.end - move.start) / 2) & ~inside
    if frets < 2 or len(rows) != frets or around.sum() > 2:
        return False
    value, dwell = rows[:, 1] - offset, np.diff(rows[:, 0])
    return bool((np.abs(value - np.round(value)) < ON_FRET).all() and (dwell >= STAIR_SEC).all())


def _moves(times: NDArray[np.float64], semitones: NDArray[np.float64], fretless: bool) -> list[Move]:
    least, by = (GLIDE, GLIDE_BY) if fretless else (JUMP, JUMP)
    reach = round(FAST_SEC / STEP_SEC)
    if len(semitones) <= reach:
        return []
    change = semitones[reach:] - semitones[:-reach]
    fast = np.abs(change) >= least
    if not fast.any():
        return []
    edges = np.flatnonzero(np.diff(np.concatenate([[0], fast.astype(np.int8), [0]])))
    spans = [(int(a), int(b) - 1 + reach) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    groups: list[list[tuple[int, int]]] = []
    for span in spans:
        sign = np.sign(semitones[span[1]] - semitones[span[0]])
        if groups:
            last = groups[-1][-1]
            same = np.sign(semitones[last[1]] - semitones[last[0]]) == sign
            if same and times[span[0]] - times[last[1]] <= DWELL_SEC:
                groups[-1].append(span)
                continue
        groups.append([span])
    moves = [_move(times, semitones, group[0][0], group[-1][1]) for group in groups]
    return [move for move in moves if abs(move.by) >= by]


def _move(times: NDArray[np.float64], semitones: NDArray[np.float64], first: int, last: int) -> Move:
    # Where it came from and where it got to are read a little outside the jump itself.
    before = middle(semitones[max(first - 5, 0) : first + 1])
    after = middle(semitones[last : last + 8])
    by = after - before
    way = (semitones[max(first - 1, 0) : last + 4] - before) / by if abs(by) > 0.2 else np.zeros(1)
    begun, done = np.flatnonzero(way >= 0.1), np.flatnonzero(way >= 0.9)
    lasted = (int(done[0]) - int(begun[0])) * STEP_SEC if len(begun) and len(done) else 0.0
    arrived = int(done[0]) + max(first - 1, 0) if len(done) else last
    return Move(float(times[first]), float(times[min(arrived, len(times) - 1)]), before, after, max(lasted, 0.0))


def offset_of(samples: Samples, bends: Sequence[NDArray[np.float64]], durations: Sequence[float]) -> float:
    """How far a string is out of tune, in semitones (-0.5 to 0.5): the middle of what its notes'
    steady parts are off.
    """
    rests = []
    from_step, to_step = round(0.04 / STEP_SEC), round(0.3 / STEP_SEC)
    for note, (bend, duration) in enumerate(zip(bends, durations, strict=True)):
        if len(bend) < 2:
            # Nothing moves: as the whole of it is.
            if duration > 0.08:
                rests.append(float(bend[0, 1]) - round(float(bend[0, 1])))
            continue
        chosen = samples.of(note)[from_step : to_step + 1]
        if len(chosen) > 4:
            level = middle(chosen)
            rests.append(level - round(level))
    return float(np.median(rests)) if len(rests) >= 5 else 0.0
