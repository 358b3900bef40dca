"""Studies for two hands from a grammar of this project: what the corpus has little of.

Runs of 3 to 12 notes a beat over an accompaniment, two divisions at once, dotted and double-dotted
figures, syncopation, halves of a beat divided each in its own way, trills, turns, grace notes and
rolled chords; in simple, compound and mixed meters. ``study`` draws one from a seed. Shares are set
by hand: about one beat in twelve has 5, 7 or 9 parts.
"""

from fractions import Fraction
from typing import Any

import numpy as np

from loopdeck.analysis.transcription.beats import Stretch, cycle_beats
from loopdeck.rhythm.meter import parse_cycle
from tests.fitting.rhythm.corpus import GRACE, MORDENT, NOTE, PLAIN, ROLL, TICKS, TRILL, TURN

METERS = (
    "4/4",
    "3/4",
    "2/4",
    "6/8",
    "9/8",
    "12/8",
    "3/8",
    "2/2",
    "4/4 4+3/8",
    "7/8",
    "5/4",
    "5/8",
    "2/4 3/4",
    "6/8 2/4",
)
_F = Fraction
#: Figures of a simple beat: places struck, and how often they are drawn.
SIMPLE = {
    "quarter": ([0], 6), "eighths": ([0, _F(1, 2)], 8), "sixteenths": ([0, _F(1, 4), _F(1, 2), _F(3, 4)], 10),
    "dotted": ([0, _F(3, 4)], 4), "double dotted": ([0, _F(7, 8)], 1), "snap": ([0, _F(1, 4)], 1), "offbeat": ([_F(1, 2)], 3),
    "eighth two": ([0, _F(1, 2), _F(3, 4)], 4), "two eighth": ([0, _F(1, 4), _F(1, 2)], 3), "synco": ([0, _F(1, 4), _F(3, 4)], 3),
    "late": ([_F(1, 4), _F(1, 2), _F(3, 4)], 2), "triplet": ([0, _F(1, 3), _F(2, 3)], 7), "shuffle": ([0, _F(2, 3)], 1.5),
    "triplet late": ([_F(1, 3), _F(2, 3)], 1), "sextuplet": ([_F(i, 6) for i in range(6)], 3), "thirty": ([_F(i, 8) for i in range(8)], 4),
    "half thirty": ([0, _F(1, 2), _F(5, 8), _F(3, 4), _F(7, 8)], 1.5), "thirty half": ([0, _F(1, 8), _F(1, 4), _F(3, 8), _F(1, 2)], 1),
    "dotted thirty": ([0, _F(3, 4), _F(7, 8)], 1.5), "eighth triplet": ([0, _F(1, 2), _F(2, 3), _F(5, 6)], 1.2),
    "triplet eighth": ([0, _F(1, 6), _F(1, 3), _F(1, 2)], 1.2), "five": ([_F(i, 5) for i in range(5)], 1.6),
    "seven": ([_F(i, 7) for i in range(7)], 1.6), "nine": ([_F(i, 9) for i in range(9)], 0.7), "ten": ([_F(i, 10) for i in range(10)], 0.5),
    "twelve": ([_F(i, 12) for i in range(12)], 0.7), "eleven": ([_F(i, 11) for i in range(11)], 0.25), "rest": ([], 2),
    "sixteen": ([_F(i, 16) for i in range(16)], 0.15),
}  # fmt: skip
COMPOUND = {
    "dotted quarter": ([0], 5), "eighths": ([0, _F(1, 3), _F(2, 3)], 12), "quarter eighth": ([0, _F(2, 3)], 8), "eighth quarter": ([0, _F(1, 3)], 2),
    "sixteenths": ([_F(i, 6) for i in range(6)], 6), "siciliano": ([0, _F(1, 2), _F(2, 3)], 3), "two": ([0, _F(1, 2)], 0.7),
    "four": ([_F(i, 4) for i in range(4)], 0.8), "mixed": ([0, _F(1, 3), _F(2, 3), _F(5, 6)], 3), "mixed two": ([0, _F(1, 3), _F(1, 2), _F(2, 3)], 2),
    "thirty": ([_F(i, 12) for i in range(12)], 1), "nine": ([_F(i, 9) for i in range(9)], 0.8), "five": ([_F(i, 5) for i in range(5)], 0.5),
    "seven": ([_F(i, 7) for i in range(7)], 0.5), "eight": ([_F(i, 8) for i in range(8)], 0.5), "rest": ([], 1.5), "offbeat": ([_F(1, 3), _F(2, 3)], 2),
    "late": ([_F(2, 3)], 1),
}  # fmt: skip


