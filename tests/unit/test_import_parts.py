"""Which part of a file comes in: the bass where there is one, another by name or number, all on
demand; marks come along.
"""

import json
from pathlib import Path

import mido
import pytest

from loopdeck.cli.main import main

BASS, PIANO, DRUMS = 33, 0, 9


def band(path: Path, *parts: tuple[str, int, int, int]) -> Path:
    """A file with a track for each (name, channel, program, pitch), four notes each."""
    file = mido.MidiFile(ticks_per_beat=480)
    for name, channel, program, pitch in parts:
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=name)] if name else [])
        track.append(mido.Message("program_change", channel=channel, program=program))
        for number in range(4):
            track.append(mido.Message("note_on", channel=channel, note=pitch + number, velocity=90, time=0))
            track.append(mido.Message("note_off", channel=channel, note=pitch + number, time=480))
        file.tracks.append(track)
    file.save(path)
    return path


def brought(
    shelf: Path, path: Path, capsys: pytest.CaptureFixture[str], *more: str
) -> tuple[dict[str, object], set[int]]:
    """What the command says, and the pitches of the take."""
    assert main(["takes", "--shelf", str(shelf), "import", str(path), "--json", *more]) == 0
    said: dict[str, object] = json.loads(capsys.readouterr().out)
    assert main(["quantize", str(said["number"]), "--shelf", str(shelf), "--json"]) == 0
    return said, {note["pitch"] for note in json.loads(capsys.readouterr().out)["notes"]}


def test_the_bass_is_taken_and_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    named = band(tmp_path / "a.mid", ("keys", 0, PIANO, 60), ("the bass line", 1, PIANO, 30), ("drums", DRUMS, 0, 36))
    said, pitches = brought(tmp_path / "s", named, capsys)
    assert (said["part"], said["parts"]) == ("the bass line", 3) and pitches == {30, 31, 32, 33}
    by_program = band(tmp_path / "b.mid", ("low", 1, BASS, 30), ("high", 0, PIANO, 60))
    assert brought(tmp_path / "s", by_program, capsys)[0]["part"] == "low"
    assert main(["takes", "--shelf", str(tmp_path / "s"), "import", str(named)]) == 0
    assert "It is the part 'the bass line' of 3; --part takes another" in capsys.readouterr().out


