"""The engine with fakes for the world: where what sounds goes, devices and windows that vanish, and
the order in which it ends.
"""

import signal
import threading
import time
from pathlib import Path

import pytest

from loopdeck.capture.journal import CommandRecord, MidiRecord, read_journal
from loopdeck.engine import front_ends
from loopdeck.engine.events import MidiArrived, SessionOffered, SignalArrived, SoundChanged
from loopdeck.engine.page_writer import NO_KEEP, NO_LAYER
from loopdeck.engine.timers import SILENCE_EVERY_SEC, SILENCE_FOR_SEC, earliest
from loopdeck.looper.commands import ENGINE, names_of
from loopdeck.process.clock import PerfClock
from loopdeck.protocol.messages import (
    DevicesChanged,
    KeyPlayed,
    LayersChanged,
    Message,
    MixerChanged,
    NoteStarted,
    QuestionsPending,
    Said,
    TakeKept,
)
from tests.unit.engine_rig import EngineRig

NOTE, OFF = bytes((0x90, 40, 90)), bytes((0x80, 40, 0))
QUIET = {bytes((0xB0 | channel, mode, 0)) for channel in range(16) for mode in (120, 123)}


def begun(folder: Path, **more: object) -> EngineRig:
    rig = EngineRig(folder, **more)  # type: ignore[arg-type]
    rig.engine._begin()
    rig.join()
    return rig


def test_the_engine_carries_out_every_command_of_its_own(tmp_path: Path) -> None:
    assert set(EngineRig(tmp_path).engine.parts.door.acts) == set(names_of(ENGINE))


def said(rig: EngineRig) -> list[str]:
    return [one.text for one in rig.link.told if isinstance(one, Said)]


def on_wire(rig: EngineRig, status: int) -> list[tuple[float, bytes]]:
    return [(sec, data) for sec, data in rig.ports.sent if data[0] & 0xF0 == status]


def finish(rig: EngineRig) -> int:
    return rig.engine._finish()


# ---- routing -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("route", "by_midi", "built_in"),
    [("midi", True, False), ("sound", False, True), ("both", True, True), ("click=sound,layers=midi", False, True)],
)
def test_the_click_goes_where_the_route_says(tmp_path: Path, route: str, by_midi: bool, built_in: bool) -> None:
    rig = begun(tmp_path, route=route)
    rig.command("start")
    rig.run_to(100.6)
    assert bool(on_wire(rig, 0x90)) == by_midi
    assert any(out.part == "click" for out in rig.sound.handed) == built_in
    finish(rig)


def test_every_message_leaves_at_its_moment_and_is_handed_over_before(tmp_path: Path) -> None:
    """Two clicks a second at 120: the first at the start, then every half second, within the step
    of the clock.
    """
    rig = begun(tmp_path, route="both")
    rig.run_to(100.2)
    rig.command("start")
    rig.run_to(102.0)
    moments = [sec for sec, _ in on_wire(rig, 0x90)]
    assert moments == pytest.approx([100.2, 100.7, 101.2, 101.7], abs=0.0011)
    clicks = [out.time_sec for out in rig.sound.handed if out.part == "click" and out.data[0] & 0xF0 == 0x90]
    assert clicks == pytest.approx([100.2, 100.7, 101.2, 101.7])
    finish(rig)


def test_the_keyboard_is_an_input_and_sounds_through(tmp_path: Path) -> None:
    rig = begun(tmp_path)
    key = KeyPlayed(pitch=43, on=True, velocity=80, string=2, played_sec=99.95)
    rig.engine.parts.inputs.key(key, 100.0)
    rig.turn()
    assert rig.ports.sent[-1][1] == bytes((0x90, 43, 80))
    (note,) = [one for one in rig.link.told if isinstance(one, NoteStarted)]
    assert (note.pitch, note.channel, note.stamp_sec) == (43, 1, pytest.approx(99.95))
    # A moment that cannot be believed is replaced by that of the arrival.
    for wrong in (50.0, 101.0):
        rig.engine.parts.inputs.key(KeyPlayed(pitch=44, on=True, velocity=80, played_sec=wrong), 100.0)
    rig.turn()
    assert [one.stamp_sec for one in rig.link.told if isinstance(one, NoteStarted)][1:] == [100.0, 100.0]
    finish(rig)


def test_an_instrument_has_a_sound_of_its_own(tmp_path: Path) -> None:
    rig = begun(tmp_path)
    rig.midi(NOTE)
    assert on_wire(rig, 0x90) == []
    rig.command("thru", on=True)
    rig.midi(OFF), rig.midi(NOTE)
    assert [data for _, data in on_wire(rig, 0x90)] == [NOTE]
    finish(rig)


def test_the_program_of_the_brief_goes_out(tmp_path: Path) -> None:
    rig = begun(tmp_path)
    rig.command("brief", fields={"program": 38})
    assert rig.ports.sent[-1][1] == bytes((0xC0, 37))
    finish(rig)


