"""Pianists for judging the rhythm model: written scores to human timing by published rules, in code
that shares nothing with the players it was fitted on (``players``).

Why
    A model that is judged by the players it was fitted on is judged too kindly. These pianists are
    rougher, and what they do has a shape: the tempo bends inside the beat, accents wait, chords are
    led by the melody or by the bass, and the beat is marked by what was played.
What a pianist does (habits are drawn anew for each piece)
    - Phrases arch (Todd, "The dynamics of dynamics: a model of musical expression", JASA 91, 1992)
      and end in a ritard (Friberg & Sundberg, "Does music performance allude to locomotion?", JASA
      105, 1999); the curve goes on inside the beat.
    - Short notes are shortened, long ones lengthened or the other way, off-beats come late, leaps
      and ends of figures take time (duration contrast, inégales, punctuation: Friberg, Bresin &
      Sundberg, "Overview of the KTH rule system", Advances in Cognitive Psychology 2, 2006).
    - A timekeeper whose variance grows with the interval and a motor delay of its own, hence
      neighbours that err in opposite directions (Wing & Kristofferson, Perception & Psychophysics
      14, 1973).
    - The melody leads by some 20 to 30 ms (Goebl, JASA 110, 2001) or the left hand does, and
      now and then a bass note by 30 to 100 (Palmer, "On the assignment of structure in music
      performance", Music Perception 14, 1996); notes of a chord spread by some ms; rolled chords
      take 20 to 90 ms a note (Repp, "Some observations on pianists' timing of arpeggiated chords",
      Psychology of Music 25, 1997).
    - Grace notes last 40 to 160 ms, before the beat or on it (Timmers et al., "The timing of grace
      notes", Music Perception 20, 2002); trills have 8 to 14 notes a second.
    Sizes within these ranges are common practice, no source.
The click
    A beat is where its notes are: their mean, the first or the loudest part's; between two beats
    that were played a line is drawn. Marking errs by some ms.
"""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tests.fitting.rhythm.corpus import GRACE, MORDENT, ROLL, TICKS, TRILL, TURN
from tests.fitting.rhythm.players import Played

Floats = NDArray[np.float64]


class Habits(NamedTuple):
    """What is drawn for a piece; shares are of an interval, seconds where the name says so."""

    rubato: float
    contrast: float
    offbeat: float
    accent: float
    clock_share: float
    motor_sec: float
    lead_sec: float
    bass: float
    spread_sec: float
    rolls: float
    slips: float
    marked: str


def habits(rng: np.random.Generator, freedom: float | None = None) -> Habits:
    """Habits from strict (freedom 0) to free (1)."""
    free = float(rng.beta(1.4, 1.6)) if freedom is None else freedom
    return Habits(
        rubato=0.02 + 0.22 * free**1.5 * rng.uniform(0.5, 1.3),
        contrast=rng.normal() * 0.08 * free,
        offbeat=rng.normal() * 0.06 * free,
        accent=rng.uniform(0, 0.25) * free,
        clock_share=rng.uniform(0.015, 0.03 + 0.03 * free),
        motor_sec=rng.uniform(0.003, 0.006 + 0.004 * free),
        lead_sec=float(rng.choice([0.0, 0.012, 0.025, 0.025, -0.02])) * rng.uniform(0.5, 1.4),
        bass=float(rng.choice([0.0, 0.02, 0.15])) * free,
        spread_sec=rng.uniform(0.003, 0.007 + 0.008 * free),
        rolls=float(rng.choice([0.0, 0.01, 0.04, 0.2 * free])),
        slips=rng.uniform(0, 0.004),
        marked=str(rng.choice(["mean", "first", "top"], p=[0.5, 0.3, 0.2])),
    )


def _tempo(notes: NDArray[Any], rng: np.random.Generator) -> float:
    steps = np.diff(np.unique(notes["onset"][notes["mark"] != GRACE])) / TICKS
    fastest = 60.0 / 0.085 * np.percentile(steps, 10)
    return float(np.clip(min(fastest, 60.0 / rng.uniform(0.16, 0.55) * np.median(steps)), 26, 210))


def _curve(rng: np.random.Generator, first_q: float, last_q: float, rubato: float) -> tuple[Floats, Floats]:
    """Places in quarters, and seconds a quarter there over the usual ones: arches, ritards and a
    slow drift.
    """
    at = np.arange(np.floor(first_q) - 8, last_q + 9, 1 / 16)
    phrase = float(rng.choice([4, 6, 8, 8, 12, 16]))
    inside = (at / phrase) % 1.0
    half = (at / phrase * 2) % 1.0
    depth = 1 + 0.5 * np.interp(at, *_drift(rng, at, phrase))
    slow = rubato * depth * (2.4 * (inside - 0.45) ** 2 + 0.8 * (half - 0.5) ** 2)
    last = np.clip((inside - 0.85) / 0.15, 0, 1)
    slow = slow + rubato * rng.uniform(0, 1.5) * depth * ((1 - 0.6 * last) ** -0.5 - 1)
    slow = slow + rubato * (0.45 * np.interp(at, *_drift(rng, at, 4.0)) + 0.35 * np.interp(at, *_drift(rng, at, 1.0)))
    return at, np.exp(np.clip(slow, -0.8, 1.2))