def riff(seed: int, beats: int = 160) -> tuple[np.ndarray[Any, Any], tuple[Stretch, ...]]:
    """A bass riff of one voice that goes round, with a change now and then: strokes drawn on
    sixteenths, eighths or triplets of any meter.
    """
    rng = np.random.default_rng([8, seed])
    cycle = parse_cycle(str(rng.choice(METERS)))
    step = [_F(1, 4), _F(1, 4), _F(1, 2), _F(1, 3)][int(rng.integers(4))]
    if step == _F(1, 3) and any(length != 1 for length in cycle_beats(cycle).length):
        step = _F(1, 4)
    slots = int(cycle.quarters / step)
    density = rng.uniform(0.35, 0.95)
    weight = np.where(np.arange(slots) * step % 1 == 0, 1.25, 1.0) * density
    struck = rng.random(slots) < weight
    pitch = rng.choice([28, 31, 33, 35, 38, 40], slots)
    rows = []
    for turn in range(max(int(beats / float(cycle.quarters)), 1)):
        change = rng.random(slots) < 0.06
        now = np.flatnonzero(struck ^ change)
        for index, slot in enumerate(now.tolist()):
            until = now[index + 1] if index + 1 < len(now) else slots
            onset = turn * cycle.quarters + slot * step
            length = min((int(until) - slot) * step, _F(int(rng.integers(1, 5)), 2))
            rows.append((_tick(onset), _tick(length), int(pitch[slot]), 0, PLAIN))
    return np.array(sorted(rows), NOTE), (Stretch(Fraction(0), cycle),)


def study(seed: int, beats: int = 160) -> tuple[np.ndarray[Any, Any], tuple[Stretch, ...]]:
    """Notes (``corpus.NOTE``, part 0 on top) and the meter of a study of about so many beats."""
    rng = np.random.default_rng([7, seed])
    cycle = parse_cycle(str(rng.choice(METERS)))
    table = cycle_beats(cycle)
    rows: list[tuple[int, int, int, int, int]] = []
    right, left = int(rng.integers(60, 76)), int(rng.integers(36, 50))
    held: dict[tuple[int, bool], list[str]] = {}
    at = Fraction(0)
    done = 0
    # Few studies set two divisions against each other.
    poly = rng.random() < 0.25
    while done < beats:
        for start, length, compound in zip(table.start, table.length, table.compound, strict=True):
            for part in (0, 1):
                # A figure goes on for some beats, from a few that the study likes.
                figures = COMPOUND if compound else SIMPLE
                liked = held.setdefault((part, compound), [])
                if len(liked) < 2 or rng.random() < 0.12:
                    weight = np.array([row[1] for row in figures.values()], float)
                    if part == 1:
                        weight = weight * [_left(row[0], compound, poly) for row in figures.values()]
                    liked.append(str(rng.choice(list(figures), p=weight / weight.sum())))
                    del liked[:-4]
                name = liked[-1] if rng.random() < 0.6 else str(rng.choice(liked))
                right, left, new = _beat(rng, figures[name][0], at + start, length, part, right, left)
                rows += new
            done += 1
        at += cycle.quarters
    notes = np.array(sorted(rows), NOTE)
    return np.unique(notes), (Stretch(Fraction(0), cycle),)


def _left(places: list[Any], compound: bool, poly: bool) -> float:
    """How gladly the left hand takes a figure: simple ones, and those that go with any right
    hand.
    """
    if not places or len(places) == 1 or (len(places) == 2 and places[1] == _F(1, 2) and not compound):
        return 2.0
    if compound:
        return 1.0 if len(places) <= 3 else 0.3
    return (1.0 if len(places) <= 4 else 0.2) if poly else 0.1


def _beat(
    rng: np.random.Generator, places: list[Any], start: Fraction, length: Fraction, part: int, right: int, left: int
) -> tuple[int, int, list[tuple[int, int, int, int, int]]]:
    rows = []
    pitch = right if part == 0 else left
    low, high = (55, 90) if part == 0 else (30, 60)
    run = len(places) >= 4 and rng.random() < 0.7
    way = int(rng.choice([-1, 1]))
    for index, place in enumerate(places):
        until = places[index + 1] if index + 1 < len(places) else 1
        onset, end = start + Fraction(place) * length, start + Fraction(until) * length
        step = way * int(rng.choice([1, 2])) if run else int(rng.choice([-7, -5, -4, -3, -2, -1, 1, 2, 3, 4, 5, 7]))
        pitch = pitch + step
        if not low <= pitch <= high:
            pitch, way = min(max(pitch, low), high) - 2 * step, -way
        chord = int(rng.choice([1, 2, 3, 4], p=[0.55, 0.2, 0.15, 0.1])) if len(places) <= 3 else 1
        mark = PLAIN
        draw = rng.random()
        if len(places) <= 2 and part == 0:
            mark = (
                TRILL
                if draw < 0.015 and end - onset >= 1
                else MORDENT
                if draw < 0.03
                else TURN
                if draw < 0.04
                else PLAIN
            )
            if 0.04 < draw < 0.09:
                rows.append((_tick(onset), 0, pitch + int(rng.choice([-2, -1, 1, 2])), part, GRACE))
        if chord > 2 and rng.random() < 0.05:
            mark = ROLL
        for note in range(chord):
            rows.append(
                (_tick(onset), _tick(end) - _tick(onset), pitch - (4 * note if part == 0 else -5 * note), part, mark)
            )
            if mark in (TRILL, MORDENT, TURN):
                break
    return (pitch, left, rows) if part == 0 else (right, pitch, rows)


def _tick(quarters: Fraction) -> int:
    # 11 and 13 do not divide a tick; the nearest one is less than 1/20000 quarter away.
    return round(quarters * TICKS)
