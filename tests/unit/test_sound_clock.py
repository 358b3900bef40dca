"""The device's samples lead: clicks at their samples, the player judged by what is heard, whatever
the device and its callbacks do.
"""

import numpy as np
import pytest

from loopdeck.audio.sound_clock import LOST_SEC, SoundClock
from loopdeck.protocol.messages import ClockChanged, NoteStarted
from tests.unit.sound_rig import RATE, Rig, play_clicks

#: An eighth at 96 quarters a minute.
STEP_SEC = 0.3125


@pytest.mark.parametrize(("frames", "ppm"), [(1024, 200.0), (1024, -200.0), (512, 200.0)])
def test_an_hour_on_a_device_that_is_off_and_jitters(monkeypatch: pytest.MonkeyPatch, frames: int, ppm: float) -> None:
    """200 ppm, callbacks late by up to a buffer: each click once, at its sample, in order; heard
    where the grid says to within 1 ms.
    """
    rig = Rig(monkeypatch, frames)
    handed, at, off = play_clicks(rig, ppm, 3600, STEP_SEC)
    clock = rig.clock
    fed = [event for event, _ in rig.mixer.fed]
    assert rig.sound.report()["late"] == 0
    assert len(fed) >= len(handed) - 1 and len(fed) > 11_000
    origin = clock._origin
    assert origin is not None
    ideal = (np.array(handed[: len(fed)]) - origin) * RATE
    assert np.abs(np.array([event.sample for event in fed]) - ideal).max() <= 0.5
    assert np.diff([event.sample for event in fed]).min() >= STEP_SEC * RATE - 1
    assert np.abs(off[at > 3]).max() < 0.001
    assert np.abs(off[at > 60]).max() < 0.0005
    assert clock.rate_error == pytest.approx(ppm * 1e-6, abs=5e-6)


def test_the_way_back_to_the_host(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = Rig(monkeypatch)
    rig.settle()
    for _ in range(500):
        rig.ask(rig.host + rig.frames / RATE / 1.0002)
    now = rig.clock.now()
    assert rig.clock.of_host(rig.clock.to_host(now)) == pytest.approx(now, abs=1e-9)
    assert rig.clock.to_host(now) == pytest.approx(rig.host, abs=1e-9)


def test_no_lead_while_a_server_stumbles(monkeypatch: pytest.MonkeyPatch) -> None:
    """One callback, a second of nothing, eighty at once, and only then an even run (as PulseAudio
    has been seen to begin).
    """
    rig = Rig(monkeypatch, 256)
    rig.ask(1000.0)
    for _ in range(80):
        rig.ask(1001.8)
    assert not rig.clock.leads
    begun = rig.host
    rig.settle()
    assert rig.host - begun < 1.0
    assert rig.clock.now() == pytest.approx(rig.host, abs=1e-9)


def test_the_lead_changes_hands_without_a_jump(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = Rig(monkeypatch)
    clock = rig.clock
    before = clock.now()
    assert before == rig.host
    rig.settle()
    assert clock.now() == pytest.approx(rig.host, abs=1e-9)
    before = clock.now()
    for _ in range(20_000):
        rig.ask(rig.host + rig.frames / RATE / 1.0002)
        now = clock.now()
        assert before <= now <= before + 2 * rig.frames / RATE
        before = now
    # 200 ppm over 213 s.
    assert now - rig.host == pytest.approx(0.0427, abs=0.002)
    clock.let_go()
    assert not clock.leads and clock.now() == pytest.approx(now, abs=1e-9)
    rig.host += 1.0
    assert clock.now() == pytest.approx(now + 1.0, abs=1e-9)


def test_an_underrun_never_turns_time_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """The counter stands still for 50 ms: time stands until the map has stepped, and is right again
    within seconds.
    """
    rig = Rig(monkeypatch)
    rig.settle()
    clock, before, stall = rig.clock, 0.0, 0.0
    for index in range(4000):
        stall = 0.05 if index == 1500 else 0.0
        rig.ask(rig.host + rig.frames / RATE + stall)
        assert clock.now() >= before
        before = clock.now()
    assert clock.steps == 1
    heard = (rig.mixer.asked - rig.frames) / RATE - clock.delay_sec
    assert clock.now() - (clock._origin or 0.0) == pytest.approx(heard, abs=0.001)


def test_a_device_that_is_gone(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = Rig(monkeypatch)
    rig.settle()
    for _ in range(2000):
        rig.ask(rig.host + rig.frames / RATE)
        assert not rig.clock.lost()
    rig.host += LOST_SEC + 0.1
    assert rig.clock.lost()


def test_a_device_that_is_gone_but_asked_for_by_sdl(monkeypatch: pytest.MonkeyPatch) -> None:
    """SDL's stand-in sleeps for whole milliseconds: 10 instead of 10.67."""
    rig = Rig(monkeypatch, 512)
    rig.settle()
    lost = False
    for _ in range(2000):
        rig.ask(rig.host + 0.010)
        lost = lost or rig.clock.lost()
    assert lost


def test_a_session_that_is_taken_up_again_goes_on_where_it_was() -> None:
    clock = SoundClock(RATE, 0.01, lambda: 500.0)
    clock.skip_to(500.7)
    assert clock.now() == pytest.approx(500.7)
    clock.skip_to(400.0)
    assert clock.now() == pytest.approx(500.7)


def test_the_window_is_told_in_the_host_s_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """The window reckons with perf_counter alone; an hour after the anchor, at 200 ppm, it would be
    0.7 s off.
    """
    rig = Rig(monkeypatch, 1024)
    rig.settle()
    anchor, begun = rig.clock.now(), rig.host
    for _ in range(47 * 600):
        rig.ask(rig.host + rig.frames / RATE / 1.0002)
    now = rig.clock.now()
    running = ClockChanged(
        time_sec=now, state="LISTENING", running=True, pass_index=0, anchor_sec=anchor, anchor_q=4.0, qpm=120.0,
        pass_start_q=0.0, cycle="4/4", cycle_q=4.0,
    )  # fmt: skip
    note = NoteStarted(
        time_sec=now, id=1, pass_index=0, at_q=0.0, slot_q=0.0, pitch=40, velocity=90, stamp_sec=now - 0.5
    )
    clock, played = rig.clock.for_window([running, note])
    assert isinstance(clock, ClockChanged) and isinstance(played, NoteStarted)
    shown = clock.anchor_q + (rig.host - clock.anchor_sec) * 2.0
    assert shown == pytest.approx(4.0 + (now - anchor) * 2.0, abs=1e-6)
    assert now - anchor - (rig.host - begun) > 0.1
    assert clock.time_sec == pytest.approx(rig.host, abs=1e-6)
    assert played.stamp_sec == pytest.approx(rig.host - 0.5, abs=0.001)
