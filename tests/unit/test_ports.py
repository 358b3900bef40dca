"""Ports: which one is meant by a part of a name, and sentences where there is none. (Real ports:
tests/live.)
"""

import os
import subprocess
import sys
from types import SimpleNamespace

import pytest

from loopdeck.errors import UserError
from loopdeck.midi import systems
from loopdeck.midi.port import System
from loopdeck.midi.systems import check_wanted, find_system, pick, quiet, what_is_missing

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
