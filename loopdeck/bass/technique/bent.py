"""One raw note whose bend tells what the hand did: its steps become written notes, its glides bends
and vibrato.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.curve import REACH_SEC, STEP_SEC, middle
from loopdeck.bass.technique.moves import Move
from loopdeck.bass.technique.reading import HAMMER, PLUCK, PULL, SLIDE, Written
from loopdeck.bass.technique.sway import LEAST_BEND, Sway

#: What a slide takes for every fret after the first, at least, and in all; a hammer-on jumps over
#: all of them at once.
SLIDE_FRET_SEC, SLIDE_SEC = 0.009, 0.018
#: A pickup needs about this many periods to follow a jump (from a tenth to nine tenths of the way).
FOLLOWS_PERIODS = 1.1
#: A start that lasts no longer than this was not a note but where a slide came from; likewise an
#: end.
NOWHERE_SEC, WRONG_START_SEC, END_SEC = 0.1, 0.035, 0.06
#: A slide from nowhere is on its first fret no longer than this.
FIRST_FRET_SEC = 0.06
LAST_FRETS, MOST_END_SEC = 1.6, 0.09
#: Moves wider than this are not a hammer-on: the hand does not reach.
REACH_FRETS = 7
#: The pitch at which a note begins is that of so long.
START_SEC = 0.06
#: It is steady so long after a pluck or an arrival, and until so long before its end.
ATTACK_SEC, ARRIVAL_SEC, REST_SEC = 0.012, 0.02, 0.004


class RawNote(NamedTuple):
    """A raw note with what its bend tells: the ``moves`` of its curve, which has ``samples``;
    ``levels`` are the first of those.
    """

    note: Written
    levels: list[float]
    moves: list[Move]
    samples: int


class SteadyPart(NamedTuple):
    """Where a written note is steady: its samples ``first`` to ``last`` (exclusive) of the raw
    note's, and its pitch against the raw note's.
    """

    first: int
    last: int
    frets: int


def unmoved(notes: list[Written], levels: NDArray[np.float64], samples: NDArray[np.int64]) -> NDArray[np.int64]:
    """Put notes without moves where they begin, ``levels`` (n,) above their pitch; returns their
    steady parts, (n, 3), as SteadyPart has them. Each has so many ``samples``.
    """
    frets = np.rint(levels).astype(np.int64)
    lasts = np.array([note.end_sec - note.onset_sec for note in notes])
    first = np.full(len(notes), math.ceil(ATTACK_SEC / STEP_SEC - 1e-6))
    last = np.minimum(np.floor((lasts - REST_SEC) / STEP_SEC + 1e-6).astype(np.int64) + 1, samples)
    for note, by in zip(notes, frets.tolist(), strict=True):
        note.pitch += by
    return np.stack([first, np.maximum(last, first), frets], 1)


def stepped(raw: RawNote, fretless: bool) -> tuple[list[Written], list[SteadyPart]]:
    """The written notes of one raw note, the first of them plucked, and the steady part of each."""
    first, pitch = raw.note, raw.note.pitch
    onset, end = first.onset_sec, first.end_sec
    moves = _real(raw.moves, (raw.samples - 1) * STEP_SEC)
    start = _sample_at(min(moves[0].start, START_SEC) if moves else START_SEC) + 1
    first.pitch += round(middle(raw.levels[:start]))
    notes, begun = [first], [0.0]
    for number, move in enumerate(moves):
        last, since = notes[-1], begun[-1]
        goal = pitch + move.goal
        frets = goal - last.pitch
        slid = _slid(move, last.pitch, abs(frets), fretless)
        until_end = (end - onset) - move.end
        if len(notes) == 1 and move.start - since < FIRST_FRET_SEC:
            slid = slid or _passed(move, abs(frets))
        if len(notes) == 1 and move.start - since < (NOWHERE_SEC if slid else WRONG_START_SEC):
            last.pitch, last.onset_sec, begun[-1] = goal, onset + move.end, move.end
            if slid:
                last.mark("slide-from")
            continue
        if slid and until_end < _end_sec(move, frets) and number + 1 == len(moves):
            last.mark("slide-to")
            last.way = (last.pitch, goal)
            continue
        if frets == 0:
            continue
        reached = SLIDE if slid else HAMMER if frets > 0 else PULL
        last.end_sec = onset + move.start
        at = move.end if slid else move.start
        notes.append(Written(onset + at, end, goal, first.string, first.velocity, reached, raw=list(first.raw)))
        notes[-1].way = (last.pitch, goal)
        begun.append(move.end)
    steady = []
    for place, (note, since) in enumerate(zip(notes, begun, strict=True)):
        to_nowhere = place + 1 == len(notes) and "slide-to" in note.marks
        until = moves[-1].start if to_nowhere else note.end_sec - onset
        skip = ATTACK_SEC if note.reached == PLUCK and place == 0 else ARRIVAL_SEC
        steady.append(_steady(since + skip, until - REST_SEC, raw.samples, note.pitch - pitch))
    return notes, steady


def _sample_at(sec: float) -> int:
    return math.floor(sec / STEP_SEC + 1e-6)


def _steady(since: float, until: float, samples: int, frets: int) -> SteadyPart:
    first = math.ceil(since / STEP_SEC - 1e-6)
    return SteadyPart(first, max(min(_sample_at(until) + 1, samples), first), frets)


def _real(moves: list[Move], end: float) -> list[Move]:
    """The moves that end on a fret, or where the note ends (``end``); what jumps and is at once
    back was a slip of the pickup.
    """
    found: list[Move] = []
    for move in moves:
        if abs(move.after - move.goal) > 0.3 and end - move.end >= END_SEC:
            continue
        if found and round(found[-1].by) == -round(move.by) and move.start - found[-1].end < 0.02:
            found.pop()
            continue
        found.append(move)
    return found


def _slid(move: Move, pitch: int, frets: int, fretless: bool) -> bool:
    if frets > REACH_FRETS:
        return True
    if frets < 2 and not fretless:
        return False
    if move.stair:
        return True
    period = 1.0 / (440.0 * 2.0 ** ((pitch - 69) / 12))
    # Of a jump that falls between two messages, the second may not tell the whole.
    coarse = max(move.spacing - 0.005, 0.0) * 1.5
    lasted = move.lasted - FOLLOWS_PERIODS * min(period, 0.02) - coarse
    return bool(lasted > min(SLIDE_FRET_SEC * max(frets - 1, 1), SLIDE_SEC))


def _passed(move: Move, frets: int) -> bool:
    """True at the start of a note, where nothing else than a slide passes a fret on the way."""
    return 2 <= frets <= REACH_FRETS and move.lasted > REACH_SEC + move.spacing / 2


def _end_sec(move: Move, frets: int) -> float:
    """How long the last fret of a slide to nowhere sounds at most: not much longer than those
    before it.
    """
    return min(max(END_SEC, LAST_FRETS * move.lasted / max(abs(frets) - 1, 1)), MOST_END_SEC)


def add_sway(note: Written, found: Sway) -> None:
    """Mark the bend and the vibrato of a written note."""
    if found.vibrato is not None:
        note.vibrato = found.vibrato
        note.mark("vibrato")
    if found.bend >= LEAST_BEND:
        note.bend_semitones = found.bend
        note.mark("bend")
        if found.released:
            note.mark("release")
