"""MIDI clock sent and followed: every clock once and at its time, and a follower that holds the
phase whatever the source does.
"""

from collections.abc import Callable, Iterable
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopdeck.midi.midi_clock import CLOCK, CONTINUE, START, STOP, ClockFollower, ClockSender, Sent, song_position
from loopdeck.rhythm.meter import Cycle, parse_cycle

from .rhythm_strategies import cycles

# ---- sender --------------------------------------------------------------------------------------


def steady(qpm: float, start_sec: float = 10.0) -> Callable[[float], float]:
    return lambda quarter: start_sec + quarter * 60 / qpm


def send(sender: ClockSender, sec_at: Callable[[float], float], untils: Iterable[float]) -> list[Sent]:
    return [sent for until in untils for sent in sender.due(until, sec_at)]


def test_from_the_start_with_a_count_in() -> None:
    sender, sec_at = ClockSender(Fraction(4)), steady(120)
    sender.run(-4)
    sent = send(sender, sec_at, [sec_at(8)])
    clocks = [one.time_sec for one in sent if one.data == CLOCK]
    assert clocks == pytest.approx([sec_at(k / 24) for k in range(-96, 8 * 24 + 1)], abs=1e-9)
    # Start between the last clock of the count-in and the first of the music; a position at every
    # cycle start after it.
    others = [(one.data, one.time_sec) for one in sent if one.data != CLOCK]
    assert [data for data, _ in others] == [START, song_position(16), song_position(32)]
    assert [sec for _, sec in others] == pytest.approx([sec_at(q - 0.5 / 24) for q in (0, 4, 8)])


def test_stop_and_continue() -> None:
    sender, sec_at = ClockSender(Fraction(4)), steady(96)
    sender.run(0)
    send(sender, sec_at, [sec_at(5.3)])
    assert [one.data for one in sender.halt(sec_at(5.3))] == [STOP]
    assert sender.halt(sec_at(5.4)) == ()
    assert sender.next_due(sec_at) is None
    later = steady(96, 20.0)
    sender.run(5.3)
    sent = send(sender, later, [later(6)])
    # 5.3 quarters are 21.2 sixteenths: the position that can be told is the next one, 22.
    at = [one.data for one in sent].index(song_position(22))
    assert sent[at + 1].data == CONTINUE
    assert sent[at + 2] == Sent(pytest.approx(later(5.5)), CLOCK)
    assert all(one.data == CLOCK for one in sent[:at])


def test_stopping_in_the_count_in_says_nothing() -> None:
    sender, sec_at = ClockSender(Fraction(4)), steady(96)
    sender.run(-4)
    send(sender, sec_at, [sec_at(-1)])
    assert sender.halt(sec_at(-1)) == ()


def test_a_tempo_change_between_two_clocks_doubles_and_drops_nothing() -> None:
    sender, slow, fast = ClockSender(Fraction(4)), steady(60), steady(240, 10.0 + 2.01 * 1.0 - 2.01 * 0.25)
    sender.run(0)
    sent = send(sender, slow, [slow(2.01)]) + send(sender, fast, [fast(4)])
    assert sum(one.data == CLOCK for one in sent) == 4 * 24 + 1
    times = [one.time_sec for one in sent]
    assert times == sorted(times)


def test_positions_beyond_what_the_message_holds_still_name_a_cycle_start() -> None:
    cycle = parse_cycle("4/4 4+3/8")
    sender, sec_at = ClockSender(cycle.quarters), steady(400)
    sender.run(0)
    sent = send(sender, sec_at, [sec_at(float(cycle.quarters * 560))])
    told = [one.data[1] | one.data[2] << 7 for one in sent if one.data[0] == 0xF2]
    assert len(told) == 560
    assert all(sixteenths % 30 == 0 for sixteenths in told)
    assert told[:2] == [30, 60]
    assert max(told) > 16_300


@settings(max_examples=50, deadline=None)
@given(cycle=cycles, count_in=st.integers(0, 16), qpm=st.floats(20, 400), cuts=st.lists(st.floats(0, 30), max_size=20))
def test_however_it_is_asked_it_sends_the_same(cycle: Cycle, count_in: int, qpm: float, cuts: list[float]) -> None:
    sec_at = steady(qpm)
    end = sec_at(20.0)
    whole, pieces = ClockSender(cycle.quarters), ClockSender(cycle.quarters)
    for sender in (whole, pieces):
        sender.run(-Fraction(count_in, 4))
    sent = send(whole, sec_at, [end])
    untils = sorted(sec_at(-4) + cut for cut in cuts)
    assert send(pieces, sec_at, [*(until for until in untils if until < end), end]) == sent
    assert sum(one.data == CLOCK for one in sent) == 20 * 24 + 1 + count_in * 6
    assert [one.data for one in sent].count(START) == 1
    times = [one.time_sec for one in sent]
    assert times == sorted(times)
    due = whole.next_due(sec_at)
    assert due is not None and due > end


