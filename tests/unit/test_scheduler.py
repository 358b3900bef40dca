"""The scheduler: everything leaves at its moment and in order, what is too late is dropped whole,
and sleeping is woken.
"""

import itertools
import statistics
import threading
import time
from typing import Any

import pytest

from loopdeck.engine.events import Waker
from loopdeck.engine.scheduler import AHEAD_SEC, LATE_SEC, Scheduler
from loopdeck.looper.machine import Out
from loopdeck.process.clock import PerfClock, SimClock
from loopdeck.session.session import Session
from tests.unit.looper_tools import brief, check_pairs


class Bench:
    """A scheduler on a simulated clock; ``sent`` has (the clock's time, the message)."""

    def __init__(self, **fields: Any) -> None:
        self.clock = SimClock()
        self.session = Session(brief(**fields), 0.0)
        self.sent: list[tuple[float, Out]] = []
        self.scheduler = Scheduler(self.clock, self.session, lambda out: self.sent.append((self.clock.now(), out)))

    def run(self, until: float) -> None:
        """As the engine does, waking exactly when asked to."""
        while (due := self.scheduler.turn()) is not None and due <= until:
            self.clock.move_to(due)
        self.clock.move_to(until)
        self.scheduler.turn()


def test_everything_leaves_at_its_moment() -> None:
    bench = Bench()
    bench.session.command("start", {}, 0.0)
    bench.run(8.0)
    assert len(bench.sent) > 30
    assert max(sec - out.time_sec for sec, out in bench.sent) < 1e-9
    assert all(sec >= out.time_sec for sec, out in bench.sent)
    ons = [out.time_sec for _, out in bench.sent if out.data[0] == 0x99]
    assert ons == [beat * 0.5 for beat in range(17)]


def test_the_looper_is_ahead_of_what_it_sends() -> None:
    bench = Bench()
    bench.session.command("start", {}, 0.0)
    bench.run(1.9)
    bench.clock.move_to(2.0 - AHEAD_SEC)
    before = len(bench.sent)
    bench.scheduler.turn()
    assert bench.session.looper.now_sec == 2.0
    assert len(bench.sent) == before


@pytest.mark.parametrize(("away_sec", "waits"), [(0.0015, True), (0.005, False)])
def test_work_for_later_waits_for_a_message_that_leaves_first(away_sec: float, waits: bool) -> None:
    bench = Bench()
    bench.session.command("start", {}, 0.0)
    bench.run(1.9)
    now = 2.0 - AHEAD_SEC
    bench.clock.move_to(now)
    bench.scheduler.put(Out(now + away_sec, b"\xf8", "clock"))
    assert bench.scheduler.turn() == pytest.approx(now + away_sec)
    assert (bench.session.looper.now_sec < 2.0) == waits
    bench.run(now + away_sec)
    assert bench.session.looper.now_sec == 2.0 and bench.sent[-1][1].data == b"\xf8"


def test_live_notes_do_not_wait_for_what_was_made_ahead() -> None:
    bench = Bench()
    bench.session.command("start", {}, 0.0)
    bench.session.command("thru", {"port": 0}, 0.0)
    bench.run(2.0 - AHEAD_SEC / 2)
    bench.session.midi(0, bytes((0x90, 40, 90)), bench.clock.now(), bench.clock.now())
    bench.scheduler.collect()
    sec, out = bench.sent[-1]
    assert (out.part, sec) == ("live", 2.0 - AHEAD_SEC / 2)


def test_after_a_long_sleep_no_burst_and_nothing_hangs() -> None:
    bench = Bench()
    bench.session.command("start", {}, 0.0)
    bench.session.midi(0, bytes((0x90, 40, 90)), 0.5, 0.5)
    bench.session.midi(0, bytes((0x80, 40, 0)), 0.6, 0.6)
    bench.run(2.05)
    bench.session.command("loop-that", {}, 2.05)
    bench.run(2.51)  # the layer's note sounds
    count = len(bench.sent)
    bench.clock.move_to(62.3)
    bench.scheduler.turn()
    burst = [out for _, out in bench.sent[count:]]
    assert all(out.time_sec > 62.3 - LATE_SEC for out in burst if out.data[0] & 0xF0 == 0x90)
    bench.session.command("silence", {}, 62.3)
    bench.run(62.4)
    check_pairs([out for _, out in bench.sent])


def test_at_the_end_notes_that_wait_are_dropped_with_their_ends() -> None:
    bench = Bench()
    bench.session.command("start", {}, 0.0)
    bench.run(2.0 - AHEAD_SEC / 2)
    bench.session.command("stop", {}, bench.clock.now())
    bench.scheduler.drop_notes()
    outs = [out for _, out in bench.sent]
    check_pairs(outs)
    assert outs[-1].time_sec < 2.0


def test_waiting_is_exact_and_can_be_woken() -> None:
    clock, waker = PerfClock(), Waker()
    scheduler = Scheduler(clock, Session(brief(), clock.now()), lambda out: None)
    late = []
    for _ in range(10):
        due = clock.now() + 0.01
        assert scheduler.wait(due, waker) is False
        late.append(clock.now() - due)
    # A busy machine may hold up this one or that one.
    assert 0.0 <= min(late) < 0.005
    threading.Timer(0.03, waker.wake).start()
    begun = time.perf_counter()
    assert scheduler.wait(begun + 600.0, waker) is True
    assert time.perf_counter() - begun < 300.0
    waker.close()


def test_waiting_asks_for_what_must_be_polled() -> None:
    clock, waker = PerfClock(), Waker()
    scheduler = Scheduler(clock, Session(brief(), clock.now()), lambda out: None)
    asked: list[float] = []

    def poll() -> bool:
        asked.append(clock.now())
        return len(asked) == 5

    assert scheduler.wait(clock.now() + 600.0, waker, poll) is True
    # Within a few milliseconds each, where the machine has the time.
    assert statistics.median(there - here for here, there in itertools.pairwise(asked)) < 0.1
    waker.close()


def test_a_thousand_wakes_do_not_block() -> None:
    waker = Waker()
    for _ in range(100_000):
        waker.wake()
    assert waker.sleep(0.0) is True
    waker.close()
