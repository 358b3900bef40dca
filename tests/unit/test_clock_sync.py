"""MIDI clock in a session: what goes out against the 24-a-quarter definition, and a looper that
follows a source with jitter.
"""

import random

import numpy as np
import pytest

from loopdeck.looper.machine import Out
from loopdeck.looper.state import STOPPED
from loopdeck.midi.midi_clock import CLOCK, CONTINUE, START, STOP, ClockSender
from loopdeck.session.clock_sync import ClockIn, ClockOut
from loopdeck.session.session import Session
from tests.unit.looper_tools import brief


def run(session: Session, until: float) -> list[Out]:
    outs = session.take_outs()
    while (due := session.next_due()) is not None and due <= until:
        session.advance(due)
        outs += session.take_outs()
    session.advance(until)
    return outs + session.take_outs()


def clock_of(outs: list[Out]) -> list[Out]:
    return [out for out in outs if out.part == "clock"]


def test_24_clocks_a_quarter_start_stop_and_song_position_at_every_cycle() -> None:
    session = Session(brief(cycle="4/4 4+3/8", count_in=1))
    session.clock_out = ClockOut(session.looper)
    session.command("start", {}, 1.0)
    outs = run(session, 1.0 + (4 + 15) * 0.5 - 0.015)
    session.command("stop", {}, 1.0 + (4 + 15) * 0.5 - 0.014)
    clock = clock_of(outs + session.take_outs())
    ticks = [out.time_sec for out in clock if out.data == CLOCK]
    assert ticks == pytest.approx([1.0 + index * 0.5 / 24 for index in range(len(ticks))])
    assert len(ticks) == 19 * 24
    (start,) = [out.time_sec for out in clock if out.data == START]
    assert 3.0 - 0.5 / 24 < start < 3.0
    positions = [out.data[1] | out.data[2] << 7 for out in clock if out.data[0] == 0xF2]
    assert positions == [30]
    assert clock[-1].data == STOP


def test_clock_is_the_same_however_time_is_cut_and_in_order() -> None:
    session = Session(brief(count_in=0))
    session.clock_out = ClockOut(session.looper)
    session.command("start", {}, 0.0)
    outs = run(session, 3.0)
    session.command("tempo", {"tempo": "90"}, 3.0)
    outs += run(session, 6.0)
    times = [out.time_sec for out in outs]
    assert times == sorted(times)
    ticks = [out.time_sec for out in clock_of(outs) if out.data == CLOCK]
    assert np.diff([tick for tick in ticks if tick > 3.1]) == pytest.approx(60 / 90 / 24)


def follow(
    qpm: float, jitter_ms: float, seconds: float, change: float | None = None, ahead: float = 0.0
) -> tuple[Session, list[float]]:
    """A session that follows a source for so long, and runs ``ahead`` seconds ahead of its clocks
    as the engine does with sound.

    Also the errors of its phase in ms, a thousand a minute from the fourth beat on.
    """
    rng = random.Random(3)
    session = Session(brief(tempo="100", count_in=0))
    clock_in = ClockIn(session.looper, ahead)
    sender = ClockSender(session.looper.brief.cycle.quarters)
    tempo = qpm

    def sec_at(quarter: float) -> float:
        if change is not None and quarter > 16:
            return 1.0 + 16 * 60 / qpm + (quarter - 16) * 60 / change
        return 1.0 + quarter * 60 / tempo

    sender.run(0)
    events = sorted(
        (sent.time_sec + rng.uniform(-jitter_ms, jitter_ms) / 1e3, sent.data)
        for sent in sender.due(1.0 + seconds, sec_at)
    )
    errors = []
    for sec, data in events:
        session.advance(sec + ahead)
        session.take_outs()
        for order in clock_in.feed(sec, data):
            session.command(order.name, dict(order.args), order.at_sec or sec)
        if sec > sec_at(20 if change is not None else 4) and session.looper.state != STOPPED:
            at = session.looper.now_sec
            ours = session.looper.transport.quarter_at(at) - float(session.looper.run_start_q)
            lo, hi = 0.0, 1e4
            for _ in range(60):
                mid = (lo + hi) / 2
                lo, hi = (mid, hi) if sec_at(mid) < at else (lo, mid)
            errors.append((ours - lo) * 60_000 / (change or qpm))
    return session, errors


