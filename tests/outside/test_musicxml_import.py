"""MusicXML comes back in through music21: ours with its strings and frets, and a score of music21's
corpus with its bass part.
"""

import json
from pathlib import Path

import music21
import pytest

from loopdeck.cli.main import main

RIFFS = sorted((Path(__file__).parents[2] / "docs" / "riffs").glob("*.txt"))


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict:
    capsys.readouterr()
    assert main(list(arguments)) == 0
    return json.loads(capsys.readouterr().out)


def written(found: dict) -> list:
    return [
        (bar["meter"], bar["length"], bar["pickup"], [{key: note[key] for key in note if key not in ("marks", "bend")} for note in bar["notes"]])
        for bar in found["bars"]
    ]  # fmt: skip


@pytest.mark.parametrize("riff", RIFFS[2::5], ids=lambda path: path.stem)
def test_what_we_write_is_imported_as_it_was(riff: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    score, shelf = tmp_path / "riff.musicxml", str(tmp_path / "shelf.sqlite")
    assert main(["sheet", str(riff), "-o", str(score)]) == 0
    took = told(capsys, "takes", "import", str(score), "--name", "back", "--shelf", shelf, "--json")
    assert took["name"] == "back"
    back, before = told(capsys, "tab", "back", "--shelf", shelf, "--json"), told(capsys, "tab", str(riff), "--json")
    assert written(back) == written(before)
    assert (back["tempo"], back["swing"]) == (before["tempo"], before["swing"])
    assert back["tuning"]["strings"] == before["tuning"]["strings"]


def test_every_sign_comes_back_with_its_amount(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    riff = next(one for one in RIFFS if one.stem == "11-every-sign")
    score, shelf = tmp_path / "riff.musicxml", str(tmp_path / "shelf.sqlite")
    assert main(["sheet", str(riff), "-o", str(score)]) == 0
    told(capsys, "takes", "import", str(score), "--name", "back", "--shelf", shelf, "--json")
    back, before = told(capsys, "tab", "back", "--shelf", shelf, "--json"), told(capsys, "tab", str(riff), "--json")
    # A slide that no note before it leads to comes back as one from nowhere.
    alone = before["bars"][3]["notes"][-2]["marks"]
    alone[alone.index("slide")] = "slide-from"
    assert marked(back) == marked(before)
    assert {bend for _, bend in marked(back)} >= {0.5, 1.5}


def marked(found: dict) -> list:
    return [(sorted(note["marks"]), note.get("bend")) for bar in found["bars"] for note in bar["notes"]]


def imported(score: music21.stream.Score, folder: Path, capsys: pytest.CaptureFixture[str], *more: str) -> dict:
    path, shelf = folder / "theirs.mxl", str(folder / "theirs.sqlite")
    score.write("mxl", fp=str(path))
    told(capsys, "takes", "import", str(path), "--shelf", shelf, "--name", "theirs", "--json", *more)
    return told(capsys, "tab", "theirs", "--shelf", shelf, "--json")


def bar_of(*notes: music21.note.GeneralNote, meter: str = "4/4") -> music21.stream.Measure:
    bar = music21.stream.Measure(number=1)
    bar.append(music21.meter.TimeSignature(meter))
    for note in notes:
        bar.append(note)
    return bar


def test_printed_pitches_sound_where_the_strings_say(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A tab of music21's that names no tuning and prints its notes an octave high."""
    notes = []
    for name, string, fret in (("D2", 4, 0), ("F2", 4, 3), ("A2", 3, 0), ("B2", 3, 2)):
        notes.append(music21.note.Note(name, quarterLength=1))
        notes[-1].articulations = [
            music21.articulations.StringIndication(string), music21.articulations.FretIndication(fret),
        ]  # fmt: skip
    part = music21.stream.Part([bar_of(*notes)])
    found = imported(music21.stream.Score([part]), tmp_path, capsys)
    assert [(one["pitch"], one["string"], one["fret"]) for one in found["bars"][0]["notes"]] == [
        (26, 4, 0), (29, 4, 3), (33, 3, 0), (35, 3, 2),
    ]  # fmt: skip
    assert found["tuning"]["name"] == "drop D"


def test_a_bass_beside_drums_and_a_short_first_bar(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    drums = music21.stream.Part([bar_of(*(music21.note.Unpitched(quarterLength=0.5) for _ in range(7)), meter="7/8")])
    bass = music21.stream.Part(
        [
            bar_of(*(music21.note.Note("E1", quarterLength=0.5) for _ in range(7)), meter="2+2+3/8"),
            bar_of(*(music21.note.Note("G1", quarterLength=1) for _ in range(5)), meter="5/4"),
        ]
    )
    drums.partName, bass.partName = "Drums", "Double bass"
    found = imported(music21.stream.Score([drums, bass]), tmp_path, capsys)
    assert [(bar["meter"], bar["pickup"], len(bar["notes"])) for bar in found["bars"]] == [
        ("2+2+3/8", False, 7), ("5/4", False, 5),
    ]  # fmt: skip
    path, shelf = str(tmp_path / "theirs.mxl"), str(tmp_path / "theirs.sqlite")
    assert main(["takes", "import", path, "--part", "Drums", "--shelf", shelf]) == 2
    assert "no notes in the part 'Drums'" in capsys.readouterr().err


def test_the_bass_part_of_a_choral_is_taken(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    choral = music21.corpus.parse("bwv66.6")
    path, shelf = tmp_path / "choral.musicxml", str(tmp_path / "shelf.sqlite")
    choral.write("musicxml", fp=str(path))
    took = told(capsys, "takes", "import", str(path), "--shelf", shelf, "--json")
    assert took["notes"] == len(choral.parts[-1].stripTies().recurse().notes)
    other = told(capsys, "takes", "import", str(path), "--part", "1", "--shelf", shelf, "--json")
    assert other["notes"] == len(choral.parts[0].stripTies().recurse().notes)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "not MusicXML"),
        (b"<score-partwise", "not MusicXML"),
        (b"<html><body/></html>", "'html'"),
        (b"\xff\xfe\x00\x01", "not MusicXML"),
        (b'<score-partwise version="4.0"><part-list/></score-partwise>', "parts"),
    ],
)
def test_a_bad_file_is_refused_in_a_sentence(
    data: bytes, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, shelf = tmp_path / "bad.musicxml", str(tmp_path / "shelf.sqlite")
    path.write_bytes(data)
    assert main(["takes", "import", str(path), "--shelf", shelf]) != 0
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert said in error
    assert told(capsys, "takes", "list", "--shelf", shelf, "--json") == []


def test_a_part_that_is_not_there_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    score = tmp_path / "riff.musicxml"
    assert main(["sheet", str(RIFFS[0]), "-o", str(score)]) == 0
    assert main(["takes", "import", str(score), "--part", "tuba", "--shelf", str(tmp_path / "s.sqlite")]) == 2
    assert "Bass, Bass tab" in capsys.readouterr().err


def test_text_tab_is_imported(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shelf = str(tmp_path / "shelf.sqlite")
    told(capsys, "takes", "import", str(RIFFS[0]), "--shelf", shelf, "--json")
    back = told(capsys, "tab", "1", "--shelf", shelf, "--json")
    assert back["title"] == RIFFS[0].read_text().split("\n")[0]