@settings(max_examples=30, deadline=None)
@given(cycle=cycles, qpm=st.floats(20, 400))
def test_the_follower_is_where_the_sender_is(cycle: Cycle, qpm: float) -> None:
    sender, follower, sec_at = ClockSender(cycle.quarters), ClockFollower(), steady(qpm)
    sender.run(-2)
    for one in send(sender, sec_at, [sec_at(12.01)]):
        follower.feed(*one)
    assert follower.locked and follower.running
    assert follower.qpm == pytest.approx(qpm)
    assert follower.position(sec_at(12.02)) == pytest.approx(12.02, abs=1e-6)


# ---- follower ------------------------------------------------------------------------------------


class Source:
    """A machine that sends clock: ``periods`` seconds between its clocks, each sent with jitter;
    all clocks of one seed alike.
    """

    def __init__(self, periods: np.ndarray, jitter: str = "none", ms: float = 2.0, seed: int = 1) -> None:
        random, n = np.random.default_rng(seed), len(periods) + 1
        self.true = 10.0 + np.concatenate([[0.0], np.cumsum(periods)])
        self.periods = np.append(periods, periods[-1])
        if jitter == "uniform":
            shift = random.uniform(-ms, ms, n) / 1000
        elif jitter == "gaussian":
            shift = random.normal(0.0, ms, n) / 1000
        else:
            shift = np.zeros(n)
        self.shift = shift

    def followed(
        self, lost: set[int] = frozenset(), doubled: set[int] = frozenset()
    ) -> tuple[np.ndarray, ClockFollower]:  # type: ignore[assignment]
        """The phase's error in ms 0.4 clocks after each clock, and the follower as it ends."""
        follower, sent = ClockFollower(), np.maximum.accumulate(self.true + self.shift)
        follower.feed(9.9, START)
        errors = []
        for k, (sec, at, period) in enumerate(
            zip(sent.tolist(), self.true.tolist(), self.periods.tolist(), strict=True)
        ):
            if k not in lost:
                follower.feed(sec, CLOCK)
            if k in doubled:
                follower.feed(sec + 0.0004, CLOCK)
            position = follower.position(at + 0.4 * period) * 24
            errors.append((position - k - 0.4) * period * 1000)
        return np.abs(np.array(errors)), follower


def even(qpm: float, clocks: int) -> np.ndarray:
    return np.full(clocks, 60 / 24 / qpm)


@pytest.mark.parametrize("jitter", ["uniform", "gaussian"])
@pytest.mark.parametrize("qpm", [60, 120, 240])
def test_the_phase_of_a_source_with_2_ms_of_jitter(jitter: str, qpm: float) -> None:
    """Uniform within 2 ms either way; gaussian with a standard deviation of 2 ms."""
    runs = [Source(even(qpm, 24 * 100), jitter, seed=seed).followed() for seed in range(8)]
    errors = np.concatenate([run[0][96:] for run in runs])
    assert np.percentile(errors, 99) < (0.5 if jitter == "uniform" else 0.8)
    assert errors.max() < 1.5
    for _, follower in runs:
        assert follower.qpm == pytest.approx(qpm, rel=0.003 * qpm / 60)


@pytest.mark.parametrize("qpm", [40, 96, 200, 400])
def test_locked_within_two_beats(qpm: float) -> None:
    errors, _ = Source(even(qpm, 120)).followed()
    assert errors[2:].max() < 1e-6
    follower = ClockFollower()
    follower.feed(0.0, START)
    for k in range(48):
        follower.feed(k * 60 / 24 / qpm, CLOCK)
    assert follower.locked
    jittered = np.concatenate([Source(even(qpm, 96), "uniform", seed=seed).followed()[0][48:] for seed in range(10)])
    assert np.percentile(jittered, 99) < 1.0


@pytest.mark.parametrize("jitter", ["none", "uniform"])
@pytest.mark.parametrize("qpm", [60, 120, 240])
@pytest.mark.parametrize(
    ("lost", "doubled"),
    [({300}, set()), ({300, 301, 302}, set()), (set(), {300}), ({400, 620}, {300, 500, 700})],
    ids=["lost", "three lost", "doubled", "both"],
)
def test_lost_and_doubled_clocks(jitter: str, qpm: float, lost: set[int], doubled: set[int]) -> None:
    for seed in range(5):
        errors, _ = Source(even(qpm, 24 * 40), jitter, seed=seed).followed(lost, doubled)
        # The phase does not even move while the count is in doubt.
        assert errors[96:].max() < 1.5


@pytest.mark.parametrize("jitter", ["none", "uniform"])
@pytest.mark.parametrize("qpm", [60, 120, 200])
@pytest.mark.parametrize("ratio", [1.02, 1.1, 1.2, 1.5, 2.0, 0.9, 0.8, 0.5])
def test_a_tempo_change(jitter: str, qpm: float, ratio: float) -> None:
    for seed in range(5):
        periods = np.concatenate([even(qpm, 300), even(qpm * ratio, 24 * 20)])
        errors, follower = Source(periods, jitter, seed=seed).followed()
        # Followed within two beats, and the count is right for good.
        assert errors[348:].max() < 2.5
        assert errors[-96:].max() < 1.5
        assert follower.qpm == pytest.approx(qpm * ratio, rel=0.02)