@pytest.mark.parametrize("qpm", [70.0, 120.0, 180.0])
def test_followed_phase_errs_by_less_than_a_millisecond(qpm: float) -> None:
    session, errors = follow(qpm, 2.0, 60.0)
    assert session.looper.state != STOPPED
    assert np.percentile(np.abs(errors), 99) < 1.0
    assert session.looper.transport.qpm == pytest.approx(qpm, rel=0.002)


@pytest.mark.parametrize(("qpm", "ahead"), [(120.0, 0.036), (300.0, 0.085), (180.0, 0.15), (120.0, 0.25)])
def test_followed_phase_with_a_long_way_to_the_ear(qpm: float, ahead: float) -> None:
    """The looper is ahead of the source's newest clock by the output latency; the phase is judged
    where it has got to.
    """
    session, errors = follow(qpm, 2.0, 60.0, ahead=ahead)
    assert session.looper.state != STOPPED
    assert np.percentile(np.abs(errors[24:]), 99) < 1.0


def test_a_source_that_falls_silent_is_waited_for_and_joined_at_our_cycle() -> None:
    session = Session(brief(tempo="100", count_in=0))
    clock_in = ClockIn(session.looper)
    tick = 0.5 / 24

    def feed(sec: float, data: bytes) -> list[str]:
        session.advance(sec)
        orders = clock_in.feed(sec, data)
        for order in orders:
            session.command(order.name, dict(order.args), sec)
        return [order.name for order in orders]

    feed(1.0, START)
    for index in range(100):
        feed(1.0 + index * tick, CLOCK)
    last = 1.0 + 99 * tick
    assert session.looper.state != STOPPED
    # A lost clock is not a pause; a third of a quarter is.
    assert clock_in.rest(last + 3 * tick) == []
    due = clock_in.next_due()
    assert due == pytest.approx(last + 8 * tick, abs=0.002)
    (led,) = clock_in.rest(last + 9 * tick)
    session.command(led.name, dict(led.args), last + 9 * tick)
    assert session.looper.state == STOPPED and clock_in.next_due() is None and clock_in.rest(last + 5.0) == []
    # Clock 100 comes five seconds later: 4 quarters and 4 clocks have gone by, and the next start
    # of our cycle is at 8 quarters.
    names = [(index, name) for index in range(100, 240) for name in feed(6.0 + (index - 100) * tick, CLOCK)]
    starts = [index for index, name in names if name == "start-now"]
    assert starts == [192] and session.looper.state != STOPPED


def test_a_start_that_can_be_foreseen_is_in_time_for_the_ear() -> None:
    """A source that continues in the middle of a bar: we start at our cycle's start, and know of it
    as long before as the ear is away.
    """
    session = Session(brief(tempo="100", count_in=0))
    ahead, tick = 0.05, 0.5 / 24
    clock_in = ClockIn(session.looper, ahead)
    for data in (bytes((0xF2, 8, 0)), CONTINUE):
        clock_in.feed(0.9, data)
    led = []
    for index in range(80):
        sec = 1.0 + index * tick
        led += [(sec, order) for order in clock_in.feed(sec, CLOCK) if order.name == "start-now"]
        if led:
            break
    ((sec, order),) = led
    # Song position 8 is two quarters: the cycle of four begins two quarters, a second, after the
    # first clock.
    assert order.at_sec == pytest.approx(2.0, abs=0.002)
    assert sec <= 2.0 - ahead


def test_a_tempo_change_is_followed() -> None:
    session, errors = follow(110.0, 1.0, 60.0, change=130.0)
    assert session.looper.transport.qpm == pytest.approx(130.0, rel=0.002)
    assert np.percentile(np.abs(errors[200:]), 99) < 1.0


def test_stop_stops_and_start_starts_from_the_beginning() -> None:
    session, _ = follow(120.0, 0.0, 10.0)
    clock_in = ClockIn(session.looper)
    # A new follower does not stop what it has not started.
    assert clock_in.feed(20.0, STOP) == []
    assert [order.name for order in clock_in.feed(20.1, START)] == ["stop"]
    session.command("stop", {}, 20.1)
    names = [order.name for order in clock_in.feed(20.2, CLOCK)]
    assert names == ["start-now"]
