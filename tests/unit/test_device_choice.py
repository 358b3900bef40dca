"""Devices chosen while playing: the engine with fakes, the ports with a fake system, the sound, and
what is remembered.
"""

import time
from pathlib import Path
from typing import Any

import pytest

from loopdeck.audio import sounding
from loopdeck.audio.routes import Routes
from loopdeck.audio.sound_device import SoundDeviceError
from loopdeck.engine.device_memory import Chosen, DeviceMemory, beside, read_chosen
from loopdeck.engine.events import ToDo
from loopdeck.midi import ports as ports_module
from loopdeck.midi.port import CONNECTED, NONE, Port, System
from loopdeck.midi.ports import Ports
from loopdeck.protocol.messages import DeviceListChanged, MixerChanged, Said
from loopdeck.settings import PlayerSettings, change_settings, load_settings, save_settings, settings_to_toml
from tests.unit.engine_rig import EngineRig
from tests.unit.sound_rig import FakeDevice, Rig
from tests.unit.test_engine import begun, finish, on_wire

INS, OUTS = ["bass box 20:0", "keys 24:0", "twin 28:0", "twin 30:0"], ["module 20:0", "organ 24:0"]


@pytest.fixture(autouse=True)
def settings_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "config" / "settings.toml"
    monkeypatch.setattr("loopdeck.settings.settings_path", lambda: path)
    return path


def eventually(true: Any, what: str) -> None:
    end = time.monotonic() + 90
    while not true():
        assert time.monotonic() < end, what
        time.sleep(0.005)


def with_devices(folder: Path, **more: Any) -> EngineRig:
    rig = begun(folder, **more)
    rig.ports.on_list(INS, OUTS)
    rig.turn()
    return rig


def said(rig: EngineRig) -> list[Said]:
    return [one for one in rig.link.told if isinstance(one, Said)]


# ---- the engine ----------------------------------------------------------------------------------


def test_the_window_is_told_what_there_is_as_it_comes_and_goes(tmp_path: Path) -> None:
    rig = with_devices(tmp_path)
    rig.ports.on_list(INS[:1], OUTS)
    rig.ports.on_list(INS[:1], OUTS)
    rig.turn()
    lists = [one for one in rig.link.told if isinstance(one, DeviceListChanged)]
    assert [one.ins for one in lists[-2:]] == [tuple(INS), tuple(INS[:1])]
    assert lists[-1].outs == tuple(OUTS) and lists[-1].system == "Fake" and lists[-1].virtual
    rig.join(2)
    assert any(isinstance(one, DeviceListChanged) and one.ins for one in rig.link.welcomed[2]), "also who comes later"
    finish(rig)


def test_an_input_is_chosen_and_remembered_without_the_numbers_of_the_moment(
    tmp_path: Path, settings_file: Path
) -> None:
    rig = with_devices(tmp_path)
    rig.midi(bytes((0x90, 40, 90)))
    rig.command("device", role="in", name="keys 24:0")
    assert rig.ports.chosen == [("in", 0, "keys 24:0", "keys")]
    eventually(settings_file.exists, "the settings")
    assert load_settings()[0].midi_in == ("keys",)
    # Of two that are called the same, the one that was meant.
    rig.command("device", role="in", name="twin 30:0")
    assert rig.ports.chosen[-1] == ("in", 0, "twin 30:0", "twin 30:0")
    finish(rig)


def test_an_output_is_chosen_what_hangs_is_ended_and_what_sounds_where_follows(tmp_path: Path) -> None:
    rig = with_devices(tmp_path, route="")
    rig.sound.did.clear()
    rig.command("device", role="out", name="organ 24:0")
    assert ("out", 0, "organ 24:0", "organ") in rig.ports.chosen and "sound silence" in rig.did
    mixers = [one for one in rig.link.told if isinstance(one, MixerChanged)]
    assert rig.sound.routes.midi("click") and not rig.sound.routes.sound("click") and mixers
    rig.command("device", role="out", name="")
    assert rig.sound.routes.sound("click") and not rig.sound.routes.midi("click")
    rig.command("device", role="out", name="virtual")
    assert rig.sound.routes.sound("click") and rig.sound.routes.midi("click")
    rig.command("start")
    rig.run_to(100.6)
    assert on_wire(rig, 0x90)
    finish(rig)


