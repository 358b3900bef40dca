"""Technique on simulated pickups (``tests/simulators/pickup.py``, which names its sources): how
many are found, how few are imagined.

The seeds here were not used to set any figure of the reader's.
"""

import numpy as np
import pytest

from loopdeck.bass.pickup.profile import Cleaning
from tests.simulators.pickup import (
    BEND,
    HAMMER,
    PLAIN,
    PULL,
    SLIDE,
    SLIDE_FROM,
    SLIDE_TO,
    VIBRATO,
    Pickup,
    Stream,
    Truth,
    stream,
)  # fmt: skip
from tests.simulators.scoring import scores, written

SEEDS = range(100, 105)
STEPPED = (PLAIN,) * 6 + (SLIDE, HAMMER, PULL, SLIDE_FROM, SLIDE_TO)
ALL = (*STEPPED, BEND, VIBRATO)


@pytest.mark.parametrize("tempo", [70.0, 150.0])
@pytest.mark.parametrize(
    ("pickup", "kinds"),
    [
        (Pickup(), ALL),
        (Pickup(bend_range=24, noise_cents=4, every_sec=0.008), ALL),
        (Pickup("chromatic"), STEPPED),
        (Pickup("chromatic", per_string=False), STEPPED),
    ],
)
def test_techniques_are_found_and_not_imagined(pickup: Pickup, kinds: tuple[str, ...], tempo: float) -> None:
    found, false = scores([stream(seed, pickup, 60, tempo, kinds) for seed in SEEDS])
    assert min(found.values()) >= 0.95, found
    assert false <= 0.01


@pytest.mark.parametrize("mode", ["bend", "chromatic"])
def test_with_the_errors_of_a_pickup_the_clean_up_keeps_false_marks_rare(mode: str) -> None:
    pickup = Pickup(mode, ghosts=0.05, octaves=0.05)
    kinds = ALL if mode == "bend" else STEPPED
    streams = [stream(seed, pickup, 60, 100.0, kinds) for seed in SEEDS]
    found, false = scores(streams, Cleaning())
    assert min(found.values()) >= 0.95, found
    assert false <= 0.03
    # Without the clean-up there is something to clean.
    assert scores(streams)[1] > false


def test_a_hammer_on_as_loud_as_a_pluck_is_not_marked() -> None:
    notes = np.zeros(3, [("pitch", "i2")])
    notes["pitch"] = (40, 43, 45)
    events = []
    for index, pitch in enumerate(notes["pitch"].tolist()):
        events += [(index * 0.4, bytes((0x90, pitch, 90))), (index * 0.4 + 0.4, bytes((0x80, pitch, 0)))]
    found = written(Stream(sorted(events, key=lambda event: (event[0], event[1][0])), []))
    assert [note.reached for note in found] == ["pluck"] * 3


def test_vibrato_is_measured_in_hertz_and_cents() -> None:
    pickup = Pickup(noise_cents=1.0)
    one = stream(7, pickup, 12, 80.0, (VIBRATO,))
    found = [note.vibrato for note in written(one) if note.vibrato is not None]
    assert len(found) >= 10
    assert all(3.5 < hertz < 8.0 and 20 < cents < 90 for hertz, cents in found)
    assert all(isinstance(truth, Truth) for truth in one.truth)
