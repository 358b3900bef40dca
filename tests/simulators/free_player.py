"""Players who improvise without a click: what they meant, and the notes that came. Ours, no source.

One seed, one phrase of 4 to 10 bars at 60 to 180 quarters a minute in 3/4, 4/4 or 7/8. Three of
four play a riff of one or two bars that comes back, a note changed now and then; the others never
play the same bar twice. The grid is sixteenths at slow tempos and mostly eighths at quick ones.
Some begin with a pickup. Hands: Gaussian timing of 5 to 20 ms, a tempo that wanders, accents from
none to strong, the root mostly on the downbeat.
"""

from typing import NamedTuple

import numpy as np

METERS = {"4/4": (16, (0, 4, 8, 12)), "3/4": (12, (0, 4, 8)), "7/8": (14, (0, 4, 8))}
SCALE = (0, 3, 5, 7, 10, 12, 15, 17)


class FreePhrase(NamedTuple):
    """What was meant (``start_sec``: a downbeat), and notes of shape (k,)."""

    qpm: float
    meter: str
    start_sec: float
    bars: int
    onset_sec: np.ndarray
    pitch: np.ndarray
    velocity: np.ndarray


def phrase(seed: int, meter: str = "", swing: float = 0.5) -> FreePhrase:
    """One player's phrase."""
    rng = np.random.default_rng(seed)
    meter = meter or str(rng.choice(list(METERS)))
    length, beats = METERS[meter]
    qpm = float(rng.uniform(60.0, 180.0))
    bars = int(rng.integers(4, 11))
    unit = int(rng.choice([1, 2], p=[0.6, 0.4]))
    fine = rng.random() < np.clip((150.0 - qpm) / 70.0, 0.0, 0.9)
    root = int(rng.integers(28, 38))
    riff = [_bar(rng, length, beats, fine, root) for _ in range(unit)]
    comes_back = rng.random() < 0.75
    notes: list[tuple[int, int]] = []
    if rng.random() < 0.12:
        notes.append((-2, root + int(rng.choice(SCALE))))
    for bar in range(bars):
        one = riff[bar % unit] if comes_back else _bar(rng, length, beats, fine, root)
        for slot, pitch in one:
            if comes_back and rng.random() < 0.04:
                continue
            changed = comes_back and rng.random() < 0.06
            notes.append((bar * length + slot, root + int(rng.choice(SCALE)) if changed else pitch))
    if rng.random() < 0.5:
        notes.append((bars * length, root))
    return _performed(rng, notes, qpm, meter, bars, swing)


def _bar(rng: np.random.Generator, length: int, beats: tuple[int, ...], fine: bool, root: int) -> list[tuple[int, int]]:
    busy = rng.uniform(0.7, 1.15)
    found = []
    for slot in range(length):
        chance = 0.92 if slot == 0 else 0.62 if slot in beats else 0.42 if slot % 2 == 0 else 0.22 if fine else 0.0
        if rng.random() < chance * busy:
            pitch = root if slot == 0 and rng.random() < 0.7 else root + int(rng.choice(SCALE))
            found.append((slot, pitch))
    return found or [(0, root)]


def _performed(
    rng: np.random.Generator, notes: list[tuple[int, int]], qpm: float, meter: str, bars: int, swing: float
) -> FreePhrase:
    length, beats = METERS[meter]
    slots = np.array([slot for slot, _ in notes])
    pitch = np.array([one for _, one in notes])
    low, high = int(slots.min()), int(slots.max())
    step = 15.0 / qpm * np.exp(np.cumsum(rng.normal(0.0, rng.uniform(0.0, 0.004), high - low + 1)))
    moments = 5.0 + np.concatenate(([0.0], np.cumsum(step)))
    onset = moments[slots - low] + rng.normal(0.0, rng.uniform(0.005, 0.02), len(slots))
    onset += np.where(slots % 4 == 2, (swing - 0.5) * 60.0 / qpm, 0.0)
    accent = rng.uniform(0.0, 22.0)
    strong = np.where(slots % length == 0, 1.0, np.where(np.isin(slots % length, beats), 0.6, 0.0))
    velocity = np.clip(80 + accent * strong + rng.normal(0, 8, len(slots)), 20, 127)
    order = np.argsort(onset)
    meant = float(60.0 / (4 * np.mean(step)))
    return FreePhrase(meant, meter, float(moments[-low]), bars, onset[order], pitch[order], velocity[order])
