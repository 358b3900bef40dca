"""The delay of a pickup from playing whose grid nobody told, that drifts, or that begins early."""

import numpy as np
import pytest
from numpy.typing import NDArray

from loopdeck.bass.pickup.delay import fit, late_sec, period_sec, take_delay_off
from loopdeck.bass.pickup.played_to import division_of
from loopdeck.bass.pickup.profile import Delay
from loopdeck.capture.notes import NOTE_DTYPE

TRUE = Delay(6.0, 2.2)
OPEN = np.array([43, 38, 33, 28])


def played(seed: int, at_sec: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Onsets and pitches of notes played on all strings to these moments, 8 ms of human spread."""
    random = np.random.default_rng(seed)
    pitch = OPEN[random.integers(0, 4, len(at_sec))] + random.integers(0, 8, len(at_sec))
    return at_sec + late_sec(pitch, TRUE) + random.normal(0, 0.008, len(at_sec)), pitch


@pytest.mark.parametrize(
    "division",
    [(0.0,), (0.0, 0.5), (0.0, 0.25, 0.5, 0.75), (0.0, 1 / 3, 2 / 3), (0.0, 2 / 3), (0.0, 0.6), (0.0, 0.3, 0.5, 0.8)],
)
def test_the_grid_that_nobody_told_is_found(division: tuple[float, ...]) -> None:
    for seed in range(4):
        places = (np.arange(240 // len(division))[:, None] + np.array(division)).ravel()
        onset, pitch = played(seed, places * 0.7)
        offered = np.arange(-4, 250) * 0.25
        found = division_of((onset - 2 * period_sec(pitch)) / 0.7, offered)
        steps = np.array([0, 0.25, 0.5, 0.75]) if found is None else found
        assert all(np.abs(steps - place).min() < 0.02 for place in division)
        grid = (np.arange(-4, 250)[:, None] + steps).ravel() * 0.7
        delay = fit(onset, pitch, grid).delay
        assert np.abs(late_sec(OPEN, delay) - late_sec(OPEN, TRUE)).max() < 0.006


def test_a_drift_is_followed_and_taken_out() -> None:
    places = np.arange(200) * 0.3
    for seed in range(4):
        onset, pitch = played(seed, places * 1.002)
        delay = fit(onset, pitch, np.arange(-4, 220) * 0.3).delay
        assert np.abs(late_sec(OPEN, delay) - late_sec(OPEN, TRUE)).max() < 0.006


def test_who_plays_early_keeps_what_lies_between_the_strings() -> None:
    onset, pitch = played(1, np.arange(200) * 0.3 - 0.02)
    delay = fit(onset, pitch, np.arange(-4, 220) * 0.3).delay
    assert delay.constant_ms == 0.0
    assert delay.periods == pytest.approx(TRUE.periods, abs=0.25)


def test_what_is_taken_off_leaves_joined_notes_joined() -> None:
    notes = np.zeros(4, NOTE_DTYPE)
    notes["onset_sec"], notes["duration_sec"] = [1.0, 1.2, 1.7, 2.0], [0.195, 0.3, 0.03, 0.4]
    notes["pitch"], notes["string"] = [28, 33, 40, 40], 4
    late = late_sec(notes["pitch"], Delay(0.0, 2.0))
    take_delay_off(notes, late)
    assert notes["onset_sec"] == pytest.approx([1.0, 1.2, 1.7, 2.0] - late)
    ends = notes["onset_sec"] + notes["duration_sec"]
    assert notes["onset_sec"][1] - ends[0] == pytest.approx(0.005)
    # An end that nothing follows is heard sooner than a note is named; a stroke stays a stroke.
    assert ends[1] == pytest.approx(1.5 - late[1] / 2)
    assert notes["duration_sec"][2] == pytest.approx(0.03)