def test_pedals_get_an_input_of_their_own_and_lose_it_again(tmp_path: Path, settings_file: Path) -> None:
    rig = with_devices(tmp_path, controls=str(Path("configs/controls/four-switch.toml").resolve()))
    pedal = bytes((0xB0, 80, 127))
    rig.midi(pedal, 0)
    assert rig.engine.parts.session.looper.state != "STOPPED", "so far on the instrument's input"
    rig.command("stop")
    rig.command("device", role="controls", name="keys 24:0")
    ((_, number, _, _),) = rig.ports.chosen
    assert number == 2, "after the input and the keyboard"
    rig.midi(pedal, 0)
    assert rig.engine.parts.session.looper.state == "STOPPED"
    rig.midi(pedal, number)
    assert rig.engine.parts.session.looper.state != "STOPPED"
    rig.command("stop")
    eventually(lambda: load_settings()[0].pedals_in == "keys", "the settings")
    rig.command("device", role="controls", name="")
    rig.run_to(rig.clock.now() + 0.1)
    rig.midi(pedal, 0)
    assert rig.engine.parts.session.looper.state != "STOPPED"
    finish(rig)


@pytest.mark.parametrize(
    ("args", "wrong"),
    [
        ({"role": "in", "name": "gone"}, "no MIDI input 'gone' any more"),
        ({"role": "out", "name": "bass box 20:0"}, "no MIDI output"),
        ({"role": "lamp", "name": "x"}, "in, out, controls or sound would be right, not 'lamp'"),
        ({"name": "x"}, "role"),
    ],
)
def test_a_device_that_is_not_there_is_a_sentence_and_changes_nothing(
    tmp_path: Path, settings_file: Path, args: dict[str, Any], wrong: str
) -> None:
    rig = with_devices(tmp_path)
    rig.command("device", **args)
    assert wrong in said(rig)[-1].text and said(rig)[-1].wrong
    assert not rig.ports.chosen
    finish(rig)
    assert not settings_file.exists()


def test_without_midi_there_is_a_sentence(tmp_path: Path) -> None:
    rig = with_devices(tmp_path)
    rig.ports.system = None
    rig.command("device", role="in", name="keys 24:0")
    assert "no MIDI system answered" in said(rig)[-1].text
    finish(rig)


def test_a_folder_that_cannot_be_written_is_said_and_the_device_is_in_use(tmp_path: Path) -> None:
    (tmp_path / "config").write_text("a file where the folder should be")
    rig = with_devices(tmp_path)
    rig.command("device", role="in", name="keys 24:0")
    assert rig.ports.chosen
    eventually(lambda: (rig.turn(), any("cannot be remembered" in one.text for one in said(rig)))[1], "the sentence")
    finish(rig)


def test_a_session_that_is_taken_up_again_has_the_devices_chosen_in_it(tmp_path: Path) -> None:
    rig = with_devices(tmp_path)
    rig.command("device", role="in", name="keys 24:0")
    rig.command("device", role="sound", name="headphones")
    eventually(lambda: read_chosen(str(rig.journal)).sound == "headphones", "the file beside the journal")
    rig.engine.parts.store.journal.abandon()
    rig.engine.parts.store.checkpointer.end(done=False)
    again = EngineRig(tmp_path, resume=True)
    again.engine._begin()
    again.turn()
    assert not again.ports.chosen, "not before it is known under which numbers the devices are there"
    for _ in range(2):
        again.ports.on_list(["keys 40:0"], OUTS)
        again.turn()
    assert again.ports.chosen == [("in", 0, "keys 40:0", "keys")]
    finish(again)
    assert not beside(str(rig.journal)).exists(), "gone when the session ends in order"


def test_a_damaged_file_beside_the_journal_is_nothing_chosen(tmp_path: Path) -> None:
    for text in ("", "{", "[]", '{"version": 1}', '{"version": 1, "chosen": [1], "controls": ""}'):
        beside(str(tmp_path / "a.journal")).write_text(text)
        assert read_chosen(str(tmp_path / "a.journal")) == Chosen()


def test_work_handed_over_is_done_in_order(tmp_path: Path) -> None:
    rig, done = begun(tmp_path), list[int]()
    rig.put(ToDo(lambda: done.append(1)), ToDo(lambda: done.append(2)))
    assert done == [1, 2]
    finish(rig)


# ---- the ports -----------------------------------------------------------------------------------


class FakeHandle:
    """A client of a MIDI system that has the ports in ``names``."""

    def __init__(self, names: list[str], did: list[str]) -> None:
        self.names, self.did, self.open = names, did, ""

    def get_ports(self) -> list[str]:
        return list(self.names)

    def open_port(self, index: int, title: str) -> None:
        self.open = self.names[index]
        self.did.append(f"open {self.open}")

    def open_virtual_port(self, name: str) -> None:
        self.open = name
        self.did.append(f"open {name}")

    def close_port(self) -> None:
        if self.open:
            self.did.append(f"close {self.open}")
        self.open = ""

    def set_callback(self, *_: Any) -> None: ...

    def get_message(self) -> None: ...

    def delete(self) -> None: ...

    def send_message(self, data: bytes) -> None:
        if data[:2] == bytes((0xB0, 123)):
            self.did.append(f"silence {self.open}")


