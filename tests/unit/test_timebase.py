"""The device's samples against perf_counter: a simulated sound card, fast or slow, whose callbacks
come late.
"""

from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from loopdeck.audio.timebase import SampleClock

RATE = 48_000
Array = NDArray[np.float64]


class Run(NamedTuple):
    """After each callback: device seconds, the moment its sample was really due, and what the clock
    says of it.
    """

    x: Array
    true: Array
    said: Array
    clock: SampleClock

    @property
    def error_ms(self) -> Array:
        return np.abs(self.said - self.true) * 1000


def simulate(
    frames: int,
    ppm: float,
    seconds: float,
    seed: int = 1,
    late: str = "buffer",
    stalls: tuple[tuple[float, float], ...] = (),
    early: tuple[float, ...] = (),
    wander_ppm: float = 0.0,
) -> Run:
    """``stalls``: (device second, seconds the counter stood still); ``early``: device seconds of
    one callback 3 ms too early.
    """
    random = np.random.default_rng(seed)
    n = int(seconds * RATE / frames)
    sample = np.arange(n) * frames
    x = sample / RATE
    true = 100.0 + x / (1 + ppm * 1e-6)
    # A rate that goes up and down by wander_ppm every 20 minutes, as with the warmth of the room.
    true += wander_ppm * 1e-6 * 1200 / (2 * np.pi) * np.sin(2 * np.pi * x / 1200)
    for at, length in stalls:
        true += np.where(x >= at, length, 0.0)
    if late == "buffer":
        host = true + random.random(n) * frames / RATE
    elif late == "bursts":
        # A server that asks for eight buffers at once.
        host = true + (7 - np.arange(n) % 8) * frames / RATE + random.exponential(0.0002, n)
    else:
        # Mostly prompt, with a long delay now and then and a third of a second of load every 20 s.
        host = true + random.exponential(0.0001, n) + (random.random(n) < 0.01) * random.exponential(0.01, n)
        host += np.where(x % 20 < 0.3, 0.005, 0.0)
    for at in early:
        host[int(at * RATE / frames)] -= 0.003
    host = np.maximum.accumulate(host)
    clock, said = SampleClock(RATE), np.empty(n)
    for index, (one, sec) in enumerate(zip(sample.tolist(), host.tolist(), strict=True)):
        clock.callback(one, sec)
        said[index] = clock.sec_of(one)
    return Run(x, true, said, clock)


@pytest.mark.parametrize(("frames", "ppm"), [(1024, 200.0), (1024, -200.0), (512, 200.0)])
def test_an_hour_with_callbacks_that_jitter_by_a_buffer(frames: int, ppm: float) -> None:
    run = simulate(frames, ppm, 3600)
    assert run.error_ms[run.x > 3].max() < 1.0
    assert run.error_ms[run.x > 60].max() < 0.25
    assert run.clock.steps == 0
    assert np.diff(run.said).min() > 0
    assert run.clock.rate_error == pytest.approx(ppm * 1e-6, abs=5e-6)


@pytest.mark.parametrize("frames", [128, 256, 512, 1024])
@pytest.mark.parametrize("seed", [2, 3])
def test_settling(frames: int, seed: int) -> None:
    run = simulate(frames, (-200.0, 200.0)[seed % 2], 30, seed)
    assert run.error_ms[run.x > 3].max() < 1.0


@pytest.mark.parametrize("late", ["bursts", "load"])
def test_other_ways_of_being_late(late: str) -> None:
    run = simulate(128, 150.0, 240, late=late)
    assert run.error_ms[run.x > 3].max() < 1.0
    assert run.clock.steps == 0


def test_a_rate_that_wanders() -> None:
    run = simulate(512, 50.0, 1500, wander_ppm=20.0)
    assert run.error_ms[run.x > 3].max() < 1.0


@pytest.mark.parametrize("frames", [128, 512, 1024])
@pytest.mark.parametrize("stall", [0.005, 0.0213, 0.2, 3600.0])
def test_a_counter_that_stood_still(frames: int, stall: float) -> None:
    """An underrun, or an hour asleep: the map steps forward and is right again within 4 s."""
    run = simulate(frames, 200.0, 100, stalls=((40.0, stall),))
    assert run.error_ms[(run.x > 3) & (run.x < 40)].max() < 1.0
    assert run.error_ms[run.x > 44].max() < 1.0
    assert run.clock.steps >= 1
    assert np.diff(run.said).min() > 0


