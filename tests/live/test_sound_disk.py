"""An hour of clicks through SDL's disk driver: every one within a sample of its place."""

from pathlib import Path

import numpy as np

from tests.live.disk_sound import CYCLE_SAMPLES, PLACES, RATE, errors, onsets, play

HOUR_SEC = 3600.0


def test_every_click_of_an_hour_is_at_its_sample(tmp_path: Path) -> None:
    found = onsets(play(tmp_path, HOUR_SEC + 10))
    # Time starts within the first seconds: the pipe holds less than a second of sound, the engine a few buffers.
    assert found[0] < 10 * RATE
    expected = int(HOUR_SEC * RATE / CYCLE_SAMPLES) * len(PLACES)
    assert len(found) >= expected
    off = errors(found[:expected])
    assert np.abs(off).max() <= 1
