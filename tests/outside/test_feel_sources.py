"""The feel report against what is published on swing and on hearing.

- Friberg & Sundström, "Swing Ratios and Ensemble Timing in Jazz Performance", Music Perception
  19(3), 2002: ratios up to 3.5:1 at slow tempi and down to 1:1 at fast ones; from medium tempi on
  the short note stays near 100 ms.
- Corcoran & Frieler, "Playing It Straight: Analyzing Jazz Soloists' Swing Eighth-Note Distributions
  with the Weimar Jazz Database", Music Perception 38(4), 2021: soloists' eighths are typically near
  1.3:1.
- Friberg & Sundberg, "Time discrimination in a monotonic, isochronous sequence", JASA 98, 1995: a
  displaced tone is just noticed at 6 ms where tones follow each other faster than every 240 ms, and
  at 2.5 % of the interval above.

These sources give numbers, no recordings of theirs are used: the players are synthetic, with the
published ratios and tempi.
"""

from fractions import Fraction

import numpy as np
import pytest

from loopdeck.analysis.feel_sentences import noticed_ms
from loopdeck.analysis.swing_estimate import estimate
from loopdeck.rhythm.meter import parse_cycle
from loopdeck.rhythm.swing import Swing
from tests.bench.feel_players import play


def swung_eighths(ratio: float, qpm: float, bars: int = 16, sigma_ms: float = 12.0) -> np.ndarray:  # type: ignore[type-arg]
    """Even pairs of eighths at any ratio, also beyond what a brief can ask for."""
    rng = np.random.default_rng(round(qpm))
    beats = np.arange(4 * bars, dtype=float)
    onsets = np.sort(np.concatenate([beats, beats + ratio / (ratio + 1)]))
    return np.asarray(onsets + rng.normal(0, sigma_ms, len(onsets)) * qpm / 60_000)


@pytest.mark.parametrize(
    ("qpm", "ratio"), [(60, 3.5), (80, 3.0), (120, 2.6), (160, 2.1), (200, 1.8), (240, 1.4), (300, 1.0)]
)
def test_the_published_range_of_ratios_and_tempi_is_read(qpm: float, ratio: float) -> None:
    found = estimate(swung_eighths(ratio, qpm), parse_cycle("4/4"), qpm).found["1/8"]
    assert found is not None
    share = ratio / (ratio + 1)
    assert abs(found.share - share) <= 0.02
    if ratio > 1.2:
        assert found.is_swung


@pytest.mark.parametrize("qpm", [150, 180, 220])
def test_a_short_note_of_a_hundred_milliseconds_is_found_as_such(qpm: float) -> None:
    beat_ms = 60_000 / qpm
    found = estimate(swung_eighths((beat_ms - 100) / 100, qpm), parse_cycle("4/4"), qpm).found["1/8"]
    assert found is not None
    assert (1 - found.share) * beat_ms == pytest.approx(100, abs=6)


def test_a_soloists_light_swing_is_told_from_straight() -> None:
    """1.3:1 is 56.5 % of the pair.

    From eight bars at 160 it is called swung, with an interval that holds it and neither 1:1 nor
    2:1.
    """
    told = []
    for seed in range(30):
        rng = np.random.default_rng(seed)
        swing = Swing(Fraction(13, 10), Fraction(1, 2))
        played = play(rng, parse_cycle("4/4"), 8, swing, "1/8", 1.0, sigma_ms=15.0, constant_ms=30.0, qpm=160)
        found = estimate(played.onset_q, parse_cycle("4/4"), 160).found["1/8"]
        assert found is not None
        told.append(found.is_swung and found.high < 2.0 and found.low <= 1.3 <= found.high)
    assert np.mean(told) >= 0.85


def test_the_threshold_of_hearing() -> None:
    assert noticed_ms(0.1) == noticed_ms(0.2) == 6.0
    assert noticed_ms(0.4) == pytest.approx(10.0) and noticed_ms(0.8) == pytest.approx(20.0)
