"""Stamps: never late, never much too early, never backwards, and nearer to the truth than the
arrivals.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from loopdeck.capture.stamps import Stamper

EARLY = 0.004


def stamps(arrivals: list[float], deltas: list[float | None]) -> list[float]:
    stamper = Stamper(EARLY)
    return [stamper.stamp(arrival, delta) for arrival, delta in zip(arrivals, deltas, strict=True)]


class Rig:
    """A player, a driver and an interpreter that runs late: exponential jitter of 0.8 ms, now and
    then a stall up to 20 ms.

    Figures in the manner of the scheduler table in the design: common practice, no source.
    """

    def __init__(self, drift: float = 0.0, notes: int = 5000) -> None:
        chance = np.random.default_rng(7)
        self.played = 1000.0 + np.cumsum(chance.exponential(0.1, notes))
        driver = np.maximum.accumulate(self.played + chance.exponential(0.00005, notes)) * (1.0 + drift)
        self.deltas = np.diff(driver, prepend=driver[0])
        stall = np.where(chance.random(notes) < 0.01, chance.uniform(0.002, 0.02, notes), 0.0)
        self.arrived = np.maximum.accumulate(self.played + 0.0003 + chance.exponential(0.0008, notes) + stall)

    def stamps(self) -> NDArray[np.float64]:
        return np.array(stamps(self.arrived.tolist(), self.deltas.tolist()))

    def error(self, times: NDArray[np.float64], share: float) -> float:
        """Seconds of error, its constant part taken out, at this quantile."""
        wrong = times - self.played
        return float(np.quantile(np.abs(wrong - np.median(wrong)), share))


@pytest.mark.parametrize("drift", [0.0, 1e-4, -1e-4])
def test_jitter_shrinks_to_a_third_or_less(drift: float) -> None:
    rig = Rig(drift)
    assert rig.error(rig.stamps(), 0.5) < rig.error(rig.arrived, 0.5) / 3
    assert rig.error(rig.stamps(), 0.99) < rig.error(rig.arrived, 0.99) / 3


@pytest.mark.parametrize("drift", [1e-3, -1e-3, 0.02, -0.02, 0.5, -0.5])
def test_a_driver_clock_that_runs_wrong_is_worth_little_but_does_no_harm(drift: float) -> None:
    rig = Rig(drift)
    assert rig.error(rig.stamps(), 0.5) < EARLY
    assert rig.error(rig.stamps(), 0.99) < rig.error(rig.arrived, 0.99) + EARLY


def test_the_first_stamp_is_the_arrival_whatever_the_first_delta() -> None:
    for delta in (0.0, None, 12.0, -1.0, math.nan):
        assert Stamper().stamp(5.0, delta) == 5.0


def test_a_late_message_is_put_back_to_where_the_driver_saw_it() -> None:
    assert stamps([10.0, 10.1, 10.203, 10.3], [0.0, 0.1, 0.1, 0.1]) == pytest.approx([10.0, 10.1, 10.2, 10.3], abs=1e-4)


def test_the_stamp_after_a_long_stall_is_early_by_the_limit_and_the_next_is_right_again() -> None:
    found = stamps([10.0, 10.15, 10.2], [0.0, 0.1, 0.1])
    assert found == pytest.approx([10.0, 10.15 - EARLY, 10.2], abs=1e-4)


def test_a_packets_messages_with_one_repeated_delta_count_as_one_instant() -> None:
    arrivals = [10.0, 10.5, 10.5005, 10.501, 11.002, 11.5]
    deltas: list[float | None] = [0.0, 0.5, 0.5, 0.5, 0.5, 0.5]
    assert stamps(arrivals, deltas) == pytest.approx([10.0, 10.5, 10.5, 10.5, 11.0, 11.5], abs=2e-4)


def test_a_chord_with_deltas_of_zero_is_one_instant() -> None:
    assert stamps([10.0, 10.5, 10.5005, 10.501], [0.0, 0.5, 0.0, 0.0]) == pytest.approx(
        [10.0, 10.5, 10.5, 10.5], abs=1e-4
    )


def test_deltas_that_are_always_zero_do_little_harm() -> None:
    arrivals = [10.0 + 0.1 * number for number in range(100)]
    found = np.array(stamps(arrivals, [0.0] * 100))
    # Each doubt lasts a quarter of a second, and then the distance is taken afresh.
    assert np.all(np.array(arrivals) - found <= EARLY + 1e-12)
    found = np.array(stamps([10.0 + number for number in range(100)], [0.0] * 100))
    assert found.tolist() == [10.0 + number for number in range(100)]


def test_no_delta_now_and_then_breaks_nothing() -> None:
    found = stamps([10.0, 10.1, 10.2, 10.303], [0.0, None, 0.1, 0.1])
    assert found == pytest.approx([10.0, 10.1, 10.2, 10.3], abs=1e-4)


@given(
    st.lists(
        st.tuples(
            st.floats(0.0, 3.0),
            st.one_of(st.none(), st.floats(), st.floats(0.0, 1.0), st.just(0.0), st.just(0.25)),
        ),
        max_size=60,
    )
)
def test_whatever_the_deltas_say_stamps_stay_in_their_bounds(steps: list[tuple[float, float | None]]) -> None:
    arrivals = (100.0 + np.cumsum([step for step, _ in steps])).tolist()
    found = stamps(arrivals, [delta for _, delta in steps])
    for stamp, arrival in zip(found, arrivals, strict=True):
        assert arrival - EARLY - 1e-9 <= stamp <= arrival
    assert found == sorted(found)