def _drift(rng: np.random.Generator, at: Floats, every: float) -> tuple[Floats, Floats]:
    """Independent draws, one every so many quarters, to be joined by lines."""
    knots = np.arange(at[0], at[-1] + every, every)
    return knots, rng.normal(size=len(knots))


def perform(
    notes: NDArray[Any], beats: NDArray[np.int64], rng: np.random.Generator, freedom: float | None = None
) -> Played:
    """As ``players.play``."""
    habit = habits(rng, freedom)
    notes = notes[np.lexsort((notes["pitch"], notes["onset"]))]
    qpm = _tempo(notes, rng)
    places = np.unique(notes["onset"])
    place_sec = _places(rng, notes, places, habit, qpm)
    home = np.searchsorted(places, notes["onset"])
    parts = np.unique(notes["part"])
    right = np.searchsorted(parts, notes["part"]) < max(len(parts) / 2, 1)
    time = place_sec[home] + _chords(rng, notes, home, right, habit)
    grace = notes["mark"] == GRACE
    before = rng.random() < 0.7
    for index in np.flatnonzero(grace):
        time[index] += -rng.uniform(0.04, 0.16) if before == (rng.random() < 0.9) else rng.uniform(-0.02, 0.015)
    slip = rng.random(len(notes)) < habit.slips
    time[slip] += rng.choice([-1, 1], slip.sum()) * rng.uniform(0.05, 0.15, slip.sum())
    usual = 60.0 / qpm
    length = np.where(grace, 0.08, notes["length"] / TICKS * usual * _held(rng, notes, right))
    rows = [
        (t, max(d, 0.03), int(p), int(o), int(w), bool(g))
        for t, d, p, o, w, g in zip(time, length, notes["pitch"], notes["onset"], notes["length"], grace, strict=True)
    ]
    rows += _signs(rng, notes, time, usual)
    rows.sort(key=lambda row: (row[0], row[2]))
    beat_sec = _marked(rng, notes, time, beats, habit, places, place_sec, usual)
    started = np.array([row[0] for row in rows])
    onset_q = _on_click(started, beat_sec, beats / TICKS)
    end_q = _on_click(started + np.array([row[1] for row in rows]), beat_sec, beats / TICKS)
    return Played(
        onset_q,
        np.maximum(end_q - onset_q, 0.01),
        *(np.array([row[index] for row in rows], np.int64) for index in (2, 3, 4)),
        np.array([row[5] for row in rows], bool),
        beats / TICKS,
        60.0 / float(np.median(np.diff(beat_sec) / np.diff(beats / TICKS))),
    )


def _places(
    rng: np.random.Generator, notes: NDArray[Any], places: NDArray[np.int64], habit: Habits, qpm: float
) -> Floats:
    """When each written place is played, in seconds."""
    place_q = places / TICKS
    at, slow = _curve(rng, place_q[0], place_q[-1], habit.rubato)
    sec = np.concatenate([[0.0], np.cumsum((slow[1:] + slow[:-1]) / 2 * np.diff(at))]) * 60.0 / qpm
    gaps = np.diff(np.interp(place_q, at, sec))
    gap_q = np.diff(place_q)
    around = np.convolve(np.pad(np.log(gap_q), 1, mode="edge"), [1 / 3, 1 / 3, 1 / 3], "valid")
    stretch = habit.contrast * np.clip(np.log(gap_q) - around, -1, 1)
    # Off-beats of a pair come late: the first of two equal halves is longer.
    even = np.abs(place_q[:-1] * 2 % 1.0) < 1e-6
    stretch += habit.offbeat * np.where(even, 1.0, -1.0) * (gap_q <= 0.5)
    top = np.maximum.reduceat(notes["pitch"], np.searchsorted(notes["onset"], places)).astype(float)
    leap = np.abs(np.diff(top)) > 7
    stretch += habit.accent * 0.6 * leap * rng.random(len(gaps))
    stretch += habit.accent * (rng.random(len(gaps)) < 0.06) * rng.uniform(0.3, 1.6, len(gaps))
    gaps = gaps * np.exp(stretch)
    gaps = gaps * np.exp(rng.normal(size=len(gaps)) * habit.clock_share)
    motor = rng.normal(size=len(places)) * habit.motor_sec
    return np.concatenate([[0.0], np.cumsum(np.maximum(gaps, 0.03))]) + motor


