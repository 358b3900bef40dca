"""Planted riffs in humanised noodling: the grammar that makes them, and what was planted.

Grammar (all choices drawn from ``numpy.random.default_rng(seed)``; one seed, one take)
    A take is 2 to 5 minutes at 70 to 140 quarters a minute in one cycle and one scale. It
    alternates between noodling and riffs.

    Noodling: a walk over two octaves of the scale, steps of one or two degrees, now and then a
    leap, a repeated note or a rest; its rhythm is drawn beat by beat. It never plays the same
    stretch twice but by chance.

    Riffs: 2 to 4 a take, 1 to 4 bars long, 5 to 20 notes, each with a rhythm and pitches of its
    own. Each is planted 3 to 8 times, at the start of a bar, alone or twice in a row. About half of
    the plantings are varied in one way: a note changed, added or left out, all transposed by 2 to 7
    semitones, an octave up, or begun a beat later.

    Hands: every onset is off by Gaussian timing of 6 to 20 ms, and the tempo wanders by up to 1 per
    cent.

Truth: for each riff, each planting's notes as numbers in the take (by onset, then pitch).
"""

from dataclasses import dataclass

import numpy as np

SCALES = {
    "minor pentatonic": (0, 3, 5, 7, 10),
    "blues": (0, 3, 5, 6, 7, 10),
    "dorian": (0, 2, 3, 5, 7, 9, 10),
    "phrygian": (0, 1, 3, 5, 7, 8, 10),
    "major": (0, 2, 4, 5, 7, 9, 11),
}
#: The bars of each cycle in quarters.
CYCLES = {"4/4": (4.0,), "3/4": (3.0,), "7/8": (3.5,), "6/8": (3.0,), "4/4 7/8": (4.0, 3.5), "5/4": (5.0,)}
#: Rhythms of one beat: onsets in quarters.
BEATS = (
    (0.0,), (0.0, 0.5), (0.0, 0.5), (0.0, 0.25, 0.5, 0.75), (0.0, 0.75), (0.5,), (0.0, 0.25, 0.5), (0.0, 0.5, 0.75),
    (0.25, 0.75), (), (0.0, 1 / 3, 2 / 3),
)  # fmt: skip


@dataclass(frozen=True)
class PlantedTake:
    """Notes of shape (n,), by onset; ``truth[r][k]`` are the numbers of the notes of planting k of
    riff r."""

    seed: int
    bpm: float
    cycle: str
    onset_sec: np.ndarray
    duration_sec: np.ndarray
    pitch: np.ndarray
    truth: list[list[list[int]]]
    kinds: list[list[str]]


def planted(seed: int, minutes: float | None = None) -> PlantedTake:
    """One take with planted riffs."""
    rng = np.random.default_rng(seed)
    bpm = float(rng.uniform(70, 140))
    cycle = list(CYCLES)[rng.integers(len(CYCLES))]
    bars = CYCLES[cycle]
    degrees = list(SCALES.values())[rng.integers(len(SCALES))]
    pitches = np.array([28 + int(rng.integers(12)) + 12 * octave + degree for octave in (0, 1) for degree in degrees])
    pitches = np.unique(pitches - pitches.min() + 28 + int(rng.integers(8)))
    riffs = [_riff(rng, bars, pitches) for _ in range(rng.integers(2, 5))]
    minutes = float(rng.uniform(2, 5)) if minutes is None else minutes
    end_q = minutes * bpm
    plan: list[int] = []
    for number in range(len(riffs)):
        plan += [number] * int(rng.integers(3, 9))
    order = rng.permutation(plan).tolist()
    notes: list[tuple[float, float, int, int, int]] = []
    kinds: list[list[str]] = [[] for _ in riffs]
    at, bar = 0.0, 0
    room = max((end_q - sum(riffs[number][1] for number in order)) / (len(order) + 1), 0.0)

    def next_bars(count: int) -> float:
        nonlocal bar
        length = sum(bars[(bar + step) % len(bars)] for step in range(count))
        bar += count
        return length

    def noodle(length_q: float) -> None:
        nonlocal at
        count, length = 0, 0.0
        while length < length_q:
            length += bars[(bar + count) % len(bars)]
            count += 1
        length = next_bars(count)
        notes.extend(_noodling(rng, at, length, pitches))
        at += length

    for planting, number in enumerate(order):
        if rng.random() > 0.2:
            noodle(float(rng.uniform(0.3, 1.7)) * room)
        # A riff of a mixed cycle begins where it began before.
        while bar % len(bars) != 0:
            noodle(0.1)
        shape, _, count = riffs[number]
        varied, kind = _vary(rng, shape, pitches)
        notes.extend((at + place, long, pitch, number, planting) for place, long, pitch in varied)
        kinds[number].append(kind)
        # What began a beat later ends a beat into the next bar.
        at += next_bars(count + (kind == "later"))
    noodle(room)
    return _humanise(rng, seed, bpm, cycle, notes, len(riffs), kinds)


