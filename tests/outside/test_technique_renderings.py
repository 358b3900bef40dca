"""Techniques told in many ways (``tests.simulators.renderings``), read through the delay of the
pickup: F1 of 0.95 for each, at most one false mark in a hundred plain notes."""

import pytest

from loopdeck.bass.pickup.profile import Cleaning, Delay
from tests.simulators.renderings import stream
from tests.simulators.scoring import scores

#: What ``renderings.late_sec`` says.
DELAY = Delay(3.0, 2.0)


@pytest.mark.parametrize("chromatic", [False, True])
def test_however_a_pickup_tells_it(chromatic: bool) -> None:
    found, false = scores([stream(seed, chromatic) for seed in range(500, 512)], Cleaning(), delay=DELAY)
    assert min(found.values()) >= 0.95, found
    assert len(found) == (3 if chromatic else 5)
    assert false <= 0.01