def test_the_mixer_answers_and_a_layer_that_is_new_sounds_at_0_db(tmp_path: Path) -> None:
    rig = begun(tmp_path, route="both")
    rig.command("level", part="layer 1", db=-20)
    assert rig.sound.levels.of("layer:1")[0] == -20.0
    rig.command("start")
    rig.run_to(100.1)
    rig.midi(NOTE)
    rig.run_to(100.4)
    rig.midi(OFF)
    rig.run_to(102.3)
    rig.command("loop-that")
    assert any(one.layers for one in rig.link.told if isinstance(one, LayersChanged))
    assert rig.sound.levels.of("layer:1")[0] == 0.0
    (last,) = [one for one in rig.link.told if isinstance(one, MixerChanged)][-1:]
    assert rig.link.told.index(last) > 0
    finish(rig)


def test_a_wrong_command_is_answered_and_written_nowhere(tmp_path: Path) -> None:
    rig = begun(tmp_path)
    for name, args in (
        ("late", {"port": float("inf")}),
        ("brief", {"fields": 0}),
        ("fly", {}),
        ("keep", {"passes": "x"}),
    ):
        rig.command(name, **args)
    answers = [one for one in rig.link.told if isinstance(one, Said)]
    assert len(answers) == 4 and all(one.wrong and one.text.endswith(".") for one in answers)
    finish(rig)
    names = {one.name for one in read_journal(rig.journal).records if isinstance(one, CommandRecord)}
    assert names <= {"thru", "silence", "stop"}


def test_a_page_that_cannot_be_written_is_answered(tmp_path: Path) -> None:
    rig = begun(tmp_path)
    rig.command("write-loop", layer="all")
    rig.command("write-take")
    rig.engine.turn()
    assert [one.text for one in rig.link.told if isinstance(one, Said)][-2:] == [NO_LAYER, NO_KEEP]
    finish(rig)


# ---- devices -------------------------------------------------------------------------------------


def test_an_input_that_goes_takes_its_notes_along(tmp_path: Path) -> None:
    rig = begun(tmp_path)
    rig.command("thru", on=True)
    rig.midi(NOTE)
    rig.ports.change("in", False, "bass is gone; looking for it.")
    rig.turn()
    assert on_wire(rig, 0x80)[-1][1] == OFF
    assert "bass is gone; looking for it." in said(rig)
    assert any(isinstance(one, DevicesChanged) for one in rig.link.told)
    # What is half a message now belongs to no message of the device that comes.
    rig.midi(b"\x90\x30")
    rig.ports.change("in", True, "bass is connected.")
    rig.midi(b"\x50\x90\x28\x5a")
    finish(rig)
    played = [one.data for one in read_journal(rig.journal).records if isinstance(one, MidiRecord)]
    assert played[0] == NOTE and played[-1] == NOTE


def test_an_input_of_our_own_that_nobody_is_connected_to_any_more_holds_no_note(tmp_path: Path) -> None:
    rig = begun(tmp_path)
    rig.command("thru", on=True)
    rig.midi(NOTE)
    rig.ports.change("in", True, "loopdeck in is open to others.")
    rig.turn()
    assert on_wire(rig, 0x80)[-1][1] == OFF
    finish(rig)


def test_an_output_that_comes_is_silenced_first(tmp_path: Path) -> None:
    """It may hang on notes from before it went."""
    rig = begun(tmp_path)
    before = rig.ports.silenced
    rig.ports.change("out", True, "box is connected.")
    rig.turn()
    assert rig.ports.silenced == before + 1
    finish(rig)


def test_a_sound_device_that_goes_is_said_and_playing_goes_on(tmp_path: Path) -> None:
    rig = begun(tmp_path, route="both")
    rig.command("start")
    rig.put(SoundChanged("The sound device has gone.", True))
    assert said(rig)[-1] == "The sound device has gone."
    assert isinstance([one for one in rig.link.told if isinstance(one, MixerChanged)][-1], MixerChanged)
    rig.run_to(100.6)
    assert len(on_wire(rig, 0x90)) == 2
    finish(rig)


# ---- windows -------------------------------------------------------------------------------------


def test_who_joins_late_learns_all_and_greetings_are_said_once(tmp_path: Path) -> None:
    broken = tmp_path / "corrections.json"
    broken.write_text("{")
    rig = begun(tmp_path, corrections=str(broken))
    first = [one.text for one in rig.link.welcomed[1] if isinstance(one, Said)]
    assert len(first) == 1 and "cannot be used" in first[0]
    rig.put(SessionOffered("Shall it be kept?"))
    rig.join(2)
    assert [one for one in rig.link.welcomed[2] if isinstance(one, Said)] == []
    (pending,) = [one for one in rig.link.welcomed[2] if isinstance(one, QuestionsPending)]
    assert pending.questions[0].accept.name == "keep-last-session"
    rig.put(SessionOffered(""))
    assert [one.questions for one in rig.link.told if isinstance(one, QuestionsPending)][-1] == ()
    finish(rig)


