"""Routes, levels, and how what sounds gets from the thread that plays to the device's."""

import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from loopdeck.audio import sounding
from loopdeck.audio.output import NoSound
from loopdeck.audio.routes import Routes, mixer_part
from loopdeck.audio.sound_device import SoundDeviceError
from loopdeck.audio.sounding import open_sound
from loopdeck.brief.brief import Brief
from loopdeck.capture.journal import JournalWriter
from loopdeck.errors import UserError
from loopdeck.looper.layers import channel_of
from loopdeck.looper.mixer_parts import part_of_words
from loopdeck.looper.voices import Out
from loopdeck.midi.control_files import controls_from_toml
from loopdeck.process.options import Options, SoundOptions
from loopdeck.protocol.messages import PartRow
from loopdeck.session.opening import open_session
from loopdeck.session.session import header
from loopdeck.synth.mixer import MASTER_START
from tests.unit.sound_rig import RATE, Rig


def options(**more: object) -> Options:
    return Options(**{"address": "", "journal": "", "shelf": "", "brief": {}, **more})  # type: ignore[arg-type]


def test_routes() -> None:
    routes = Routes("click=sound, layers=both,live=MIDI", rest="midi")
    ways = {part: (routes.sound(part), routes.midi(part)) for part in ("click", "layer", "live", "drums")}
    assert ways == {"click": (True, False), "layer": (True, True), "live": (False, True), "drums": (False, True)}
    assert not Routes("midi").any_sound()
    assert Routes("midi,drums=sound").any_sound()


@pytest.mark.parametrize("text", ["click=loud", "bass=sound", "click", "layers=", "=sound", "click=sound=midi"])
def test_routes_that_are_none(text: str) -> None:
    with pytest.raises(UserError, match=r"not a route; .*click=sound"):
        Routes(text)


def test_the_layers_channels_are_their_numbers() -> None:
    channels = [*range(1, 9), *range(10, 16)]
    assert [mixer_part("layer", channel) for channel in channels] == [f"layer:{n}" for n in range(1, 15)]
    assert mixer_part("click", 9) == "click" and mixer_part("live", 0) == "live"
    # Whatever a layer is called, the level set for it is that of the channel it plays on.
    for number in range(1, 60):
        assert part_of_words(f"layer {number}") == mixer_part("layer", channel_of(number))


@pytest.mark.parametrize(
    ("words", "part"), [("layer 2", "layer:2"), ("Layer:3", "layer:3"), (4, "layer:4"), ("master", "master"), ("Click", "click")]
)  # fmt: skip
def test_what_parts_are_called(words: object, part: str) -> None:
    assert part_of_words(words) == part


def test_levels_and_mutes_reach_the_mixer_in_the_devices_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = Rig(monkeypatch)
    assert rig.sound.apply("level", {"part": "click", "db": -6}) == ("The click sounds at -6 dB.", False)
    assert rig.sound.apply("level", {"part": "click", "by": 2}) == ("The click sounds at -4 dB.", False)
    assert rig.sound.apply("sound-mute", {"part": "layer 2"}) == ("Layer 2 is muted in the built-in sound.", False)
    assert rig.sound.apply("sound-mute", {"part": "layer 2", "on": False})[0].startswith("Layer 2 is heard")
    assert rig.mixer.told == []
    rig.ask(rig.host)
    assert [told for told in rig.mixer.told if told[1] is not False or told[0] != "click"] == [
        ("click", -6.0), ("click", -4.0), ("layer:2", 0.0), ("layer:2", True), ("layer:2", 0.0), ("layer:2", False),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "args", [{"part": "flute", "db": 0}, {"part": "click"}, {"db": 100}, {"db": "loud"}, {"db": float("nan")}, {"db": True}]
)  # fmt: skip
def test_levels_that_cannot_be_are_said(monkeypatch: pytest.MonkeyPatch, args: dict[str, object]) -> None:
    rig = Rig(monkeypatch)
    text, wrong = rig.sound.apply("level", args)
    assert wrong and text.endswith(".")
    rig.ask(rig.host)
    assert rig.mixer.told == []


def test_no_sound_to_be_set() -> None:
    assert NoSound().apply("level", {"db": 0})[1]
    told = NoSound().state(0.0)
    assert told.parts == () and told.why.endswith(".")
    assert NoSound("There is none.").state(0.0).why == "There is none."


