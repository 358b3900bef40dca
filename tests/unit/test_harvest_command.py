"""``loopdeck harvest``: what a session's journal brought, kept or not."""

import json
from pathlib import Path

import pytest

from loopdeck.capture.journal import JournalWriter
from loopdeck.cli.main import main
from loopdeck.session.session import Session, header
from loopdeck.shelf.riff_report import place_words
from loopdeck.shelf.store import Shelf
from tests.unit.looper_tools import brief
from tests.unit.test_riffs import RIFF, at, noodle

PLAYED = sorted(at(0) + noodle(1, 1, 4) + at(4) + noodle(2, 5, 9) + at(9) + noodle(3, 10, 12))


def journal(path: Path, end: bool = True, notes: list[tuple[float, int]] = PLAYED) -> Path:
    """A session at 120 that starts its time at second 100 and plays these notes; nothing is
    kept."""
    first = brief(tempo="120", cycle="4/4", count_in=0)
    writer = JournalWriter(path, header(first, 100.0, started="2026-03-01T20:15:00+00:00"))
    session = Session(first, 100.0, journal=writer)
    session.command("start", {}, 100.0)
    for place, pitch in notes:
        for byte, moment in ((0x90, 100.0 + place / 2), (0x80, 100.1 + place / 2)):
            session.midi(0, bytes((byte, pitch, 90 if byte == 0x90 else 0)), moment, moment)
    if end:
        writer.end()
    writer.close()
    return path


@pytest.mark.parametrize("end", [True, False])
def test_riffs_of_a_session_ended_or_cut_off(tmp_path: Path, capsys: pytest.CaptureFixture[str], end: bool) -> None:
    path = journal(tmp_path / "one.journal", end)
    before = path.read_bytes()
    shelf = str(tmp_path / "shelf")
    assert main(["harvest", str(path), "--keep", "1", "--shelf", shelf, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    (riff,) = found["riffs"]
    assert [note["pitch"] for note in riff["notes"]] == [pitch for _, pitch in RIFF]
    assert [one["bar"] for one in riff["occurrences"]] == [1, 5, 10]
    assert [kept["number"] for kept in found["kept"]] == [1]
    with Shelf(shelf) as opened:
        assert opened.get(1).notes().array["pitch"].tolist() == [pitch for _, pitch in RIFF]
    assert path.read_bytes() == before


def test_the_newest_and_by_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    journal(tmp_path / "a.journal")
    assert main(["harvest", "--journal", str(tmp_path)]) == 0
    assert "A comes 3 times" in capsys.readouterr().out
    assert main(["harvest", "a", "--journal", str(tmp_path), "--keep", "1,9", "--shelf", str(tmp_path / "shelf")]) == 2
    assert "There is no riff '9'" in capsys.readouterr().err
    assert not (tmp_path / "shelf").exists()


def test_wrong_input_gets_a_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    empty = journal(tmp_path / "empty.journal", notes=[])
    noise = tmp_path / "noise.journal"
    noise.write_bytes(b"noise" * 20)
    for words, sentence in (
        ([str(empty)], "Nothing was played"),
        ([str(noise)], "noise.journal"),
        (["none", "--journal", str(tmp_path)], "There is no journal 'none'"),
        (["--journal", str(tmp_path / "nowhere")], "There is no journal in"),
        ([str(empty), "--keep", ","], ""),
    ):
        assert main(["harvest", *words]) == 2
        out, err = capsys.readouterr()
        assert out == "" and err.count("\n") == 1 and sentence in err


def test_what_was_played_while_time_stood_still_is_harvested_too(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two runs and a pause that is not a whole number of cycles; the riff comes in each."""
    path = tmp_path / "three.journal"
    first = brief(tempo="120", cycle="4/4", count_in=0)
    writer = JournalWriter(path, header(first, 100.0, started="2026-03-01T20:15:00+00:00"))
    session = Session(first, 100.0, journal=writer)
    for number, (begin, running) in enumerate(((100.0, True), (109.3, False), (120.9, True))):
        if running:
            session.command("start", {}, begin)
        for place, pitch in sorted(at(0) + noodle(number + 1, 1, 3)):
            for byte, moment in ((0x90, begin + place / 2), (0x80, begin + 0.1 + place / 2)):
                session.midi(0, bytes((byte, pitch, 90 if byte == 0x90 else 0)), moment, moment)
        if running:
            session.command("stop", {}, begin + 7.0)
    writer.close()
    assert main(["harvest", str(path), "--json"]) == 0
    (riff,) = json.loads(capsys.readouterr().out)["riffs"]
    assert [round(one["start_sec"], 3) for one in riff["occurrences"]] == [0.0, 9.3, 20.9]


def test_what_was_played_before_the_start_has_no_bar(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "early.journal"
    first = brief(tempo="120", cycle="4/4", count_in=0)
    session = Session(first, 90.0, journal=(writer := JournalWriter(path, header(first, 90.0))))
    for number, begin in enumerate((90.0, 100.0, 110.0)):
        if begin == 100.0:
            session.command("start", {}, begin)
        for place, pitch in sorted(at(0) + noodle(number + 1, 1, 3)):
            for byte, moment in ((0x90, begin + place / 2), (0x80, begin + 0.1 + place / 2)):
                session.midi(0, bytes((byte, pitch, 90 if byte == 0x90 else 0)), moment, moment)
    writer.close()
    assert main(["harvest", str(path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    (riff,) = found["riffs"]
    assert [one["bar"] for one in riff["occurrences"]] == [-4, 1, 6] and found["remarks"] == []
    assert main(["harvest", str(path)]) == 0
    (line,) = [line for line in capsys.readouterr().out.splitlines() if line.startswith("A   ")]
    assert line.endswith("1 before, 1, 6")
    assert [place_words(one) for one in riff["occurrences"][:2]] == ["before the start", "bar 1 (0:00)"]
