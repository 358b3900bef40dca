"""Ports: which one is meant by a part of a name, and sentences where there is none. (Real ports:
tests/live.)
"""

import os
import subprocess
import sys
import threading
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from loopdeck.engine.build import open_ports
from loopdeck.errors import UserError
from loopdeck.midi import systems
from loopdeck.midi.connections import ConnectionFile, Connections
from loopdeck.midi.own_ports import OwnPorts
from loopdeck.midi.port import LOOKING, NONE, System, open_by_name
from loopdeck.midi.port_set import NoPorts
from loopdeck.midi.ports import REACH_TRIES, Ports, open_now
from loopdeck.midi.systems import check_wanted, find_system, pick, quiet, what_is_missing
from loopdeck.process.options import MidiOptions, Options
from tests.waiting import PATIENCE_SEC, until

NAMES = ["Midi Through 14:0", "Copper Bass 20:0", "Copper Bass Pro 24:0", "bass"]
SYSTEM = System(2, "ALSA", True)


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ("copper", "Copper Bass 20:0"),
        ("PRO", "Copper Bass Pro 24:0"),
        ("bass", "bass"),
        ("Bass", "bass"),
        ("through", "Midi Through 14:0"),
        ("copper bass pro 24:0", "Copper Bass Pro 24:0"),
        ("oboe", None),
        ("", None),
        ("  ", None),
    ],
)
def test_the_port_meant(wanted: str, found: str | None) -> None:
    assert pick(wanted, NAMES) == found


def test_a_port_is_taken_once() -> None:
    assert pick("copper", NAMES, ["Copper Bass 20:0"]) == "Copper Bass Pro 24:0"
    assert pick("oboe", NAMES, NAMES) is None


def test_our_own_ends_of_connections_are_no_devices() -> None:
    ours = ["loopdeck:out 129:0", "loopdeck-01:in 1", "loopdeck:loopdeck in", "loopdeck silence:RtMidi Output 130:0"]
    assert systems.foreign([*ours, "loopdecker:out", *NAMES]) == ["loopdecker:out", *NAMES]


