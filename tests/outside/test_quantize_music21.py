"""Quantize against music21's ``Stream.quantize`` on straight grids (written against music21 10.5;
its version is in the failure).

music21 rounds each offset from the start of the stream to the nearest multiple of 1/divisor. Meters
in which every group is a whole number of grid steps long put our slots on the same multiples. Notes
within 1 % of a step of a tie are left out: either side is right.
"""

import warnings

import numpy as np
import pytest

from loopdeck.rhythm.grid import parse_grid
from loopdeck.rhythm.meter import parse_cycle
from loopdeck.rhythm.quantize import quantize, slots
from loopdeck.rhythm.swing import parse_swing

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    music21 = pytest.importorskip("music21")

DIVISORS = {"1/4": 1, "1/8": 2, "1/16": 4, "1/32": 8, "1/8T": 3, "1/16T": 6}


def _theirs(onsets: np.ndarray, divisor: int) -> np.ndarray:
    stream = music21.stream.Stream()
    for onset in onsets:
        stream.insert(float(onset), music21.note.Note(40, quarterLength=0.25))
    stream.quantize((divisor,), processOffsets=True, processDurations=False, inPlace=True)
    return np.array([float(note.offset) for note in stream.notes])


@pytest.mark.parametrize(
    ("cycle", "grid"),
    [
        ("4/4", "1/4"),
        ("4/4", "1/8"),
        ("4/4", "1/16"),
        ("4/4", "1/32"),
        ("4/4", "1/8T"),
        ("4/4", "1/16T"),
        ("4/4 4+3/8", "1/8"),
        ("4/4 4+3/8", "1/16"),
        ("2+2+3/8 5/4", "1/16"),
        ("6/8", "1/8"),
        ("6/8", "1/16"),
    ],
)
def test_same_places(cycle: str, grid: str) -> None:
    divisor = DIVISORS[grid]
    onsets = np.sort(np.random.default_rng(divisor).uniform(0, 120, 600))
    steps = onsets * divisor
    onsets = onsets[np.abs(steps - np.floor(steps) - 0.5) > 0.01]
    assert len(onsets) > 500
    ours = quantize(onsets, slots(parse_cycle(cycle), parse_grid(grid), parse_swing("straight")))
    assert np.abs(ours - _theirs(onsets, divisor)).max() < 1e-6, f"music21 {music21.__version__}"
