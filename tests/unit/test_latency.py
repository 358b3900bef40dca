"""Latency of a rig from what was sent and what came back, with losses, strangers, jitter and
hands.
"""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from loopdeck.analysis.latency import match, measure
from loopdeck.errors import UserError


def sent(n: int = 200, seed: int = 0, even: bool = False) -> NDArray[np.float64]:
    random = np.random.default_rng(seed)
    return 50.0 + np.cumsum(np.full(n, 0.2) if even else random.uniform(0.1, 0.3, n))


def test_a_clean_loop() -> None:
    times = sent()
    found = measure(times, times + 0.0042)
    assert found.median_ms == pytest.approx(4.2)
    assert found.jitter_ms == pytest.approx(0.0, abs=1e-6)
    assert (found.lost, found.spurious, len(found.latency_ms)) == (0, 0, 200)
    assert found.correction_ms == pytest.approx(4.2)
    assert [one.holds for one in found.judgements] == [True, True, True]
    assert found.by_pitch is None


def test_the_figures_are_those_of_the_distribution() -> None:
    times, random = sent(3000), np.random.default_rng(5)
    delay = 0.008 + random.uniform(0, 0.004, 3000)
    found = measure(times, times + delay)
    assert found.median_ms == pytest.approx(10.0, abs=0.1)
    assert found.p99_ms == pytest.approx(11.96, abs=0.05)
    assert found.max_ms == pytest.approx(delay.max() * 1000)
    assert found.min_ms == pytest.approx(delay.min() * 1000)
    # 99 of 100 lie within 1.98 ms of the middle of an even spread of 4 ms.
    assert found.jitter_ms == pytest.approx(1.98, abs=0.08)
    holds = {one.source + one.what: one.holds for one in found.judgements}
    assert holds["Wessel & Wright 2002jitter"] is False
    assert holds["Friberg & Sundberg 1995jitter"] is True


@settings(max_examples=60, deadline=None)
@given(
    latency=st.floats(0.0, 0.8),
    jitter=st.floats(0.0, 0.004),
    seed=st.integers(0, 10_000),
    lost=st.floats(0.0, 0.3),
    strangers=st.integers(0, 60),
    even=st.booleans(),
)
def test_lost_and_spurious_ones(
    latency: float, jitter: float, seed: int, lost: float, strangers: int, even: bool
) -> None:
    """A row that is even can be shifted by whole steps and fit as well; the rest must be found
    whatever is lost and added.
    """
    random, times = np.random.default_rng(seed), sent(150, seed, even)
    if even:
        latency %= 0.15
    arrived = times + latency + random.uniform(0, jitter, len(times))
    kept = random.random(len(times)) >= lost
    extra = random.uniform(times[0], times[-1], strangers)
    received = np.concatenate([arrived[kept], extra])
    true = np.concatenate([np.flatnonzero(kept), np.full(strangers, -1)])
    order = np.argsort(received, kind="stable")
    found = measure(times, received[order])
    assert found.median_ms == pytest.approx((latency + jitter / 2) * 1000, abs=1.5)
    # Every survivor is found; a stranger may be taken for a lost one now and then, or stand nearer
    # than the true answer.
    right = true[order][found.pairs.received] == found.pairs.sent
    assert right.sum() >= 0.9 * kept.sum()
    assert len(np.unique(found.pairs.sent)) == len(np.unique(found.pairs.received)) == len(found.pairs.sent)
    assert found.lost + len(found.latency_ms) == len(times)
    assert found.spurious + len(found.latency_ms) == len(received)


def test_pitches_keep_strangers_out_and_group_the_corrections() -> None:
    """A low string is late (facts of pitch followers): each pitch has a correction of its own."""
    times, random = sent(120, 3), np.random.default_rng(3)
    pitch = np.tile([28, 33, 43], 40)
    late = np.select([pitch == 28, pitch == 33], [0.049, 0.036], 0.020)
    received = times + late + random.normal(0, 0.0003, 120)
    found = measure(times, received, sent_pitch=pitch, received_pitch=pitch)
    assert found.by_pitch is not None
    assert found.by_pitch == {
        28: pytest.approx(49, abs=0.3),
        33: pytest.approx(36, abs=0.3),
        43: pytest.approx(20, abs=0.3),
    }
    wrong = np.full(120, 60)
    assert len(match(times, received, sent_pitch=pitch, received_pitch=wrong).sent) == 0