def test_an_unknown_port_is_a_sentence_that_lists_them(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(systems, "list_ports", lambda system: (NAMES[:2], []))
    with pytest.raises(UserError) as caught:
        check_wanted(SYSTEM, ["oboe"], [], None)
    assert str(caught.value) == (
        "There is no MIDI input with 'oboe' in its name; there are 'Midi Through 14:0', 'Copper Bass 20:0', "
        "and 'virtual' opens one of our own."
    )
    with pytest.raises(UserError, match=r"no MIDI output with 'oboe'.*is none"):
        check_wanted(SYSTEM, ["copper"], ["oboe"], None)
    with pytest.raises(UserError, match="no MIDI input with 'pedal'"):
        check_wanted(SYSTEM, [], [], "pedal")
    check_wanted(SYSTEM, ["copper", "virtual"], ["virtual"], "virtual")
    with pytest.raises(UserError, match="no virtual ports"):
        check_wanted(System(4, "Windows MM", False), ["virtual"], [], None)


def test_an_unknown_system_is_a_sentence() -> None:
    with pytest.raises(UserError, match="take one of auto, alsa, jack"):
        find_system("bagpipe")
    for api in systems.APIS:
        assert what_is_missing(api).startswith("There is no MIDI")


@pytest.mark.parametrize(
    ("built_in", "says"),
    [
        (("ALSA", "JACK"), "no MIDI system answers, neither ALSA nor JACK"),
        (("CoreMIDI",), "CoreMIDI does not answer"),
        (("Windows MM",), "Windows MM does not answer"),
        (("JACK", "CoreMIDI"), "no MIDI system answers, neither JACK nor CoreMIDI"),
        ((), "no MIDI system answers"),
    ],
)
def test_the_systems_that_do_not_answer_are_those_of_this_machine(
    monkeypatch: pytest.MonkeyPatch, built_in: tuple[str, ...], says: str
) -> None:
    constants = {constant: number for number, constant in enumerate(systems._SYSTEMS)}
    numbers = [list(systems._SYSTEMS.values()).index(name) for name in built_in]
    fake = SimpleNamespace(**constants, get_compiled_api=lambda: numbers)
    monkeypatch.setitem(sys.modules, "rtmidi", fake)
    assert what_is_missing() == f"There is no MIDI: {says}"


@pytest.mark.parametrize("name", ["ALSA", "JACK", "CoreMIDI", "Windows MM"])
def test_a_system_that_was_found_is_found_again_by_its_name(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """The engine is told by name which system the command found."""
    constants = {constant: number for number, constant in enumerate(systems._SYSTEMS)}
    number = list(systems._SYSTEMS.values()).index(name)
    client = SimpleNamespace(delete=lambda: None)
    known = {"get_compiled_api": lambda: [number], "MidiIn": lambda api, name: client}
    monkeypatch.setitem(sys.modules, "rtmidi", SimpleNamespace(**constants, **known))
    found = find_system()
    assert found is not None and found.name == name
    assert find_system(name.lower()) == found


class ShiftingClient:
    """A client of RtMidi's whose list of ports is another one each time it is asked, in turn; the
    last one stays.
    """

    def __init__(self, *lists: list[str]) -> None:
        self.lists = list(lists)
        self.connected: list[str | None] = []

    def get_ports(self) -> list[str]:
        return self.lists.pop(0) if len(self.lists) > 1 else self.lists[0]

    def open_port(self, place: int, title: str) -> None:
        there = self.get_ports()
        self.connected.append(there[place] if place < len(there) else None)

    def close_port(self) -> None:
        self.connected.pop()


def test_a_port_is_opened_by_its_name_though_others_come_and_go() -> None:
    steady = ShiftingClient(["a", "b"])
    assert open_by_name(steady, "b", "in 1") and steady.connected == ["b"]
    # Looked up, opened when another one has gone, looked up again.
    for between in (["b", "c"], ["b"]):
        shifting = ShiftingClient(["a", "b"], between, between, between)
        assert open_by_name(shifting, "b", "in 1") and shifting.connected == ["b"]
    gone = ShiftingClient(["a", "b"], ["a"])
    assert not open_by_name(gone, "b", "in 1") and gone.connected == []
    restless = ShiftingClient(*[["a", "b"], ["b", "a"], ["b", "a"]] * 50)
    assert not open_by_name(restless, "b", "in 1") and restless.connected == []


def test_a_system_asked_for_by_name_may_turn_a_client_away_once(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    def make(api: int, name: str) -> SimpleNamespace:
        asked.append(api)
        if len(asked) == 1:
            raise SystemError("not now")
        return SimpleNamespace(delete=lambda: None)

    constants = {constant: number for number, constant in enumerate(systems._SYSTEMS)}
    jack = constants["API_UNIX_JACK"]
    known = {"get_compiled_api": lambda: [jack], "MidiIn": make}
    monkeypatch.setitem(sys.modules, "rtmidi", SimpleNamespace(**constants, **known))
    monkeypatch.setattr(systems, "ASK_AGAIN_SEC", 0.0)
    assert find_system("auto") is None
    asked.clear()
    found = find_system("jack")
    assert found is not None and found.name == "JACK" and len(asked) == 2


def test_a_client_that_was_kept_waiting_is_thrown_away_with_jack(monkeypatch: pytest.MonkeyPatch) -> None:
    """JACK's server refuses to run it then, and RtMidi does not say."""
    waits, thrown, now = iter([5.0, 5.0, 0.03]), [], [100.0]

    def make(api: int, name: str) -> SimpleNamespace:
        now[0] += next(waits)
        return SimpleNamespace(name=name, delete=lambda: thrown.append(name))

    monkeypatch.setitem(sys.modules, "rtmidi", SimpleNamespace(MidiOut=make))
    monkeypatch.setattr(systems, "time", SimpleNamespace(monotonic=lambda: now[0]))
    assert systems.new_client(SYSTEM, "MidiOut", "alsa").name == "alsa" and thrown == []
    assert systems.new_client(System(1, "JACK", True), "MidiOut", "jack").name == "jack" and thrown == ["jack"]
    waits = iter([5.0] * systems.CLIENT_TRIES)
    with pytest.raises(OSError, match="JACK does not run a new client"):
        systems.new_client(System(1, "JACK", True), "MidiOut", "jack")


class NamedServer:
    """A JACK server, and a client of RtMidi's in it, by the calls that ends of connections are made
    with.
    """

    def __init__(self, refuse: bool) -> None:
        self.ports = {"loopdeck-01:in 1", "loopdeck-01:out", "bass:line"}
        self.refuse = refuse
        self.links: list[tuple[str, str]] = []

    def ports_named(self, short: str) -> set[str]:
        return {name for name in self.ports if name.endswith(f":{short}")}

    def connect(self, source: str, destination: str) -> bool:
        self.links += [] if self.refuse else [(source, destination)]
        return not self.refuse

    def get_ports(self) -> list[str]:
        return ["another:line", "bass:line"]

    def open_port(self, place: int, title: str) -> None:
        self.ports |= {f"loopdeck-02:{title}", f"loopdeck silence:{title}", f"stranger:{title}"}

    def close_port(self) -> None:
        self.ports -= {"loopdeck-02:in 1", "loopdeck-02:out"}


@pytest.mark.parametrize(
    ("is_output", "link"),
    [(False, ("bass:line", "loopdeck-02:in 1")), (True, ("loopdeck-02:out", "bass:line"))],
)
def test_a_connection_that_jack_refuses_is_noticed(is_output: bool, link: tuple[str, str]) -> None:
    own, title = OwnPorts("JACK"), "out" if is_output else "in 1"
    for refuse in (False, True):
        server: Any = NamedServer(refuse)
        own._jack = server
        assert own.open_end(server, "bass:line", title, is_output) is not refuse
        assert server.links == ([] if refuse else [link])
        assert (f"loopdeck-02:{title}" in server.ports) is not refuse


def test_a_missing_system_makes_no_noise() -> None:
    """libjack and ALSA write to standard error by themselves."""
    code = "from loopdeck.midi.systems import find_system; print(find_system('jack'))"
    env = {**os.environ, "JACK_DEFAULT_SERVER": "loopdeck-nobody", "JACK_NO_START_SERVER": "1"}
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True)
    assert done.stdout == "None\n"
    assert done.stderr == ""


def test_quiet_is_over_afterwards(capfd: pytest.CaptureFixture[str]) -> None:
    with quiet():
        os.write(2, b"noise")
    os.write(2, b"words")
    assert capfd.readouterr().err == "words"


def test_two_threads_may_ask_for_quiet_at_once(capfd: pytest.CaptureFixture[str]) -> None:
    first, second = quiet(), quiet()
    with first:
        second.__enter__()
    os.write(2, b"noise")
    second.__exit__(None, None, None)
    os.write(2, b"words")
    assert capfd.readouterr().err == "words"


def test_a_session_that_ends_while_its_system_is_gone_leaves_no_note_of_connections(tmp_path: Path) -> None:
    memory = ConnectionFile(f"unix:{tmp_path}/a")
    memory.write(Connections("JACK", listeners=("module:in",)))
    found = Ports(SYSTEM, [], [], None, lambda port, data, sec: None, memory=memory)
    found._dead.set()
    found.close()
    assert not memory.path.exists()


def test_a_port_for_which_none_was_chosen_does_not_go_with_its_system() -> None:
    said: list[str] = []
    found = Ports(SYSTEM, ["synth"], [""], None, lambda *event: None, lambda port, sentence: said.append(sentence))
    found._lists = (None, None)
    found._forget_system()
    assert said == ["ALSA has gone, and synth with it; looking for it."]
    assert [row["state"] for row in found.devices()] == [LOOKING, NONE]


def test_clients_in_use_by_a_thread_that_is_held_up_are_left_to_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("loopdeck.midi.ports.END_SEC", 0.01)
    done, touched = threading.Event(), []
    found = Ports(SYSTEM, [], ["synth"], None, lambda port, data, sec: None)
    handle = SimpleNamespace(close_port=lambda: touched.append("closed"), delete=lambda: touched.append("deleted"))
    found.ports[0].handle = handle
    found._thread = threading.Thread(target=done.wait, args=(PATIENCE_SEC,), daemon=True)
    found._thread.start()
    found.close()
    assert not touched and found.abandoned == [handle]
    done.set()
    found._thread.join()
    found.close()
    assert touched == ["closed", "deleted"]


@pytest.mark.parametrize("refusals", [0, 2, 100])
def test_a_port_that_is_to_be_there_at_once_is_tried_again(monkeypatch: pytest.MonkeyPatch, refusals: int) -> None:
    monkeypatch.setattr("loopdeck.midi.ports.REACH_AGAIN_SEC", 0.0)
    found = Ports(SYSTEM, [], ["synth"], None, lambda port, data, sec: None)
    looks: list[int] = []

    def look() -> None:
        looks.append(1)
        found.ports[0].live = len(looks) > refusals

    monkeypatch.setattr(found, "_begin", lambda: True)
    monkeypatch.setattr(found, "_lists", (None, None))
    monkeypatch.setattr(found, "_look", look)
    if refusals > REACH_TRIES:
        with pytest.raises(UserError, match="does not let us reach 'synth' now"):
            open_now(found)
    else:
        open_now(found)
    assert len(looks) == 1 + min(refusals, REACH_TRIES)


def test_a_system_asked_for_by_name_is_looked_for_until_it_answers(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """As after a death of the engine and of JACK's server."""
    answers, said = [False], list[str]()

    def make(api: int, name: str, **more: int) -> SimpleNamespace:
        if not answers[0]:
            raise SystemError("no server")
        return SimpleNamespace(
            open_virtual_port=said.append, get_ports=list, ignore_types=lambda **kinds: None, delete=lambda: None,
            close_port=lambda: None,
        )  # fmt: skip

    constants = {constant: number for number, constant in enumerate(systems._SYSTEMS)}
    known = {"get_compiled_api": lambda: [constants["API_UNIX_JACK"]], "MidiIn": make, "MidiOut": make}
    monkeypatch.setitem(sys.modules, "rtmidi", SimpleNamespace(**constants, **known))
    monkeypatch.setattr("loopdeck.midi.own_ports.open_jack_client", lambda on_death: None)
    monkeypatch.setattr("loopdeck.midi.ports.LOOK_EVERY_SEC", 0.001)
    monkeypatch.setattr(systems, "ASK_AGAIN_SEC", 0.0)
    options = Options(f"unix:{tmp_path / 'link'}", "", "", {}, MidiOptions(api="jack", outs=("virtual",)))
    ports = open_ports(options, lambda *event: None, lambda port, sentence: said.append(sentence))
    ports.open()
    assert said == ["JACK does not answer, so loopdeck out is not there; looking for it."]
    answers[0] = True
    ports.watch()
    until(lambda: ports.devices()[0]["state"] != LOOKING)
    ports.close()
    assert said[1:] == ["loopdeck out", "loopdeck out is open to others."]
    assert isinstance(
        open_ports(replace(options, midi=MidiOptions()), lambda *event: None, lambda port, sentence: None), NoPorts
    )
