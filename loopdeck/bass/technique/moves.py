"""Moves of the pitch from one fret to another.

Method
    A fret makes the pitch jump; a string that is pulled makes it glide. A jump is a change of
    ``JUMP`` semitones within ``FAST_SEC``: twice as fast as the widest and fastest bend (two
    semitones in a tenth of a second). Jumps in one direction with no more than ``DWELL_SEC``
    between them are one move. Figures: common practice, no source; tried on simulated pickups.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.curve import STEP_SEC, Samples, middle

FAST_SEC, JUMP, DWELL_SEC = 0.012, 0.5, 0.085
#: Without frets: a glide goes at least so far within ``FAST_SEC``, and in all; a vibrato does not
#: get that far.
GLIDE, GLIDE_BY = 0.15, 0.8
#: How near to a fret is on it, and how long a sliding finger is there at least.
ON_FRET, STAIR_SEC = 0.1, 0.012
#: No bass string is bent further than this (semitones; common practice, no source).
WIDEST_BEND = 2.6
#: How many samples before and after a jump tell where it came from and where it got to.
BEFORE, AFTER = 5, 8
#: A jump whose pitch goes on the same way, by so much at least, and rests within so many samples
#: was the beginning of a slide that slowed down, where it went so far in all.
GOES_ON, RESTS, LEAST_SLIDE, RESTING = 0.6, 24, 1.5, 0.3


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


def moves_of(
    samples: Samples, bends: Sequence[NDArray[np.float64]], offset: NDArray[np.float64], fretless: bool
) -> dict[int, list[Move]]:
    """The moves of every note among ``samples`` that has any, by the note's number. ``bends`` are
    the messages they were sampled from, ``offset`` what each note's string is out of tune.
    """
    found: dict[int, list[Move]] = {}
    jumps = _jumps(samples, GLIDE if fretless else JUMP)
    wide = [] if fretless else np.flatnonzero(samples.highest - samples.lowest >= WIDEST_BEND).tolist()
    glides = _jumps(samples, GLIDE) if wide else {}
    glides = {note: glides[note] for note in wide if note in glides}
    for note in sorted({*jumps, *glides}):
        spans = jumps.get(note, [])
        levels = samples.semitones[samples.first[note] : samples.first[note + 1]].tolist()
        sent, values = bends[note][:, 0].tolist(), bends[note][:, 1]
        moves = _moves(levels, spans, GLIDE_BY if fretless else JUMP)
        if note in glides:
            moves = _with_glides(moves, _moves(levels, glides[note], WIDEST_BEND))
        if moves:
            found[note] = [
                move._replace(
                    spacing=min(_spacing(sent, move), samples.spacing),
                    stair=move.stair or _stair(sent, values, move, float(offset[note])),
                )
                for move in moves
            ]
    return found


def _moves(levels: list[float], spans: list[tuple[int, int]], least: float) -> list[Move]:
    moves = (_move(levels, first, last, least) for first, last in _runs(levels, spans))
    return [move for move in moves if move is not None]


def _with_glides(moves: list[Move], glides: list[Move]) -> list[Move]:
    """``moves`` and the ``glides`` that are wider than a string can be bent: those are slides,
    however smoothly the sensor tells of them.
    """
    for glide in glides:
        inside = [move for move in moves if move.start < glide.end and move.end > glide.start]
        if not any(abs(move.by - glide.by) < JUMP for move in inside):
            moves = [*(move for move in moves if move not in inside), glide._replace(stair=True)]
    return sorted(moves, key=lambda move: move.start)


def _jumps(samples: Samples, least: float) -> dict[int, list[tuple[int, int]]]:
    """The stretches in which a note's pitch is fast, as its first and last sample."""
    reach = round(FAST_SEC / STEP_SEC)
    semitones, first = samples.semitones, samples.first
    if len(semitones) <= reach:
        return {}
    fast = np.zeros(len(semitones) + 1, bool)
    # A change that would reach into the next note is none.
    fast[1:-reach] = np.abs(semitones[reach:] - semitones[:-reach]) >= least
    for before_end in range(reach):
        fast[np.maximum(first[1:] - before_end, 0)] = False
    edges = np.flatnonzero(fast[1:] != fast[:-1])
    begins, ends = edges[::2], edges[1::2] - 1 + reach
    notes = np.searchsorted(first, begins, side="right") - 1
    found: dict[int, list[tuple[int, int]]] = {}
    starts = first[notes]
    rows = zip(notes.tolist(), (begins - starts).tolist(), (ends - starts).tolist(), strict=True)
    for note, begin, end in rows:
        found.setdefault(note, []).append((begin, end))
    return found


