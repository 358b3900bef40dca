"""What was chosen before is used at the next start, where the device is there and the command line
says nothing else.
"""

import argparse
from pathlib import Path
from typing import Any

import pytest

from loopdeck.cli import jam
from loopdeck.errors import UserError
from loopdeck.midi import systems
from loopdeck.midi.port import System
from loopdeck.process.options import journal_path
from loopdeck.settings import PlayerSettings, change_settings, load_settings, save_settings

INS, OUTS = ["bass box 40:0", "pedal board 24:0"], ["module 20:0", "organ 28:0"]


@pytest.fixture(autouse=True)
def folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "config" / "settings.toml"
    monkeypatch.setattr("loopdeck.settings.settings_path", lambda: path)
    monkeypatch.setattr("loopdeck.configs.own_folder", lambda kind: tmp_path / "config" / kind)
    monkeypatch.setattr(systems, "look", lambda api="auto": (System(2, "ALSA", True), INS, OUTS))
    monkeypatch.setattr(systems, "list_ports", lambda system: (INS, OUTS))
    monkeypatch.setenv("DISPLAY", ":0")
    return path


def options(folder: Path, *words: str) -> Any:
    parser = argparse.ArgumentParser()
    jam.add_arguments(parser)
    return jam.options_of(
        parser.parse_args(["--journal", str(folder / "j"), "--shelf", str(folder / "s.sqlite"), *words])
    )  # fmt: skip


def test_what_was_chosen_is_used_again(tmp_path: Path) -> None:
    save_settings(PlayerSettings(("pedal board", "bass box"), ("organ",), "pedal board", "four-switch", "headphones"))
    found = options(tmp_path)
    assert (found.midi.ins, found.midi.outs) == (("pedal board", "bass box"), ("organ",))
    assert found.midi.controls.endswith("four-switch.toml") and found.midi.controls_in == "pedal board"
    assert found.sound.device == "headphones" and found.sound.route_rest == "midi"
    assert found.look["said"] == ""


def test_the_command_line_goes_before_it(tmp_path: Path) -> None:
    save_settings(PlayerSettings(("pedal board",), ("organ",), "pedal board", "four-switch", "headphones"))
    words = ("--in", "bass", "--out", "module", "--controls", "one-switch", "--controls-in", "virtual")
    found = options(tmp_path, *words, "--sound-device", "speakers")
    assert (found.midi.ins, found.midi.outs) == (("bass",), ("module",))
    assert found.midi.controls.endswith("one-switch.toml") and found.midi.controls_in == "virtual"
    assert found.sound.device == "speakers"


def test_a_device_that_is_not_there_is_said_and_the_first_one_is_taken(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    save_settings(PlayerSettings(("harp",), ("lute",), "lyre", "four-switch"))
    found = options(tmp_path)
    assert (found.midi.ins, found.midi.outs) == (("bass box 40:0",), ("module 20:0",))
    assert found.sound.route_rest == "sound" and found.midi.controls_in == ""
    said = capsys.readouterr().err
    for name in ("harp", "lute", "lyre"):
        assert f"{name!r} that you chose is not there now." in said and f"{name!r}" in found.look["said"]


def test_a_map_that_has_gone_or_is_damaged_is_said_and_none_is_used(tmp_path: Path, folders: Path) -> None:
    save_settings(PlayerSettings(controls="my-pedals"))
    found = options(tmp_path)
    assert found.midi.controls == "" and "no pedals are listened for" in found.look["said"]
    own = folders.parent / "controls" / "my-pedals.toml"
    own.parent.mkdir()
    own.write_text("[[control]]\n")
    assert "line 1" in options(tmp_path).look["said"]


def test_damaged_settings_are_one_sentence_and_the_defaults(tmp_path: Path, folders: Path) -> None:
    folders.parent.mkdir()
    folders.write_text("midi_in = [")
    found = options(tmp_path)
    assert found.midi.ins == ("bass box 40:0",) and found.look["said"].startswith("The settings cannot be used (")


def test_lines_of_a_newer_loopdeck_stay(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    path.write_text(
        '"a b" = 1\n"" = "x"\nday = 2031-05-06\nlist = [1, [true, {x = 1.5}]]\n'
        "[later]\n'x.y' = [2031-05-06T07:08:09Z, 07:08:09]\n"
    )
    before, said = load_settings(path)
    assert said == "" and len(before.more) == 5
    after = change_settings(path, sound_device="headphones")
    assert load_settings(path) == (after, "") and after.more == before.more


def test_a_port_of_our_own_is_remembered(tmp_path: Path) -> None:
    save_settings(PlayerSettings(("virtual",), ("virtual",)))
    found = options(tmp_path)
    assert (found.midi.ins, found.midi.outs, found.sound.route_rest) == (("virtual",), ("virtual",), "both")


def test_a_folder_for_the_journals_that_cannot_be_made_is_a_sentence(tmp_path: Path) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("")
    with pytest.raises(UserError, match=r"cannot be made \(.+\); name another folder with --journal\."):
        journal_path(in_the_way / "journals")
    assert journal_path(tmp_path / "new" / "journals").parent.is_dir()


def test_who_names_no_input_where_there_is_none_gets_the_first_that_comes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert not options(tmp_path).midi.first_come
    monkeypatch.setattr(systems, "look", lambda api="auto": (System(2, "ALSA", True), ["Midi Through 14:0"], OUTS))
    assert options(tmp_path).midi.ins == ("virtual",) and options(tmp_path).midi.first_come
    assert not options(tmp_path, "--in", "virtual").midi.first_come
