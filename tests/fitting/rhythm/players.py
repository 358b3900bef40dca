"""Players for the rhythm model: written scores to human timing, seen against a click made of their
own beats.

Why
    The transcription is judged on playing that was warped to a click by annotated beats: at the
    beats it is nearly on the click, and inside a beat everything human is left. No such playing
    comes with this project, so written scores are played by ``play``.
What a player does (each piece draws his habits anew, from careful to free)
    - Here and there a note is dwelt on, so that the rest of its beat is early on the click.
    - Tempo wanders as a slow random walk, and phrases arch: faster in the middle, slower at the end
      (common practice; the size is chosen so that beats differ by 2 to 25 %). Inside a beat the
      tempo goes on changing, so notes between beats lie off the line.
    - Each stroke has motor noise that grows with the interval before it: 6 to 22 ms and 1 to 4 %
      (Repp, "Sensorimotor synchronization: a review of the tapping literature", Psychonomic
      Bulletin & Review 12(6), 2005, gives 2 to 5 % of the interval).
    - The right hand leads by 0 to 35 ms (Goebl, "Melody lead in piano performance: expressive
      device or artifact?", JASA 110, 2001: about 30 ms), hands wander against each other, chords
      spread by some ms, and some are rolled by 10 to 80 ms a note.
    - Places inside the beat have habits: short notes after dotted ones come late or early, first
      notes are dwelt on.
    - Grace notes come 40 to 130 ms before their note or on the beat; trills, mordents and turns
      bring notes that are not written.
    - One note in some hundreds is 50 to 160 ms off. Releases: legato, detached, staccato, by part.
The click
    Beat times are the time of a note on the beat, give or take some ms, or a line drawn from the
    beats around it where none is played; a few are wrong by more. The playing is warped so that
    these fall on the click.
"""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tests.fitting.rhythm.corpus import GRACE, MORDENT, ROLL, TICKS, TRILL, TURN


class Played(NamedTuple):
    """A played piece, by onset: quarters on the click, the truth (``written`` ticks, -1 for notes
    that are not written), and the tempo.
    """

    onset_q: NDArray[np.float64]
    duration_q: NDArray[np.float64]
    pitch: NDArray[np.int64]
    written: NDArray[np.int64]
    written_length: NDArray[np.int64]
    ornament: NDArray[np.bool_]
    beats_q: NDArray[np.float64]
    qpm: float