def test_a_pitch_with_few_notes_gets_no_correction() -> None:
    times = sent(23)
    pitch = np.array([40] * 20 + [28] * 3)
    found = measure(times, times + 0.01, sent_pitch=pitch, received_pitch=pitch)
    assert found.by_pitch == {40: pytest.approx(10.0)}


@pytest.mark.parametrize(("asynchrony", "correction"), [(-0.035, 0.0), (0.022, 22.0)])
def test_tapping_is_judged_as_a_hand(asynchrony: float, correction: float) -> None:
    clicks, random = sent(60, even=True) * 3, np.random.default_rng(8)
    taps = np.sort(clicks + asynchrony + random.normal(0, 0.02, 60))
    found = measure(clicks, np.delete(taps, [4, 5, 30]), kind="tap")
    assert found.median_ms == pytest.approx(asynchrony * 1000, abs=8)
    assert found.correction_ms == pytest.approx(correction, abs=8)
    assert found.lost == 3
    # No verdict on the rig, and the reason with its source.
    assert all(one.holds is None for one in found.judgements)
    words = " ".join(one.sentence for one in found.judgements)
    assert "Repp 2005" in words and "mostly the hand" in words
    assert ("not the rig" in words) == (asynchrony < 0)
    if asynchrony < 0:
        assert found.correction_ms == 0.0


def test_verdicts_say_figure_limit_and_source() -> None:
    times = sent()
    found = measure(times, times + 0.0234 + np.tile([0.0, 0.009], 100))
    assert [one.holds for one in found.judgements] == [False, False, True]
    assert found.judgements[0].sentence == (
        "The latency of 27.9 ms is above 10 ms, what an instrument may have before it feels slow (Wessel & "
        "Wright 2002)."
    )


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0, 0.02), min_size=5, max_size=300))
def test_the_histogram_holds_every_pair(delays: list[float]) -> None:
    times = 10.0 + np.arange(len(delays)) * 0.5
    found = measure(times, times + np.array(delays))
    histogram = found.histogram()
    assert histogram.counts.sum() == len(found.latency_ms)
    assert 5 <= len(histogram.counts) <= 40 and len(histogram.edges_ms) == len(histogram.counts) + 1
    assert (np.diff(histogram.edges_ms) > 0).all()
    stored = json.loads(json.dumps(found.to_dict()))
    assert stored["pairs"] == len(found.latency_ms) and stored["by_pitch"] is None


@pytest.mark.parametrize(
    ("times", "received", "kind", "words"),
    [
        (
            [1.0, 2.0, 3.0],
            [],
            "loop",
            "Only 0 of 3 notes came back, and a measurement needs 5; check that the output leads back",
        ),
        ([1.0, 2.0, 3.0], [1.0], "tap", "Only 1 of 3 taps could be matched"),
        ([], [], "loop", "Only 0 of 0"),
        ([2.0, 1.0], [1.0], "loop", "sent times .* must be numbers that rise"),
        ([1.0], [float("nan")], "loop", "received times"),
    ],
)
def test_too_little_gets_a_sentence(times: list[float], received: list[float], kind: str, words: str) -> None:
    with pytest.raises(UserError, match=words) as error:
        measure(times, received, kind)  # type: ignore[arg-type]
    assert str(error.value).endswith(".") and isinstance(error.value, UserError)


def test_pitches_must_fit_the_times() -> None:
    with pytest.raises(UserError, match="2 times but 1 pitches"):
        match([1.0, 2.0], [1.0], sent_pitch=[40], received_pitch=[40])


def test_a_long_measurement_is_quick() -> None:
    times = sent(20_000, even=True)
    found = measure(times, times + 0.005)
    assert found.median_ms == pytest.approx(5.0)