def test_the_last_window_that_goes_without_a_word_silences_and_is_brought_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[tuple[str, ...]] = []

    class Child:
        pid = 1

    monkeypatch.setattr(front_ends, "start_process", lambda command, env: started.append(command) or Child())
    monkeypatch.setattr(front_ends, "reset_priority", lambda pid: None)
    rig = begun(tmp_path, front=("window",))
    rig.join(2, "measurer")
    rig.command("start")
    rig.run_to(100.3)
    rig.did.clear()
    rig.leave()
    assert rig.engine.parts.session.looper.state == "STOPPED"
    assert "ports silence" in rig.did and "sound silence" in rig.did
    assert any("gone without a word" in text for text in said(rig))
    rig.run_to(rig.clock.now() + front_ends.BRING_BACK_SEC + 0.01)
    assert started == [("window",)]
    assert not rig.engine.parts.door.quit
    # Again and again: three times a minute at most, then it ends in order.
    for client in range(3, 7):
        if len(started) <= front_ends.MOST_RETURNS and not rig.engine.parts.door.quit:
            rig.join(client)
            rig.leave(client)
            rig.run_to(rig.clock.now() + front_ends.BRING_BACK_SEC + 0.01)
    assert len(started) == front_ends.MOST_RETURNS and rig.engine.parts.door.quit
    assert front_ends.NOBODY in said(rig)
    finish(rig)


def test_a_goodbye_ends_only_when_it_is_the_last(tmp_path: Path) -> None:
    rig = begun(tmp_path)
    rig.join(2)
    rig.leave(1, bye=True)
    assert not rig.engine.parts.door.quit
    rig.leave(2, bye=True)
    assert rig.engine.parts.door.quit
    finish(rig)


# ---- time and the end ----------------------------------------------------------------------------


def test_all_notes_off_is_sent_for_a_while_after_the_start(tmp_path: Path) -> None:
    rig = begun(tmp_path)
    rig.run_to(100.0 + SILENCE_FOR_SEC + 2.0)
    assert rig.ports.silenced == pytest.approx(SILENCE_FOR_SEC / SILENCE_EVERY_SEC, abs=1)
    assert earliest(rig.engine.parts.timers) is None
    finish(rig)


def test_ports_that_take_long_to_open_take_nothing_of_that_while(tmp_path: Path) -> None:
    """A MIDI system under load may need seconds between the making of an engine and its first
    turn.
    """
    rig = EngineRig(tmp_path)
    rig.clock.move_to(100.0 + 2.0 * SILENCE_FOR_SEC)
    rig.engine._begin()
    rig.run_to(rig.clock.now() + SILENCE_FOR_SEC + 2.0)
    assert rig.ports.silenced == pytest.approx(SILENCE_FOR_SEC / SILENCE_EVERY_SEC, abs=1)
    finish(rig)


def test_signals_steer_and_end(tmp_path: Path) -> None:
    rig = begun(tmp_path)
    if hasattr(signal, "SIGUSR1"):
        rig.put(SignalArrived(signal.SIGUSR1))
        assert rig.engine.parts.session.looper.state == "LISTENING"
    rig.put(SignalArrived(signal.SIGTERM))
    assert rig.engine.parts.door.quit
    finish(rig)


def test_the_order_of_the_end(tmp_path: Path) -> None:
    """First silence, then what must be saved, then the goodbye, then ports and sound; and the
    journal is whole.
    """
    rig = begun(tmp_path, route="both")
    rig.command("start")
    rig.run_to(100.1)
    rig.midi(NOTE)
    rig.command("keep")
    rig.did.clear()
    told = len(rig.link.told)
    # On its way when the end came: written down all the same.
    rig.engine.parts.inbox.put(MidiArrived(0, OFF, 0.0, rig.clock.now()))
    assert finish(rig) == 0
    assert rig.did == ["ports silence", "sound silence", "listener end", "link close", "ports close", "sound end"]
    last: list[Message] = rig.link.told[told:]
    assert any(isinstance(one, TakeKept) and one.number == 1 for one in last)
    journal = read_journal(rig.journal)
    assert journal.complete
    assert [one.data for one in journal.records if isinstance(one, MidiRecord)] == [NOTE, OFF]


def test_a_mistake_of_ours_silences_and_leaves_the_session_open(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig = EngineRig(tmp_path, route="both")
    rig.engine.parts.inbox.put(object())  # type: ignore[arg-type] - no event at all
    assert rig.engine.run() == 1
    assert "Traceback" in capsys.readouterr().err
    assert rig.did[-2:] == ["ports silence", "sound end"]
    assert not read_journal(rig.journal).complete


def test_an_engine_asleep_is_woken_by_what_comes(tmp_path: Path) -> None:
    """On the machine's own clock: a turn with nothing due sleeps until something is put into the
    inbox by another thread.
    """
    rig = begun(tmp_path)
    parts = rig.engine.parts
    parts.outputs.scheduler._clock = PerfClock()
    while parts.inbox.waker.sleep(0.0):
        pass
    timer = threading.Timer(0.05, lambda: parts.inbox.put(SessionOffered("")))
    begin = time.perf_counter()
    timer.start()
    assert parts.outputs.scheduler.wait(None, parts.inbox.waker)
    assert time.perf_counter() - begin > 0.04
    finish(rig)