def test_what_the_window_is_told_of_the_levels(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = Rig(monkeypatch, route="click=both,layers=midi,drums=sound,live=sound")
    rig.sound.apply("level", {"part": "layer 16", "db": -5})
    rig.sound.apply("sound-mute", {"part": "click"})
    told = rig.sound.state(0.0)
    parts = {one.part: one for one in told.parts}
    assert told.device == "simulated" and len(parts) == 4 + 14
    assert parts["master"] == PartRow(part="master", db=MASTER_START, muted=False, way="")
    assert parts["click"] == PartRow(part="click", db=0.0, muted=True, way="both")
    assert parts["layer:2"] == PartRow(part="layer:2", db=-5.0, muted=False, way="midi")


def test_an_engine_that_comes_back_sounds_as_it_was_set(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    path = tmp_path / "one.journal"
    brief = Brief.default()
    writer = JournalWriter(path, header(brief, 0.0))
    writer.command(0.5, "start", {})
    for args in ({"part": "master", "db": -9}, {"part": "click", "by": -3}, {"part": "click", "by": -3}):
        writer.mark("sound", {"name": "level", "args": args})
    writer.mark("sound", {"name": "sound-mute", "args": {"part": "layer 2"}})
    writer.mark("sound report", {"late": 0})
    writer.close()
    session, writer, _ = open_session(options(journal=str(path), resume=True), 10.0)
    writer.close()
    rig = Rig(monkeypatch)
    assert session.levels is not None
    rig.sound.set(session.levels)
    rig.ask(rig.host)
    assert {told for told in rig.mixer.told if told[1] not in (0.0, False)} == {
        ("master", -9.0), ("click", -6.0), ("layer:2", True),
    }  # fmt: skip
    parts = {one.part: one for one in rig.sound.state(0.0).parts}
    assert parts["master"].db == -9.0 and parts["click"].db == -6.0 and parts["layer:2"].muted


def test_what_is_played_sounds_always_equally_late(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wherever in a buffer a note comes in: from the hand to the ear is always the same, and never
    a place that was rendered already.
    """
    rig = Rig(monkeypatch, 256)
    rig.settle()
    rig.ask(rig.host + 256 / RATE)
    base = rig.host
    late = []
    for offset in np.linspace(0, 255, 40) / RATE:
        # The n-th buffer is asked for, then the note comes somewhere before the next one.
        rig.ask(base := base + 256 / RATE)
        rig.host = base + float(offset)
        rig.sound.hand(Out(0.0, bytes((0x90, 40, 100)), "live"))
        heard = rig.clock.now()
        rig.ask(base := base + 256 / RATE)
        event, before = rig.mixer.fed[-1]
        assert event.sample >= before
        late.append(event.sample / RATE + (rig.clock._origin or 0.0) - heard)
    assert max(late) - min(late) < 2.5 / RATE
    assert max(late) == pytest.approx(rig.clock.delay_sec + 256 / RATE + sounding.LIVE_SEC, abs=0.0001)


def test_only_what_is_routed_there_is_handed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = Rig(monkeypatch, route="midi,click=sound")
    rig.settle()
    sec = rig.clock.now() + 0.1
    rig.sound.hand(Out(sec, bytes((0x91, 40, 100)), "layer"))
    rig.sound.hand(Out(sec, bytes((0x99, 76, 100)), "click"))
    rig.ask(rig.host)
    assert [event.part for event, _ in rig.mixer.fed] == ["click"]


def test_time_begins_late_enough_for_the_first_click(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = Rig(monkeypatch)
    rig.settle()
    now = rig.clock.now()
    assert rig.sound.begin_sec(now) == pytest.approx(now + rig.sound.ahead_sec)
    rig.sound.hand(Out(rig.sound.begin_sec(now), bytes((0x99, 76, 100)), "click"))
    rig.ask(rig.host + rig.frames / RATE)
    assert rig.sound.report()["late"] == 0


def test_a_lost_device_is_said_once_and_found_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sounding, "RETRY_SEC", 0.01)
    rig = Rig(monkeypatch)
    rig.settle()
    rig.sound.apply("level", {"part": "click", "db": -6})
    old = rig.sound._device
    assert old is not None
    rig.sound.rest()
    assert rig.said == []
    old.there = False  # type: ignore[attr-defined]
    before = rig.clock.now()
    rig.sound.rest()
    rig.sound.rest()
    deadline = time.perf_counter() + 90
    while len(rig.said) < 2 and time.perf_counter() < deadline:
        time.sleep(0.01)
    assert [wrong for _, wrong in rig.said] == [True, False]
    assert old.closed and rig.clock.now() >= before  # type: ignore[attr-defined]
    assert ("click", -6.0) in rig.mixer.told
    rig.settle()
    assert rig.mixer.asked > 0 and rig.clock.now() >= before


def test_no_device_is_one_sentence_and_no_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "nosuch")
    sound, text = open_sound(SoundOptions("auto"))
    assert not sound.present and sound.state(0.0).why == text
    assert text.count(".") == 1 and text.endswith("; everything else goes on.")
    with pytest.raises(SoundDeviceError):
        open_sound(SoundOptions("on"))
    # A session that is taken up again must not end because the device went.
    assert not open_sound(SoundOptions("on"), resume=True)[0].present


_LOOKED_FOR_OFTEN = """
import numpy as np
from loopdeck.audio.sound_device import SoundDevice, sound_device_names

device = SoundDevice(lambda frames: np.zeros((frames, 2), np.float32))
assert all(sound_device_names() for _ in range(300)) and device.alive()
device.close()
"""


def test_a_device_survives_being_listed_for_hours() -> None:
    env = os.environ | {"SDL_AUDIODRIVER": "dummy"}
    done = subprocess.run(
        [sys.executable, "-c", _LOOKED_FOR_OFTEN], env=env, capture_output=True, text=True, timeout=360, check=False
    )
    assert done.returncode == 0, done.stderr


def test_nothing_is_opened_when_nothing_would_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "nosuch")
    for words in (SoundOptions("auto", route_rest="midi"), SoundOptions("off")):
        sound, text = open_sound(words)
        assert not sound.present and text == ""


def test_levels_and_mutes_from_a_pedal() -> None:
    found = controls_from_toml(
        '[[control]]\non = "control change"\nnumber = 83\n'
        'short = { command = "level", args = { part = "click", by = -3 } }\n'
        'long = { command = "sound-mute", args = { part = "click" } }\n'
    )
    short = found.switches[0].short
    assert short is not None and (short.command, short.args) == ("level", {"part": "click", "by": -3})
    with pytest.raises(UserError, match="'level' does not take 'loud'; it takes part, db, by"):
        controls_from_toml(
            '[[control]]\non = "note"\nnumber = 1\ncommand = "level"\nargs = { part = "click", loud = 1 }\n'
        )