def test_a_short_stall_hidden_in_jitter() -> None:
    run = simulate(1024, 200.0, 80, stalls=((40.0, 0.002),))
    assert run.error_ms[run.x > 3].max() < 2.7
    assert run.error_ms[run.x > 52].max() < 1.0


@pytest.mark.parametrize("frames", [256, 1024])
def test_one_early_callback_changes_nothing(frames: int) -> None:
    run = simulate(frames, 200.0, 120, early=(70.0, 90.0))
    assert run.error_ms[run.x > 3].max() < 1.0
    assert run.clock.steps == 0


def test_a_server_that_asks_further_ahead_is_followed_without_running_backwards() -> None:
    run = simulate(256, 200.0, 80, stalls=((40.0, -0.010),))
    assert run.error_ms[run.x > 43].max() < 1.0
    # Time slowed down by about a hundredth at most meanwhile, and a click's distance with it.
    steps = np.diff(run.said)[run.x[1:] > 40] / (256 / RATE)
    assert steps.min() > 0.985


@settings(max_examples=25, deadline=None)
@given(
    frames=st.sampled_from([128, 256, 512, 1024]),
    ppm=st.floats(-400, 400),
    seed=st.integers(0, 999),
    stalls=st.lists(st.tuples(st.floats(1, 19), st.floats(-0.05, 0.5)), max_size=3),
)
def test_every_click_is_rendered_once_and_in_order(
    frames: int, ppm: float, seed: int, stalls: list[tuple[float, float]]
) -> None:
    """As the engine renders: at each callback all clicks due up to the end of the buffer that have
    not been rendered yet.
    """
    random = np.random.default_rng(seed)
    host_shift, clock = 0.0, SampleClock(RATE)
    clicks = 50.0 + np.arange(1, 400) * 0.05
    rendered: list[tuple[float, int]] = []
    done, last_host = 0, 0.0
    pending = sorted(stalls)
    for index in range(int(20 * RATE / frames)):
        sample = index * frames
        while pending and pending[0][0] <= sample / RATE:
            host_shift += pending.pop(0)[1]
        last_host = max(
            last_host, 50.0 + sample / RATE / (1 + ppm * 1e-6) + host_shift + random.random() * frames / RATE
        )
        before = clock.sec_of(sample) if clock.running else last_host
        clock.callback(sample, last_host)
        # What was handed out as the end of the last buffer is the start of this one, or, at a step,
        # lies before it.
        assert clock.sec_of(sample) >= before
        end = clock.sec_of(sample + frames)
        assert end > clock.sec_of(sample)
        while done < len(clicks) and clicks[done] < end:
            at = max(clock.sample_of(clicks[done]), sample) if clicks[done] >= before else sample
            assert sample <= at < sample + frames + 1e-6
            rendered.append((at, done))
            done += 1
    assert [one for _, one in rendered] == list(range(done))
    places = [at for at, _ in rendered]
    assert places == sorted(places)


def test_there_and_back() -> None:
    run = simulate(256, 200.0, 30)
    for sample in (run.x[-900:-100] * RATE).tolist():
        assert run.clock.sample_of(run.clock.sec_of(sample)) == pytest.approx(sample, abs=1e-3)


def test_inside_a_step_every_moment_is_its_sample() -> None:
    run = simulate(256, 0.0, 60, stalls=((40.0, 10.0),))
    inside = np.linspace(145.0, 149.0, 50)
    assert len({round(run.clock.sample_of(sec)) for sec in inside.tolist()}) == 1


def test_before_the_first_callback_there_is_no_map() -> None:
    clock = SampleClock(RATE)
    assert not clock.running
    with pytest.raises(ValueError, match="no callback"):
        clock.sec_of(0)
    with pytest.raises(ValueError, match="no callback"):
        clock.sample_of(0.0)


def test_observations_out_of_order_are_passed_over() -> None:
    clock = SampleClock(RATE)
    clock.callback(0, 1.0)
    clock.callback(256, 1.005)
    clock.callback(128, 5.0)
    clock.callback(512, 0.5)
    assert clock.sec_of(480) == pytest.approx(1.01)
