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
        (b"", "no MusicXML"),
        (b"<score-partwise", "no MusicXML"),
        (b"<html><body/></html>", "'html'"),
        (b"\xff\xfe\x00\x01", "no MusicXML"),
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