def _riff(rng, bars, pitches):
    count = int(rng.choice([1, 1, 2, 2, 3, 4]))
    while count % len(bars):
        count += 1
    length = sum(bars[step % len(bars)] for step in range(count))
    while True:
        places = []
        for beat in range(int(np.ceil(length))):
            places += [beat + part for part in BEATS[rng.integers(len(BEATS) - 1)] if beat + part < length]
        if len(places) >= 5:
            break
    if len(places) > 20:
        places = sorted(rng.choice(places, 20, replace=False).tolist())
    low = int(rng.integers(0, max(len(pitches) - 6, 1)))
    choice = pitches[low : low + 6]
    shape = [(float(place), 0.2, int(choice[rng.integers(len(choice))])) for place in places]
    return shape, length, count


def _vary(rng, shape, pitches):
    notes = list(shape)
    kind = str(
        rng.choice(
            ["exact", "changed", "added", "left out", "transposed", "octave", "later"],
            p=[0.5, 0.1, 0.1, 0.1, 0.08, 0.06, 0.06],
        )
    )
    pick = int(rng.integers(len(notes)))
    if kind == "changed":
        place, long, pitch = notes[pick]
        notes[pick] = (place, long, int(rng.choice(pitches[pitches != pitch])))
    elif kind == "added":
        place, long, pitch = notes[pick]
        following = notes[pick + 1][0] if pick + 1 < len(notes) else place + 0.5
        notes.insert(pick + 1, ((place + following) / 2, long, int(rng.choice(pitches))))
    elif kind == "left out":
        del notes[pick]
    elif kind in ("transposed", "octave"):
        up = 12 if kind == "octave" else int(rng.choice([-7, -5, -3, -2, 2, 3, 5, 7]))
        notes = [(place, long, pitch + up) for place, long, pitch in notes]
    elif kind == "later":
        notes = [(place + 1.0, long, pitch) for place, long, pitch in notes]
    return notes, kind


def _noodling(rng, at, length, pitches):
    notes = []
    where = int(rng.integers(len(pitches)))
    beat = 0.0
    while beat < length:
        for part in BEATS[rng.integers(len(BEATS))]:
            if beat + part >= length:
                continue
            step = int(rng.choice([-2, -1, -1, 0, 1, 1, 2, 4, -4]))
            where = int(np.clip(where + step, 0, len(pitches) - 1))
            notes.append((at + beat + part, 0.2, int(pitches[where]), -1, -1))
        beat += 1.0
    return notes


def _humanise(rng, seed, bpm, cycle, notes, count, kinds):
    places = np.array([note[0] for note in notes])
    sigma = float(rng.uniform(0.006, 0.02))
    wander = 0.01 * np.sin(2 * np.pi * places / 97.0 + rng.uniform(0, 6)) * 97.0 / (2 * np.pi)
    onset = (places + wander * rng.uniform(0, 1)) * 60.0 / bpm + rng.normal(0, sigma, len(places))
    onset = np.maximum(onset, 0.0)
    pitch = np.array([note[2] for note in notes])
    order = np.lexsort((pitch, onset))
    onset, pitch = onset[order], pitch[order]
    gap = np.diff(onset, append=onset[-1] + 0.5)
    duration = np.maximum(np.minimum(gap * 0.95, 0.8), 0.02)
    truth: list[list[list[int]]] = [[] for _ in range(count)]
    plantings: dict[int, tuple[int, list[int]]] = {}
    for number, where in enumerate(order.tolist()):
        riff, planting = notes[where][3], notes[where][4]
        if riff >= 0:
            plantings.setdefault(planting, (riff, []))[1].append(number)
    for planting in sorted(plantings):
        riff, numbers = plantings[planting]
        truth[riff].append(numbers)
    return PlantedTake(seed, bpm, cycle, onset, duration, pitch, truth, kinds)