def _hands(notes: NDArray[Any]) -> NDArray[np.int64]:
    """Which of a pianist's hands plays each note: the upper half of the parts are the right one's
    (0), the lower half the left one's (1).
    """
    parts = np.unique(notes["part"])
    return np.asarray(np.searchsorted(parts, notes["part"]) * 2 // max(len(parts), 2), np.int64)


def _walk(rng: np.random.Generator, count: int, memory: float) -> NDArray[np.float64]:
    """A stationary random walk of standard deviation 1."""
    steps = rng.normal(size=count)
    walk = np.empty(count)
    now = rng.normal()
    keep = np.sqrt(1 - memory**2)
    for index in range(count):
        now = memory * now + keep * steps[index]
        walk[index] = now
    return walk


def _course(rng: np.random.Generator, end_q: float, qpm: float, free: float) -> tuple[Any, Any]:
    """Quarters to seconds at eighths of a quarter: the tempo with its walk, arches and slowing
    down.
    """
    count = int(end_q * 8) + 192
    at = np.arange(count) / 8 - 16
    beats, halves = np.arange(-16, int(at[-1]) + 2), np.arange(-32, 2 * int(at[-1]) + 4) / 2
    slow = np.interp(at, beats, _walk(rng, len(beats), 0.8))
    fast = np.interp(at, halves, _walk(rng, len(halves), 0.5))
    phrase = float(rng.choice([4, 6, 8, 12, 16]))
    where = (at % phrase) / phrase
    arch = 1.0 - 2.2 * (where - 0.45) ** 2 - 1.5 * np.clip(where - 0.88, 0, None) / 0.12 * rng.uniform(0, 0.6)
    log_tempo = free * (0.5 * slow + 0.35 * fast + 0.9 * arch)
    # Now and then a place is dwelt on: an eighth or so lasts a fifth to twice as long as it should.
    for place in np.flatnonzero(rng.random(count) < rng.uniform(0.1, 0.5) * free / 2):
        log_tempo[place : place + int(rng.integers(1, 5))] -= rng.uniform(0.2, 0.7)
    seconds_a_quarter = 60.0 / qpm / np.exp(log_tempo - log_tempo.mean())
    seconds = np.concatenate([[0.0], np.cumsum(seconds_a_quarter / 8)])[:-1]
    return at, seconds


def _ornaments(rng: np.random.Generator, row: Any, begin: float, until: float) -> list[tuple[float, int, int]]:
    """The notes a sign adds: (second, pitch, mark) after the first."""
    step = int(rng.choice([1, 2]))
    pace = rng.uniform(0.06, 0.12)
    if row["mark"] == TRILL:
        most = max(int((until - begin) * 0.85 / pace), 2)
        return [
            (begin + i * pace * rng.uniform(0.9, 1.1), int(row["pitch"]) + step * (i % 2), TRILL)
            for i in range(1, most)
        ]
    shape = {MORDENT: (step, 0), TURN: (step, 0, -step, 0)}[int(row["mark"])]
    return [(begin + (i + 1) * pace, int(row["pitch"]) + move, int(row["mark"])) for i, move in enumerate(shape)]


def _tempo(notes: NDArray[Any], rng: np.random.Generator) -> float:
    """A tempo at which the piece can be played: its fast notes follow each other every 75 ms or
    slower, its usual ones near 0.25 s.
    """
    steps = np.diff(np.unique(notes["onset"][notes["mark"] != GRACE])) / TICKS
    fast, usual = np.percentile(steps, 12), np.median(steps)
    return float(np.clip(min(60 / 0.075 * fast, 60 / 0.25 * usual * np.exp(rng.normal() * 0.4)), 24, 220))


def play(
    notes: NDArray[Any],
    beats: NDArray[np.int64],
    rng: np.random.Generator,
    qpm: float | None = None,
    care: float | None = None,
) -> Played:
    """Play written ``notes`` (``corpus.NOTE``) whose ``beats`` stand at these ticks; ``care`` from
    0 (free) to 1 (strict).
    """
    qpm = _tempo(notes, rng) if qpm is None else qpm
    care = float(rng.beta(1.3, 1.3)) if care is None else care
    free = 0.015 + 0.14 * (1 - care) ** 1.5
    motor = 0.006 + 0.014 * (1 - care) * rng.uniform(0.4, 1.0)
    share = rng.uniform(0.01, 0.02 + 0.03 * (1 - care))
    lead = rng.uniform(0, 0.035) * (1.2 - care)
    rolls = rng.choice([0.0, 0.02, 0.15]) * (1.3 - care)
    spread = rng.uniform(0.003, 0.005 + 0.011 * (1 - care))
    odd = rng.uniform(0.0, 0.006)
    legato = rng.uniform(0.6, 1.1)

    notes = notes[np.argsort(notes["onset"], kind="stable")]
    written_q = notes["onset"] / TICKS
    at, seconds = _course(rng, max(float(written_q.max()), float(beats.max()) / TICKS) + 8, qpm, free)

    def clock(quarters: Any) -> Any:
        return np.interp(quarters, at, seconds)

    # Habits of places inside the beat: one shift for each place that is used, in quarters.
    habits = {}
    for place in np.unique(notes["onset"] % TICKS):
        habits[int(place)] = 0.0 if place == 0 else rng.normal() * 0.018 * (1.2 - care)
    habit = np.array([habits[int(place)] for place in notes["onset"] % TICKS])
    time = clock(written_q + habit)
    # Motor noise, one draw for a part's chord and a smaller one for each of its notes.
    hand = _hands(notes)
    parts = np.unique(hand)
    top = int(hand.min())
    noise = np.zeros(len(notes))
    for part in parts:
        rows = np.flatnonzero(hand == part)
        places, home = np.unique(notes["onset"][rows], return_inverse=True)
        gaps = np.clip(np.diff(clock(places / TICKS), prepend=-1.0), 0.05, 1.5)
        strokes = rng.normal(size=len(places)) * np.sqrt(motor**2 + (share * gaps) ** 2)
        wander = 0.006 * (1.3 - care) * _walk(rng, len(places), 0.7)
        noise[rows] = (strokes + wander)[home] - (lead if part == top and len(parts) > 1 else 0.0)
        rolled = (rng.random(len(places)) < rolls)[home] | (notes["mark"][rows] == ROLL)
        order = np.zeros(len(rows))
        for place in np.unique(home[rolled]):
            chord = np.flatnonzero(home == place)
            order[chord] = np.argsort(np.argsort(notes["pitch"][rows][chord]))
        pace = rng.uniform(0.01, 0.06, len(places))[home]
        before = (rng.random(len(places)) < 0.4)[home]
        size = np.bincount(home)[home]
        noise[rows] += np.where(rolled, pace * (order - np.where(before, size - 1, 0)), 0.0)
    noise += rng.normal(size=len(notes)) * spread
    wrong = rng.random(len(notes)) < odd
    noise[wrong] += rng.choice([-1, 1], wrong.sum()) * rng.uniform(0.05, 0.16, wrong.sum())
    grace = notes["mark"] == GRACE
    time = time + noise
    early = rng.random(len(notes)) < 0.7
    for index in np.flatnonzero(grace):
        time[index] += rng.uniform(-0.13, -0.04) if early[index] else rng.uniform(-0.02, 0.01)
    length = notes["length"] / TICKS
    ends = clock(written_q + length)
    style = {int(part): legato * rng.uniform(0.75, 1.1) for part in np.unique(notes["part"])}
    ratio = np.array([style[int(part)] for part in notes["part"]]) * np.exp(rng.normal(size=len(notes)) * 0.15)
    staccato = rng.random(len(notes)) < rng.choice([0.0, 0.1, 0.3])
    ratio[staccato] *= rng.uniform(0.3, 0.6, staccato.sum())
    duration = np.where(
        grace, rng.uniform(0.05, 0.12, len(notes)), np.clip((ends - clock(written_q)) * ratio, 0.03, None)
    )

    rows = [
        (time[i], duration[i], int(notes["pitch"][i]), int(notes["onset"][i]), int(notes["length"][i]), bool(grace[i]))
        for i in range(len(notes))
    ]
    for index in np.flatnonzero(np.isin(notes["mark"], (TRILL, MORDENT, TURN))):
        extra = _ornaments(rng, notes[index], float(time[index]), float(ends[index]))
        if extra:
            rows[index] = (rows[index][0], 0.09, *rows[index][2:])
        rows += [(second, 0.09, pitch, -1, 0, True) for second, pitch, _ in extra]
    rows.sort(key=lambda row: (row[0], row[2]))
    time, duration = np.array([row[0] for row in rows]), np.array([row[1] for row in rows])
    written = np.array([row[3] for row in rows], np.int64)

    beat_sec = _beats(rng, beats, time, written, clock)
    onset_q = _to_click(time, beat_sec, beats / TICKS)
    return Played(
        onset_q,
        np.maximum(_to_click(time + duration, beat_sec, beats / TICKS) - onset_q, 0.01),
        np.array([row[2] for row in rows], np.int64),
        written,
        np.array([row[4] for row in rows], np.int64),
        np.array([row[5] for row in rows], bool),
        beats / TICKS,
        qpm,
    )


def _to_click(
    time: NDArray[np.float64], beat_sec: NDArray[np.float64], beat_q: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Seconds to quarters by lines between the beats, going on at the ends."""
    found = np.interp(time, beat_sec, beat_q)
    for late, edge, inner in ((time < beat_sec[0], 0, 1), (time > beat_sec[-1], -1, -2)):
        rate = (beat_q[edge] - beat_q[inner]) / (beat_sec[edge] - beat_sec[inner])
        found = np.where(late, beat_q[edge] + (time - beat_sec[edge]) * rate, found)
    return np.asarray(found)


def _beats(
    rng: np.random.Generator,
    beats: NDArray[np.int64],
    time: NDArray[np.float64],
    written: NDArray[np.int64],
    clock: Any,
) -> NDArray[np.float64]:
    """When each beat was marked; rising."""
    way = rng.choice(["first", "mean", "last"], p=[0.4, 0.4, 0.2])
    care = rng.uniform(0.002, 0.012)
    found = np.full(len(beats), np.nan)
    by = np.argsort(written, kind="stable")
    low = np.searchsorted(written[by], beats, side="left")
    high = np.searchsorted(written[by], beats, side="right")
    for index, (start, stop) in enumerate(zip(low, high, strict=True)):
        if stop > start:
            there = time[by[start:stop]]
            found[index] = {"first": there.min(), "mean": there.mean(), "last": np.median(there)}[way]
    found += rng.normal(size=len(beats)) * care
    wrong = rng.random(len(beats)) < 0.004
    found[wrong] += rng.normal(size=wrong.sum()) * 0.06
    ends = clock(beats / TICKS)
    # Beats marked much too close to the one before are taken back: nobody leaves those in.
    known = []
    for index in np.flatnonzero(~np.isnan(found)).tolist():
        if not known or found[index] - found[known[-1]] > 0.4 * (ends[index] - ends[known[-1]]):
            known.append(index)
    straight = np.interp(np.arange(len(beats)), known, found[known])
    straight[: known[0]] = found[known[0]] + ends[: known[0]] - ends[known[0]]
    straight[known[-1] + 1 :] = found[known[-1]] + ends[known[-1] + 1 :] - ends[known[-1]]
    return np.asarray(straight)
