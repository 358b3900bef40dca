"""A target, and the same played by somebody: notes left out, added, wrong, early and late, at the
target's tempo or another.

Drawn from ``numpy.random.default_rng(seed)``. The target is a walk in E minor pentatonic, eighths
and sixteenths at 96. Each note of it meets at most one mishap. Hands: Gaussian timing of 5 ms.
"""

from dataclasses import dataclass

import numpy as np

_SCALE = np.array([28, 31, 33, 35, 38, 40, 43, 45, 47, 50])


@dataclass(frozen=True)
class Altered:
    """Both as (onset_sec, pitch), by onset, then pitch; and what was done, as note numbers:
    ``wrong`` and ``late`` as (note, target note)."""

    onset_sec: np.ndarray
    pitch: np.ndarray
    target_sec: np.ndarray
    target_pitch: np.ndarray
    missed: set[int]
    added: set[int]
    wrong: set[tuple[int, int]]
    early: set[tuple[int, int]]
    late: set[tuple[int, int]]


def altered(seed: int, notes: int = 64, ratio: float = 1.0, off_ms: float = 40.0) -> Altered:
    """One pair. ``ratio``: the take's length over the target's; ``off_ms``: how far the early and
    late ones are off."""
    rng = np.random.default_rng(seed)
    steps = np.cumsum(rng.choice([1, 2, 2, 3, 4], notes)) * 0.25
    target_sec = steps * 60.0 / 96.0
    where = np.clip(np.cumsum(rng.choice([-2, -1, 1, 2], notes)) + 4, 0, len(_SCALE) - 1)
    target_pitch = _SCALE[where]
    fate = rng.choice(["right", "missed", "wrong", "early", "late"], notes, p=[0.76, 0.06, 0.06, 0.06, 0.06])
    rows: list[tuple[float, int, str, int]] = []
    for number, (place, pitch, what) in enumerate(zip(target_sec, target_pitch, fate, strict=True)):
        if what == "missed":
            continue
        off = {"early": -off_ms, "late": off_ms}.get(what, 0.0) / 1000.0
        other = int(pitch) + int(rng.choice([-1, 1])) if what == "wrong" else int(pitch)
        rows.append((place * ratio + off + float(np.clip(rng.normal(0, 0.005), -0.01, 0.01)), other, str(what), number))
    for number in np.flatnonzero(np.diff(steps) >= 0.75)[:: max(notes // 16, 1)]:
        middle = (target_sec[number] + target_sec[number + 1]) / 2
        rows.append((middle * ratio, int(target_pitch[number]) + 13, "added", -1))
    rows.sort()
    told = {
        what: {(one, row[3]) for one, row in enumerate(rows) if row[2] == what} for what in ("wrong", "early", "late")
    }
    return Altered(
        np.array([row[0] for row in rows]),
        np.array([row[1] for row in rows]),
        target_sec,
        target_pitch,
        {number for number in range(notes) if fate[number] in ("missed", "wrong")},
        {one for one, row in enumerate(rows) if row[2] in ("added", "wrong")},
        **told,
    )