class PortRig:
    """Real Ports on fake clients; requests are granted at once."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.ins, self.outs, self.did, self.said = list(INS), list(OUTS), list[str](), list[str]()
        patch.setattr(ports_module, "_client", lambda system, out: FakeHandle(self.outs if out else self.ins, self.did))
        patch.setattr(ports_module, "LEAVE_SEC", 0.0)
        self.ports = Ports(
            System(9, "Fake", True), ["bass"], ["module"], None, lambda *_: None,
            lambda port, sentence: self.said.append(sentence),
        )  # fmt: skip
        self.ports.open()
        self.did.clear()

    def choose(self, role: str, number: int, wanted: str, lasting: str) -> None:
        self.ports.choose(role, number, wanted, lasting)
        request = self.ports._requests.take()
        assert request is not None
        self.ports._grant(request)

    def states(self, role: str) -> list[tuple[str, str]]:
        return [(row["name"], row["state"]) for row in self.ports.devices() if row["role"] == role]


def test_another_input_is_opened_in_the_place_of_the_one_before(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = PortRig(monkeypatch)
    rig.choose("in", 0, "keys 24:0", "keys")
    assert rig.did == ["close bass box 20:0", "open keys 24:0"]
    assert rig.states("in") == [("keys 24:0", CONNECTED)]
    # It goes, and comes again under another number.
    rig.ins.remove("keys 24:0")
    rig.ports._look()
    rig.ins.append("keys 40:0")
    rig.ports._look()
    assert rig.states("in") == [("keys 40:0", CONNECTED)]


def test_an_output_is_silenced_before_it_is_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = PortRig(monkeypatch)
    rig.choose("out", 0, "organ 24:0", "organ")
    assert rig.did == ["silence module 20:0", "close module 20:0", "open organ 24:0"]
    rig.choose("out", 0, "virtual", "virtual")
    rig.choose("out", 0, "organ 24:0", "organ")
    assert rig.did[-4:] == ["open loopdeck out", "silence loopdeck out", "close loopdeck out", "open organ 24:0"]
    rig.choose("out", 0, "", "")
    rig.ports._look()
    assert rig.states("out") == [("none", NONE)] and rig.did[-1] == "close organ 24:0"


def test_an_input_for_pedals_is_added_and_taken_away(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = PortRig(monkeypatch)
    rig.choose("controls", 2, "keys 24:0", "keys")
    assert rig.states("controls") == [("keys 24:0", CONNECTED)] and rig.states("in") == [("bass box 20:0", CONNECTED)]
    rig.choose("controls", 2, "", "")
    rig.ports._look()
    assert rig.states("controls") == [("none", NONE)]
    rig.choose("controls", 2, "keys 24:0", "keys")
    assert rig.states("controls") == [("keys 24:0", CONNECTED)]


def test_a_device_that_goes_while_it_is_chosen_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = PortRig(monkeypatch)
    rig.ins.remove("keys 24:0")
    rig.choose("in", 0, "keys 24:0", "keys")
    assert rig.said[-1] == "keys 24:0 is not there any more; bass box 20:0 stays in use."
    assert rig.did == [] and rig.states("in") == [("bass box 20:0", CONNECTED)]


def test_what_there_is_is_told_at_each_look(monkeypatch: pytest.MonkeyPatch) -> None:
    rig, told = PortRig(monkeypatch), list[Any]()
    rig.ports.on_list = lambda ins, outs: told.append((ins, outs))
    rig.ports._look()
    assert told == [(INS, OUTS)]


def test_who_is_told_of_a_device_knows_who_is_connected_to_ours(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = PortRig(monkeypatch)
    rig.choose("in", 0, "virtual", "virtual")
    monkeypatch.setattr(rig.ports._own, "is_connected", lambda name: True)
    told: list[Any] = []
    rig.ports.on_list = lambda ins, outs: told.extend(rig.states("in"))
    rig.ports._look()
    assert told == [("loopdeck in", CONNECTED)]


def test_a_port_without_a_wish_is_called_none() -> None:
    assert Port("controls", "").shown == "none"


# ---- the sound -----------------------------------------------------------------------------------


def test_another_sound_device_takes_over_and_the_clock_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = Rig(monkeypatch)
    rig.settle()
    first, before = rig.sound._device, rig.clock.now()
    opened: list[str] = []

    class Other(FakeDevice):
        def __init__(self, fill: Any, frames: int, name: str = "") -> None:
            super().__init__(fill, frames, name)
            opened.append(name)
            self.name = name

    monkeypatch.setattr(sounding, "SoundDevice", Other)
    assert rig.sound.switch("headphones") == ""
    eventually(lambda: rig.said, "the sentence")
    assert isinstance(first, FakeDevice) and first.closed and opened == ["headphones"]
    assert rig.said == [("The sound device headphones sounds now.", False)]
    assert rig.sound.state(0.0).device == "headphones" and rig.clock.now() >= before


def test_a_sound_device_that_cannot_be_opened_leaves_the_one_before(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = Rig(monkeypatch)

    class Other(FakeDevice):
        def __init__(self, fill: Any, frames: int, name: str = "") -> None:
            if name == "broken":
                raise SoundDeviceError("There is no sound device 'broken'.")
            super().__init__(fill, frames, name)

    monkeypatch.setattr(sounding, "SoundDevice", Other)
    rig.sound.switch("broken")
    eventually(lambda: len(rig.said) == 2, "two sentences")
    assert rig.said[0] == ("There is no sound device 'broken'; the one before is used again.", True)
    assert rig.sound.state(0.0).device == "simulated"


def test_the_way_of_what_no_route_names() -> None:
    routes = Routes("click=sound", "sound")
    routes.set_rest("midi")
    assert (routes.midi("click"), routes.midi("layers"), routes.sound("live")) == (False, True, False)


# ---- the settings --------------------------------------------------------------------------------


def test_settings_are_read_back(settings_file: Path) -> None:
    names = ('a "quoted" box', "back\\slash", "Grüße, \u4e2d", "tab\there", "del\x7f")
    settings = PlayerSettings(names, ("virtual",), "pedals", "my-pedals", "headphones", {"later": 4, "on": True})
    save_settings(settings)
    assert load_settings() == (settings, "")
    assert change_settings(controls="other").midi_in == names


def test_no_settings_are_the_defaults() -> None:
    assert load_settings() == (PlayerSettings(), "")


@pytest.mark.parametrize("text", ["midi_in = 4\n", "oops", "sound_device = [1]\n", "midi_out = ['a', 2]\n", "\xff"])
def test_damaged_settings_are_one_sentence_and_the_defaults(settings_file: Path, text: str) -> None:
    settings_file.parent.mkdir(parents=True)
    settings_file.write_bytes(text.encode("latin-1"))
    found, why = load_settings()
    assert found == PlayerSettings() and why.startswith("The settings cannot be used (") and why.endswith(".")
    change_settings(sound_device="x")
    assert load_settings()[0].sound_device == "x"
    assert settings_file.with_name("settings.toml.broken").read_bytes() == text.encode("latin-1"), "nothing is lost"


def test_a_setting_that_is_not_set_is_not_written() -> None:
    assert settings_to_toml(PlayerSettings(controls="one-switch")).splitlines()[1:] == ['controls = "one-switch"']


def test_memory_ends_without_having_begun(tmp_path: Path) -> None:
    DeviceMemory(str(tmp_path / "a.journal"), Chosen(), lambda text: None).end()


def test_where_no_instrument_was_there_the_first_that_comes_is_taken(tmp_path: Path, settings_file: Path) -> None:
    rig = begun(tmp_path, first_come=True)
    rig.ports.state = "open to others"
    for there in ([], ["Midi Through 14:0"], ["Midi Through 14:0", *INS]):
        rig.ports.on_list(there, OUTS)
        rig.turn()
        assert rig.ports.chosen == ([("in", 0, "bass box 20:0", "bass box")] if INS[0] in there else [])
    # Only the first; and nobody chose it, so the next start looks anew.
    rig.ports.on_list(["Midi Through 14:0", *INS[1:]], OUTS)
    rig.turn()
    assert len(rig.ports.chosen) == 1 and not settings_file.exists()
    finish(rig)


def test_an_engine_that_takes_over_leaves_the_input_that_was_chosen(tmp_path: Path) -> None:
    rig = begun(tmp_path, first_come=True)
    rig.command("device", role="in", name="")
    eventually(lambda: read_chosen(str(rig.journal)).names, "the file beside the journal")
    rig.engine.parts.store.journal.abandon()
    rig.engine.parts.store.checkpointer.end(done=False)
    again = EngineRig(tmp_path, resume=True, first_come=True)
    again.ports.state = "open to others"
    again.engine._begin()
    again.ports.on_list(INS, OUTS)
    again.turn()
    assert again.ports.chosen == [("in", 0, "", "")]
    finish(again)


@pytest.mark.parametrize("why", ["chosen", "played"])
def test_an_instrument_that_the_player_has_is_not_replaced(tmp_path: Path, why: str) -> None:
    rig = begun(tmp_path, first_come=True)
    rig.ports.state = "connected" if why == "played" else "open to others"
    if why == "chosen":
        rig.command("device", role="in", name="virtual")
    before = list(rig.ports.chosen)
    rig.ports.on_list(INS, OUTS)
    rig.turn()
    assert rig.ports.chosen == before
    finish(rig)