def test_a_tempo_that_rises_gently() -> None:
    qpm = np.concatenate([np.full(200, 120.0), np.linspace(120, 144, 192), np.full(400, 144.0)])
    errors, _ = Source(60 / 24 / qpm, "uniform", ms=1.0).followed()
    assert errors[96:].max() < 5.0
    assert errors[-200:].max() < 1.0


@pytest.mark.parametrize("seconds", [0.4, 3.0, 60.0])
def test_a_pause_without_a_word(seconds: float) -> None:
    """No clock, no stop: the position stands, and the next clock is the next position."""
    periods = even(120, 600)
    periods[300] += seconds
    source = Source(periods, "uniform", ms=1.0)
    errors, _ = source.followed()
    assert errors[304:].max() < 2.5
    assert errors[-100:].max() < 1.0
    follower = ClockFollower()
    follower.feed(0.0, START)
    for k in range(100):
        follower.feed(k * 0.02, CLOCK)
    assert follower.position(30.0) == follower.position(300.0) == pytest.approx((99 + 8) / 24)


def test_stop_holds_and_continue_goes_on() -> None:
    follower = ClockFollower()
    follower.feed(0.0, START)
    for k in range(60):
        follower.feed(k * 0.02, CLOCK)
    follower.feed(1.185, STOP)
    assert not follower.running
    assert follower.position(2.0) == pytest.approx(59 / 24)
    # The clock goes on while stopped; the tempo is kept, the position stands.
    for k in range(60, 90):
        follower.feed(k * 0.02, CLOCK)
    assert follower.position(1.8) == pytest.approx(59 / 24)
    assert follower.locked
    follower.feed(1.79, CONTINUE)
    for k in range(90, 100):
        follower.feed(k * 0.02, CLOCK)
    assert follower.position(1.98) == pytest.approx((60 + 9) / 24)


def test_a_position_and_continue_from_another_phase() -> None:
    follower = ClockFollower()
    follower.feed(0.0, START)
    for k in range(60):
        follower.feed(k * 0.02, CLOCK)
    follower.feed(1.19, STOP)
    follower.feed(1.5, song_position(32))
    follower.feed(1.5, CONTINUE)
    assert follower.position(1.6) == 8.0
    for k in range(30):
        follower.feed(3.007 + k * 0.02, CLOCK)
    assert follower.position(3.007 + 29 * 0.02) == pytest.approx(8 + 29 / 24, abs=0.002)


def test_start_goes_back_to_the_beginning() -> None:
    follower = ClockFollower()
    follower.feed(0.0, START)
    for k in range(100):
        follower.feed(k * 0.02, CLOCK)
        if k == 70:
            follower.feed(k * 0.02 + 0.005, START)
    assert follower.position(99 * 0.02) == pytest.approx((99 - 71) / 24)


def test_a_position_while_running_mends_the_count() -> None:
    """As when so many clocks were lost that it looked like a pause."""
    follower = ClockFollower()
    follower.feed(0.0, START)
    for k in [*range(50), *range(80, 97)]:
        if k == 96:
            follower.feed(k * 0.02 - 0.01, song_position(16))
        follower.feed(k * 0.02, CLOCK)
    assert follower.position(96 * 0.02) == pytest.approx(4.0)


def test_a_lost_clock_just_before_a_position_is_not_mended_twice() -> None:
    follower = ClockFollower()
    follower.feed(0.0, START)
    for k in [*range(94), *range(95, 150)]:
        if k == 96:
            follower.feed(k * 0.02 - 0.01, song_position(16))
        follower.feed(k * 0.02, CLOCK)
    assert follower.position(149 * 0.02) == pytest.approx(149 / 24)


def test_before_anything_and_with_other_messages() -> None:
    follower = ClockFollower()
    assert (follower.position(5.0), follower.qpm, follower.locked, follower.running) == (0.0, 0.0, False, False)
    for data in (b"", b"\xfe", b"\x90\x40\x40", b"\xf2\x01", b"\xf0\x01\xf7", CONTINUE, CLOCK, STOP, CLOCK, CLOCK):
        follower.feed(1.0, data)
    assert follower.position(2.0) == 0.0


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0, 3), st.sampled_from([CLOCK, CLOCK, CLOCK, START, STOP, CONTINUE, song_position(77)])),
        max_size=120,
    )
)
def test_nothing_throws_it(messages: list[tuple[float, bytes]]) -> None:
    follower, now = ClockFollower(), 0.0
    for wait, data in messages:
        now += wait**4 / 27
        follower.feed(now, data)
        assert np.isfinite(follower.position(now))
        assert follower.position(now + 1000) <= follower.position(now) + 9 / 24
        assert 0 <= follower.qpm <= 1250.001
