"""Riffs labelled with root and scale, from a grammar of our own (no source), looped from any point.

A riff has one or two bars of eighths or sixteenths in 4/4, 7/8 or 6/8. Many open every bar on the
root, low down, and many rest on it, with nothing lower; from there they step through the scale,
leap back to the root, to the fifth or an octave, or repeat a note. Every degree of its scale
occurs, since a scale that is not played cannot be told; up to three are left out now and then,
where no other scale that is as common would hold the rest. A few approach notes come from a
semitone below a degree. The loop is entered at any note and left at any.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.theory.formulas import SCALES, semitone_of

COMMON = ("ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian", "minor pentatonic", "major pentatonic",
          "minor blues", "major blues", "harmonic minor", "phrygian dominant", "melodic minor")  # fmt: skip
WEIGHTS = np.array([2, 3, 2, 1.5, 3, 3, 0.7, 4, 2, 3, 1.2, 1.5, 1.2, 0.8])
#: How many riffs have nothing below their root, and how many of those that loops are learned from.
#: Common practice on a bass, no source.
RESTS, LOOPS_REST = 0.45, 0.8
#: How many riffs with gaps lack one, two and three degrees.
GAPS = [0.4, 0.35, 0.25]
RARE = tuple(name for name in SCALES if name not in COMMON and name != "chromatic")
METERS = {"4/4": 4.0, "7/8": 3.5, "6/8": 3.0}


class Riff(NamedTuple):
    """One looped riff; arrays of shape (n,), quarters and MIDI numbers."""

    root: int
    mode: str
    meter: str
    onset_q: NDArray[np.float64]
    length_q: NDArray[np.float64]
    pitch: NDArray[np.int64]


def make(
    rng: np.random.Generator, rare: float = 0.12, strays: float = 0.015, gaps: float = 0.5, rests: float = RESTS
) -> Riff:
    """One riff; ``rare``: the chance of an uncommon scale, ``strays``: of an approach note at each
    place, ``gaps``: of degrees left out where that can be told, ``rests``: of nothing below the
    root.
    """
    name, steps = scale_of(rng, rare, gaps)
    root = int(rng.integers(12))
    meter = str(rng.choice(list(METERS), p=[0.6, 0.25, 0.15]))
    step_q = 0.25 if rng.random() < 0.5 else 0.5
    bars = 1 if step_q == 0.25 and rng.random() < 0.5 else 2
    cycle_q = METERS[meter] * bars
    while True:
        kept = np.flatnonzero(rng.random(round(cycle_q / step_q)) < rng.uniform(0.55, 1.0))
        if len(kept) and kept[0] != 0 and rng.random() < 0.9:
            kept = np.concatenate([[0], kept])
        if len(kept) >= len(steps) + 2:
            break
        bars, cycle_q = min(bars + 1, 4), METERS[meter] * min(bars + 1, 4)
    degrees = _walk(rng, len(steps), kept * step_q % METERS[meter], rests)
    pitches = np.array([root + 24 + 12 * (d // len(steps)) + steps[d % len(steps)] for d in degrees])
    if root < 4 or rng.random() < 0.2:
        pitches = pitches + 12
    for at in range(len(pitches) - 1):
        if rng.random() < strays:
            pitches[at] = pitches[at + 1] - 1
    onsets = kept * step_q
    lengths = np.diff(np.append(onsets, cycle_q)) * (1.0 if rng.random() < 0.5 else rng.uniform(0.4, 1.0))
    return looped(rng, Riff(root, name, meter, onsets, lengths, pitches), cycle_q)


def scale_of(rng: np.random.Generator, rare: float, gaps: float) -> tuple[str, list[int]]:
    """The name of a scale, and the steps of it that are played, in semitones above the root."""
    name = str(rng.choice(RARE)) if rng.random() < rare else str(rng.choice(COMMON, p=WEIGHTS / WEIGHTS.sum()))
    steps = [semitone_of(degree) % 12 for degree in SCALES[name]]
    return name, _gapped(rng, name, steps) if rng.random() < gaps else steps


def _gapped(rng: np.random.Generator, name: str, steps: list[int]) -> list[int]:
    """The steps without one to three of them, never the root or the fifth one, where the rest still
    tells the scale from every commoner one on its root.
    """
    if len(steps) != 7 or name not in COMMON:
        return steps
    left = rng.choice([1, 2, 3, 5, 6], size=int(rng.choice([1, 2, 3], p=GAPS)), replace=False).tolist()
    rest = [step for index, step in enumerate(steps) if index not in left]
    others = [other for other in COMMON if other != name]
    held = [other for other in others if set(rest) <= {semitone_of(degree) % 12 for degree in SCALES[other]}]
    mine = WEIGHTS[COMMON.index(name)]
    return rest if all(WEIGHTS[COMMON.index(other)] < mine and len(SCALES[other]) >= 7 for other in held) else steps


def _walk(rng: np.random.Generator, size: int, in_bar: NDArray[np.float64], rests: float) -> list[int]:
    """Degrees (0 the low root, ``size`` its octave) with every one of the scale among them."""
    fifth = {5: 3, 6: 4 if size == 6 else 3, 7: 4, 8: 4}.get(size, size // 2)
    pull, opens = rng.uniform(0.0, 0.35), 0.95 if rng.random() < 0.6 else 0.6
    floor = 0 if rng.random() < rests else -2
    degrees, at = [], 0
    for place in in_bar.tolist():
        chance = rng.random()
        if place == 0 and chance < opens:
            at = 0
        elif chance < pull:
            at = int(rng.choice([0, 0, 0, size]))
        elif chance < pull + 0.1:
            at = fifth
        elif chance < pull + 0.18:
            pass
        elif chance < pull + 0.25:
            at = int(rng.integers(0, size + 2))
        else:
            at += int(rng.choice([-1, 1, -2, 2], p=[0.4, 0.4, 0.1, 0.1]))
        if at < floor or at > size + 3:
            at = 0
        degrees.append(at)
    missing = set(range(size)) - {d % size for d in degrees}
    for degree in missing:
        counts = np.bincount([d % size for d in degrees], minlength=size)
        free = [i for i, d in enumerate(degrees) if counts[d % size] > 1 and not (in_bar[i] == 0 and d == 0)]
        if not free:
            break
        degrees[int(rng.choice(free))] = degree
    return degrees


def looped(
    rng: np.random.Generator, riff: Riff, cycle_q: float, shifted: float = 0.4, from_beginning: float = 0.0
) -> Riff:
    """Two to five rounds of a riff, entered at any note and left at any, or heard from its
    beginning; ``shifted``: how many of the former begin at zero all the same.
    """
    passes = int(rng.integers(2, 6))
    shift = 0 if from_beginning and rng.random() < from_beginning else int(rng.integers(len(riff.pitch)))
    cut = len(riff.pitch) * passes - (int(rng.integers(len(riff.pitch))) if rng.random() < 0.5 else 0)
    onsets = np.concatenate([riff.onset_q + index * cycle_q for index in range(passes + 1)])[shift : shift + cut]
    # Most keep their place in the bar, as playing to a click does; the others begin at zero
    # wherever they were entered.
    start = float(onsets[0]) if rng.random() < shifted else 0.0
    return riff._replace(
        onset_q=onsets - start,
        length_q=np.tile(riff.length_q, passes + 1)[shift : shift + cut],
        pitch=np.tile(riff.pitch, passes + 1)[shift : shift + cut],
    )


#: The degree by which each mode is known. Common practice, no source.
KNOWN_BY = {"dorian": "6", "phrygian": "b2", "lydian": "#4", "mixolydian": "b7", "aeolian": "b6", "ionian": "7"}
_OTHERS = (*KNOWN_BY, "minor pentatonic", "major pentatonic", "minor blues")


def make_other(rng: np.random.Generator) -> Riff:
    """A riff of another grammar, which nothing is fitted on: notes are drawn one by one, the root
    and its fifth more often, root on the downbeat.

    The degree by which a mode is known and its third occur, and all degrees of the smaller scales.
    """
    name = str(rng.choice(_OTHERS))
    degrees = SCALES[name]
    steps = [semitone_of(degree) % 12 for degree in degrees]
    weights = np.array([{"1": 4.0, "5": 2.2, KNOWN_BY.get(name, ""): 1.6}.get(degree, 1.0) for degree in degrees])
    root, places = int(rng.integers(12)), int(rng.choice([16, 32]))
    kept = [place for place in range(places) if place == 0 or rng.random() < 0.65]
    drawn = [
        0 if place % (places // 2) == 0 else int(rng.choice(len(degrees), p=weights / weights.sum())) for place in kept
    ]
    needed = [index for index, d in enumerate(degrees) if len(degrees) < 7 or d in ("b3", "3", KNOWN_BY[name])]
    for index in needed:
        if index not in drawn:
            drawn[int(rng.integers(1, len(drawn)))] = index
    onsets = np.array(kept) * (8.0 / places)
    pitches = np.array([28 + (root - 4) % 12 + steps[index] + (12 if rng.random() < 0.15 else 0) for index in drawn])
    return looped(rng, Riff(root, name, "4/4", onsets, np.diff(np.append(onsets, 8.0)), pitches), 8.0, 0.5)