def test_another_part_by_name_or_number_and_all(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = band(tmp_path / "a.mid", ("keys", 0, PIANO, 60), ("bass", 1, BASS, 30))
    for word in ("Keys", "1"):
        assert brought(tmp_path / "s", path, capsys, "--part", word)[1] == {60, 61, 62, 63}
    said, pitches = brought(tmp_path / "s", path, capsys, "--part", "all")
    assert "part" not in said and len(pitches) == 8
    assert main(["takes", "--shelf", str(tmp_path / "s"), "import", str(path), "--part", "horns"]) == 2
    assert capsys.readouterr().err == f"loopdeck: {path} has no part 'horns'; its parts are keys, bass.\n"


def test_channels_of_one_track_are_parts_where_they_differ(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file, track = mido.MidiFile(type=0), mido.MidiTrack()
    track += [
        mido.Message("program_change", channel=1, program=BASS),
        mido.Message("program_change", channel=0, program=PIANO),
    ]
    for channel, pitch in ((1, 30), (0, 60), (DRUMS, 36)):
        track += [mido.Message("note_on", channel=channel, note=pitch, velocity=90, time=0)]
        track += [mido.Message("note_off", channel=channel, note=pitch, time=240)]
    file.tracks.append(track)
    file.save(tmp_path / "one.mid")
    said, pitches = brought(tmp_path / "s", tmp_path / "one.mid", capsys)
    assert (said["part"], pitches) == ("channel 2", {30})


@pytest.mark.parametrize("names", [("left", "right"), ("bass", "bass 2")])
def test_without_a_bass_or_with_nothing_else_all_of_it_comes_in(
    names: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = band(tmp_path / "a.mid", (names[0], 0, PIANO, 40), (names[1], 1, PIANO, 60))
    said, pitches = brought(tmp_path / "s", path, capsys)
    assert "part" not in said and len(pitches) == 8


def test_strings_on_channels_of_their_own_are_one_part(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What loopdeck writes of a tab: a channel for each string."""
    text = "tuning: E1 A1 D2 G2\nmeter: 4/4\n\n    q  q  h\nG |----2-----|\nD |----------|\nA |-2--------|\nE |-------0--|\n"
    (tmp_path / "a.txt").write_text(text)
    assert main(["tab", "--read", str(tmp_path / "a.txt"), "-o", str(tmp_path / "a.mid")]) == 0
    capsys.readouterr()
    said, pitches = brought(tmp_path / "s", tmp_path / "a.mid", capsys)
    assert "part" not in said and pitches == {35, 45, 28}


TECHNIQUE = """\
tuning: E1 A1 D2 G2
meter: 4/4

    e   e   e   e   e   e   q
G |-----------------------------|
D |---------------------5x------|
A |-0>--h2--p0--------------3~--|
E |-------------3)--/7----------|
"""


def test_marks_come_in_with_tab_and_musicxml(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("music21")
    tab, sheet, shelf = tmp_path / "t.txt", tmp_path / "t.musicxml", str(tmp_path / "s")
    tab.write_text(TECHNIQUE)
    assert main(["sheet", str(tab), "-o", str(sheet)]) == 0
    for file in (tab, sheet):
        assert main(["takes", "--shelf", shelf, "import", str(file), "--name", file.suffix[1:]]) == 0
        capsys.readouterr()
        assert main(["tab", file.suffix[1:], "--shelf", shelf, "--json"]) == 0
        notes = json.loads(capsys.readouterr().out)["bars"][0]["notes"]
        marks = [tuple(note["marks"]) for note in notes]
        assert marks == [("accent",), ("hammer-on",), ("pull-off",), ("ghost",), ("slide",), ("dead",), ("vibrato",)]
        assert [note["string"] for note in notes] == [3, 3, 3, 4, 4, 2, 3]


@pytest.mark.parametrize("tempo", ["120", "96"])
def test_a_page_that_names_its_tempo_is_not_said_to_name_none(
    tempo: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tab, shelf = tmp_path / "t.txt", str(tmp_path / "s")
    tab.write_text(TECHNIQUE.replace("meter:", f"tempo: {tempo}\nmeter:"))
    assert main(["takes", "--shelf", shelf, "import", str(tab)]) == 0
    assert main(["check", "1", "--shelf", shelf, "--json"]) == 0
    assert json.loads(capsys.readouterr().out.partition("\n")[2])["remarks"] == []


def test_tab_of_parts_that_have_no_room_together_is_that_of_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = (("as played", 0, BASS, 28), ("layer 1", 1, BASS, 29), ("layer 2", 2, BASS, 30))
    path = band(tmp_path / "riff.mid", *rows)
    assert main(["tab", str(path), "--json"]) == 0
    said = capsys.readouterr()
    assert {note["pitch"] for bar in json.loads(said.out)["bars"] for note in bar["notes"]} == {28, 29, 30, 31}
    assert said.err.endswith("has no room on the strings; this is the part 'as played' alone.\n")
    bass_behind = band(tmp_path / "band.mid", ("keys", 0, PIANO, 29), ("bass", 1, PIANO, 28), ("horns", 2, PIANO, 30))
    assert main(["tab", str(bass_behind)]) == 0
    assert "the part 'bass' alone" in capsys.readouterr().err
    fits = band(tmp_path / "fits.mid", ("as played", 0, BASS, 28), ("layer 1", 1, BASS, 45))
    assert main(["tab", str(fits), "--json"]) == 0
    said = capsys.readouterr()
    assert len([note for bar in json.loads(said.out)["bars"] for note in bar["notes"]]) == 8 and not said.err