def _runs(levels: list[float], spans: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Jumps in one direction that follow each other soon, as one each."""
    dwell = DWELL_SEC / STEP_SEC + 1e-9
    runs: list[tuple[int, int]] = []
    rises = 0
    for first, last in spans:
        up = (levels[last] > levels[first]) - (levels[last] < levels[first])
        if runs and up == rises and first - runs[-1][1] <= dwell:
            runs[-1] = (runs[-1][0], last)
        else:
            runs.append((first, last))
        rises = up
    return runs


def _move(levels: list[float], first: int, last: int, least: float) -> Move | None:
    # Where it came from and where it got to are read a little outside the jump itself.
    before, after = middle(levels[max(first - BEFORE, 0) : first + 1]), middle(levels[last : last + AFTER])
    by = after - before
    if abs(by) < least:
        return None
    if (settled := _settled(levels, last, after, by)) is not None and abs(settled[1] - before) >= LEAST_SLIDE:
        last, after = settled
        by = after - before
    begun = done = -1
    for place in range(max(first - 1, 0), min(last + 4, len(levels))):
        way = (levels[place] - before) / by
        if begun < 0 and way >= 0.1:
            begun = place
        if way >= 0.9:
            done = place
            break
    lasted = (done - begun) * STEP_SEC if done >= 0 else 0.0
    return Move(first * STEP_SEC, (done if done >= 0 else min(last, len(levels) - 1)) * STEP_SEC, before, after, lasted)


def _settled(levels: list[float], last: int, after: float, by: float) -> tuple[int, float] | None:
    """Where a pitch that goes on the same way after a jump comes to rest, and its level; None where
    it does not go on.
    """
    way = 1.0 if by > 0 else -1.0
    for place in range(last + AFTER, min(last + RESTS, len(levels) - AFTER)):
        ahead = levels[place : place + AFTER]
        if max(ahead) - min(ahead) < RESTING:
            level = middle(ahead)
            return (place, level) if (level - after) * way >= GOES_ON else None
    return None


def _spacing(sent: list[float], move: Move) -> float:
    """The usual time between messages around a move."""
    near = sent[bisect_left(sent, move.start - 0.03) : bisect_right(sent, move.end + 0.03)]
    return middle([later - one for one, later in pairwise(near)]) if len(near) > 1 else 0.0


def _stair(sent: list[float], values: NDArray[np.float64], move: Move, offset: float) -> bool:
    """True where the messages name every fret on the way, and leave the pitch on it for a while: of
    a pickup that tells of changes only.
    """
    frets = abs(round(move.before) - move.goal)
    if frets < 2:
        return False
    begin, end = bisect_left(sent, move.start - STEP_SEC), bisect_right(sent, move.end + 1.5 * STEP_SEC)
    if end - begin != frets or round(values.item(begin) - offset) == round(move.before):
        return False
    half, reach = (move.start + move.end) / 2, 0.1 + (move.end - move.start) / 2
    if bisect_left(sent, half + reach) - bisect_right(sent, half - reach) - frets > 2:
        return False
    on_frets = all(abs(value - offset - round(value - offset)) < ON_FRET for value in values[begin:end].tolist())
    return on_frets and all(later - one >= STAIR_SEC for one, later in pairwise(sent[begin:end]))
