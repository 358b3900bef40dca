"""The swing estimate: exact players, noisy ones of every meter, triplets, dotted figures, missing
partners, latency.
"""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopdeck.analysis.swing_estimate import estimate, quantile
from loopdeck.rhythm.meter import parse_cycle
from loopdeck.rhythm.swing import Swing, parse_swing
from tests.bench.feel_players import play

UNITS = {"1/8": Fraction(1, 2), "1/16": Fraction(1, 4)}


@settings(deadline=None, max_examples=60)
@given(
    st.sampled_from(["4/4", "3/4", "7/8", "2+2+3/8", "3+3+2/8", "4/4 7/8", "5/4", "6/8"]),
    st.sampled_from(["1/8", "1/16"]),
    st.floats(0.5, 0.75),
    st.floats(-30, 30),
    st.integers(60, 140),
)
def test_an_exact_player_is_read_exactly(cycle: str, unit: str, share: float, constant: float, qpm: int) -> None:
    swing = Swing(Fraction(share / (1 - share)).limit_denominator(10_000), UNITS[unit])
    rng = np.random.default_rng(0)
    played = play(rng, parse_cycle(cycle), 4, swing, unit, sigma_ms=0.0, constant_ms=constant, qpm=qpm)
    fit = estimate(played.onset_q, parse_cycle(cycle), qpm)
    found = fit.found[unit]  # type: ignore[index]
    assert found is not None
    assert found.share == pytest.approx(float(swing.ratio / (swing.ratio + 1)), abs=1e-6)
    assert fit.constant_q * 60_000 / qpm == pytest.approx(constant, abs=0.01)


def shares(unit: str, swing: str, cycle: str = "4/4", passes: int = 4, runs: int = 40, **more: float) -> list[float]:
    rng = np.random.default_rng(7)
    wanted = parse_swing(swing)
    answers = []
    for _ in range(runs):
        played = play(rng, parse_cycle(cycle), passes, Swing(wanted.ratio, UNITS[unit]), unit, **more)  # type: ignore[arg-type]
        found = estimate(played.onset_q, parse_cycle(cycle), 96).found[unit]  # type: ignore[index]
        answers.append(np.nan if found is None else found.share)
    return answers


@pytest.mark.parametrize(
    ("unit", "swing"), [("1/8", "2:1"), ("1/8", "3:1"), ("1/16", "58%"), ("1/16", "2:1"), ("1/16", "straight")]
)
def test_ten_milliseconds_of_noise_are_two_points_at_most(unit: str, swing: str) -> None:
    wanted = parse_swing(swing).ratio
    error = np.abs(np.array(shares(unit, swing, constant_ms=25.0)) - float(wanted / (wanted + 1)))
    assert (error <= 0.02).mean() >= 0.9 and error.max() < 0.045


def test_riffs_with_holes_are_read_without_bias() -> None:
    found = np.array(shares("1/16", "2:1", passes=8, density=0.6))
    assert abs(np.nanmean(found) - 2 / 3) < 0.004


def test_a_drift_is_not_a_swing() -> None:
    found = np.array(shares("1/8", "straight", passes=8, runs=20, sigma_ms=3.0, drift_ms_per_min=120.0))
    assert np.abs(found - 0.5).max() < 0.01


def test_fewer_than_four_pairs_say_nothing() -> None:
    cycle = parse_cycle("4/4")
    pair = np.array([0.0, 0.6])
    three = np.concatenate([pair + beat for beat in range(3)])
    assert estimate(three, cycle, 96).found["1/8"] is None
    four = np.concatenate([pair + beat for beat in range(4)])
    found = estimate(four, cycle, 96).found["1/8"]
    assert found is not None and found.pairs == 4 and found.share == pytest.approx(0.6)
    assert estimate(np.arange(16.0), cycle, 96).found == {"1/8": None, "1/16": None}
    assert estimate([], cycle, 96).found == {"1/8": None, "1/16": None}
    assert estimate([1.0], cycle, 96).found == {"1/8": None, "1/16": None}


def test_triplets_are_no_swung_eighths() -> None:
    rng = np.random.default_rng(2)
    onsets = np.arange(48) / 3 + rng.normal(0, 0.01, 48)
    fit = estimate(onsets, parse_cycle("4/4"), 96)
    assert fit.found["1/8"] is None or not fit.found["1/8"].is_swung


def test_dotted_figures_among_straight_sixteenths_are_straight() -> None:
    beat = {0: [0, 0.75], 1: [0, 0.25, 0.5], 2: [0, 0.75], 3: [0, 0.5]}
    onsets = np.array(
        [4 * bar + number + place for bar in range(6) for number, places in beat.items() for place in places]
    )
    onsets = onsets + np.random.default_rng(3).normal(0, 0.012, len(onsets))
    fit = estimate(onsets, parse_cycle("4/4"), 96)
    assert fit.main is None or not fit.found[fit.main].is_swung  # type: ignore[union-attr]
    # The same alone, without a straight off-beat anywhere, is the sound of 3:1.
    alone = np.array([beat + place for beat in range(16) for place in (0, 0.75)], float)
    found = estimate(alone, parse_cycle("4/4"), 96).found["1/8"]
    assert found is not None and found.ratio == pytest.approx(3.0)


def test_short_before_long_is_said_as_it_is() -> None:
    onsets = np.array([beat + place for beat in range(16) for place in (0, 0.45)], float)
    found = estimate(onsets, parse_cycle("4/4"), 96).found["1/8"]
    assert found is not None and found.high < 1.0


def test_order_does_not_matter() -> None:
    played = play(np.random.default_rng(4), parse_cycle("4/4"), 2, parse_swing("2:1 1/8"), "1/8").onset_q
    one, other = (estimate(onsets, parse_cycle("4/4"), 96).found["1/8"] for onsets in (played, played[::-1]))
    assert one is not None and other is not None and one.share == pytest.approx(other.share)


@pytest.mark.parametrize(("freedom", "value"), [(3, 3.182), (5, 2.571), (10, 2.228), (30, 2.042), (1000, 1.962)])
def test_students_quantile(freedom: int, value: float) -> None:
    # Abramowitz & Stegun, table 26.10.
    assert quantile(freedom) == pytest.approx(value, abs=0.03 if freedom < 6 else 0.002)