def _chords(
    rng: np.random.Generator, notes: NDArray[Any], home: NDArray[np.int64], right: NDArray[np.bool_], habit: Habits
) -> Floats:
    """How notes of one place are apart, in seconds."""
    apart = rng.normal(size=len(notes)) * habit.spread_sec
    count = int(home.max()) + 1
    highest = np.full(count, -1)
    highest[home] = notes["pitch"]
    melody = notes["pitch"] == highest[home]
    both = (np.bincount(home[right], minlength=count) > 0) & (np.bincount(home[~right], minlength=count) > 0)
    lead = habit.lead_sec * np.exp(rng.normal(size=count) * 0.4) * both
    apart -= np.where(melody, lead[home], 0.0)
    # Now and then the bass comes before the rest.
    lowest = np.full(count, 999)
    np.minimum.at(lowest, home, notes["pitch"])
    early = (rng.random(count) < habit.bass) & both
    apart -= np.where(early[home] & (notes["pitch"] == lowest[home]), rng.uniform(0.03, 0.1, count)[home], 0.0)
    rolled = rng.random(count) < habit.rolls
    rolled[home[notes["mark"] == ROLL]] = True
    size = np.bincount(home, minlength=count)
    first = np.searchsorted(home, np.arange(count))
    pace = rng.uniform(0.02, 0.09, count) * np.minimum(1.0, 3.0 / np.maximum(size, 1))
    rank = np.arange(len(home)) - first[home]
    late = rng.random(count) < 0.5
    shift = pace[home] * (rank - np.where(late[home], 0, size[home] - 1))
    return apart + np.where(rolled[home] & (size[home] > 1), shift, 0.0)


def _held(rng: np.random.Generator, notes: NDArray[Any], right: NDArray[np.bool_]) -> Floats:
    """The part of its length a key is down."""
    style = np.where(right, rng.uniform(0.5, 1.1), rng.uniform(0.4, 1.1))
    return np.asarray(np.clip(style * np.exp(rng.normal(size=len(notes)) * 0.2), 0.1, 1.5))


def _signs(
    rng: np.random.Generator, notes: NDArray[Any], time: Floats, usual: float
) -> list[tuple[float, float, int, int, int, bool]]:
    """The notes that trills, mordents and turns add."""
    rows: list[tuple[float, float, int, int, int, bool]] = []
    for index in np.flatnonzero(np.isin(notes["mark"], (TRILL, MORDENT, TURN))):
        pace = 1.0 / rng.uniform(8, 14)
        step = int(rng.choice([1, 2]))
        pitch, mark = int(notes["pitch"][index]), int(notes["mark"][index])
        number = max(int(notes["length"][index] / TICKS * usual * 0.85 / pace) - 1, 2)
        moves = {MORDENT: [step, 0], TURN: [step, 0, -step, 0]}.get(mark, [step * ((k + 1) % 2) for k in range(number)])
        for count, move in enumerate(moves, 1):
            rows.append(
                (float(time[index]) + count * pace * rng.uniform(0.9, 1.1), pace * 0.9, pitch + move, -1, 0, True)
            )
    return rows


def _marked(
    rng: np.random.Generator,
    notes: NDArray[Any],
    time: Floats,
    beats: NDArray[np.int64],
    habit: Habits,
    places: NDArray[np.int64],
    place_sec: Floats,
    usual: float,
) -> Floats:
    """When each beat was marked, in seconds, rising."""
    plain = notes["mark"] != GRACE
    onset, struck, pitch = notes["onset"][plain], time[plain], notes["pitch"][plain]
    low, high = np.searchsorted(onset, beats, "left"), np.searchsorted(onset, beats, "right")
    ideal = np.interp(beats, places, place_sec)
    ideal = np.where(beats < places[0], place_sec[0] + (beats - places[0]) / TICKS * usual, ideal)
    ideal = np.where(beats > places[-1], place_sec[-1] + (beats - places[-1]) / TICKS * usual, ideal)
    found: list[tuple[int, float]] = []
    for index, (start, stop) in enumerate(zip(low.tolist(), high.tolist(), strict=True)):
        if start == stop:
            continue
        here = struck[start:stop]
        at = {"mean": here.mean(), "first": here.min(), "top": here[np.argmax(pitch[start:stop])]}[habit.marked]
        at += rng.normal() * 0.004
        if not found or at - found[-1][1] > 0.4 * (ideal[index] - ideal[found[-1][0]]):
            found.append((index, float(at)))
    number, sec = np.array([row[0] for row in found]), np.array([row[1] for row in found])
    marked = np.interp(np.arange(len(beats)), number, sec)
    marked[: number[0]] = sec[0] + ideal[: number[0]] - ideal[number[0]]
    marked[number[-1] + 1 :] = sec[-1] + ideal[number[-1] + 1 :] - ideal[number[-1]]
    return np.asarray(np.maximum.accumulate(marked + np.arange(len(beats)) * 1e-9))


def _on_click(time: Floats, beat_sec: Floats, beat_q: Floats) -> Floats:
    found = np.interp(time, beat_sec, beat_q)
    for beyond, edge, inner in ((time < beat_sec[0], 0, 1), (time > beat_sec[-1], -1, -2)):
        rate = (beat_q[edge] - beat_q[inner]) / (beat_sec[edge] - beat_sec[inner])
        found = np.where(beyond, beat_q[edge] + (time - beat_sec[edge]) * rate, found)
    return np.asarray(found)
