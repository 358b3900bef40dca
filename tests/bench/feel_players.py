"""Synthetic players for the feel report: a riff on the sixteenths of a cycle, swung, with Gaussian
timing. Ours, no source.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.meter import Cycle
from loopdeck.rhythm.quantize import slots
from loopdeck.rhythm.swing import Swing


class Played(NamedTuple):
    """Onsets (n,) in quarters as played, and as written."""

    onset_q: NDArray[np.float64]
    written_q: NDArray[np.float64]


def play(
    rng: np.random.Generator,
    cycle: Cycle,
    passes: int,
    swing: Swing,
    grid: str = "1/16",
    density: float = 1.0,
    sigma_ms: float = 10.0,
    constant_ms: float = 0.0,
    drift_ms_per_min: float = 0.0,
    qpm: float = 96.0,
) -> Played:
    """A riff of the cycle's ``grid`` places, each kept with chance ``density`` (the downbeat
    always), the same in every pass.
    """
    table = slots(cycle, Grid(grid), swing)
    kept = rng.random(len(table)) < density
    kept[0] = True
    played = np.concatenate([table.played_q[kept] + index * table.cycle_q for index in range(passes)])
    written = np.concatenate([table.written_q[kept] + index * table.cycle_q for index in range(passes)])
    error_ms = rng.normal(constant_ms, sigma_ms, len(played)) + drift_ms_per_min * played / qpm
    return Played(played + error_ms * qpm / 60_000, written)
