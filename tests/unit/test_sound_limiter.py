"""The limiter: what goes out lies in [-1, 1], whatever comes in."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from loopdeck.synth.limiter import KNEE, Limiter

CELL = 64


def limited(signal: np.ndarray) -> np.ndarray:
    limiter = Limiter(48_000, CELL)
    out = signal.astype(float)
    for begin in range(0, out.shape[1], CELL):
        limiter.tick()
        limiter.limit(0, out[:, begin : begin + CELL])
    return out


@settings(max_examples=100, deadline=None)
@given(arrays(np.float64, (2, 3 * CELL), elements=st.floats(width=64, allow_nan=True, allow_infinity=True)))
def test_nothing_leaves_full_scale(signal: np.ndarray) -> None:
    out = limited(signal)
    assert np.isfinite(out).all() and np.abs(out).max() <= 1.0


@settings(max_examples=50, deadline=None)
@given(arrays(np.float64, (2, 2 * CELL), elements=st.floats(-KNEE, KNEE)))
def test_below_the_knee_nothing_changes(signal: np.ndarray) -> None:
    np.testing.assert_array_equal(limited(signal), signal)


def test_the_curve_rises_without_steps_or_corners() -> None:
    limiter = Limiter(48_000, 4000)
    line = np.linspace(-1.6, 1.6, 4000)[None]
    out = line.copy()
    limiter.limit(0, out)
    slope = np.diff(out[0]) / np.diff(line[0])
    assert (slope > 0.0).all() and slope.max() < 1.0 + 1e-6
    assert np.abs(np.diff(slope)).max() < 0.01


def test_what_is_loud_for_long_is_turned_down_rather_than_bent() -> None:
    time = np.arange(48_000) / 48_000
    out = limited(2.0 * np.sin(2 * np.pi * 440 * time)[None])[0]
    late = out[24_000:]
    spectrum = np.abs(np.fft.rfft(late * np.hanning(len(late))))
    assert np.abs(late).max() == pytest.approx(KNEE, abs=0.02)
    assert spectrum[600:].max() < 0.01 * spectrum.max(), "overtones 40 dB below the tone"


def test_it_lets_go_again() -> None:
    limiter = Limiter(48_000, CELL)
    limiter.limit(0, np.full((2, CELL), 3.0))
    limiter.tick()
    assert limiter.reduction == pytest.approx(KNEE / 3.0)
    for _ in range(48_000 * 4 // CELL):
        limiter.tick()
        limiter.limit(0, np.zeros((2, CELL)))
    assert limiter.reduction == 1.0


@pytest.mark.parametrize("peak", [0.5, 0.76, 3.0, 1e9, np.nan])
def test_many_cells_at_once_are_the_same_as_one_by_one(peak: float) -> None:
    rng = np.random.default_rng(2)
    signal = rng.uniform(-0.4, 0.4, (2, 60 * CELL))
    signal[0, 5 * CELL + 7 : 9 * CELL] *= peak / 0.4
    signal[1, 20 * CELL : 21 * CELL] = 0.8
    one, many = Limiter(48_000, CELL), Limiter(48_000, CELL)
    expected, got = signal.copy(), signal.copy()
    for begin in range(0, expected.shape[1], CELL):
        one.tick()
        one.limit(0, expected[:, begin : begin + CELL])
    # In pieces of any number of cells: what one ends with bears on the next.
    for begin, end in ((0, 6), (6, 21), (21, 21), (21, 60)):
        many.limit_cells(got[:, begin * CELL : end * CELL])
    np.testing.assert_allclose(got, expected, atol=1e-12)
    assert many.reduction == pytest.approx(one.reduction)
