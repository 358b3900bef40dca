"""What is hard to write, or cannot be: an answer in one sentence and no file, or a whole page."""

from collections.abc import Sequence
from pathlib import Path

import mido
import pytest

from loopdeck.cli.main import main
from loopdeck.page.tab_read import read_tab

Row = tuple[float, float, int]
METERS = ((4, 4), (7, 8), (3, 4), (5, 8), (11, 16), (6, 8), (13, 8))
ALPHABETS = 'Ünïçødé 譜面 Ноты نوتة תווים νότες टिप्पणी ♭♯𝄞 "quoted" \\markup {x} <tag> & #(display 1)'


def saved(path: Path, rows: Sequence[Row], meters: Sequence[tuple[float, int, int]] = ()) -> str:
    """A file of (quarter, quarters, pitch) with (quarter, numerator, denominator) where meters
    begin.
    """
    events = [(at, 0, mido.MetaMessage("time_signature", numerator=n, denominator=d)) for at, n, d in meters]
    for at, long, pitch in rows:
        events.append((at, 2, mido.Message("note_on", note=pitch, velocity=90)))
        events.append((at + long, 1, mido.Message("note_off", note=pitch)))
    track, last = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(120))]), 0
    for at, _, message in sorted(events, key=lambda event: event[:2]):
        track.append(message.copy(time=round(at * 480) - last))
        last = round(at * 480)
    file = mido.MidiFile(ticks_per_beat=480)
    file.tracks.append(track)
    file.save(path)
    return str(path)


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """The one sentence of a command that fails."""
    assert main(list(words)) != 0
    out, errors = capsys.readouterr()
    assert not out and errors.startswith("loopdeck: ") and errors.count("\n") == 1 and "Traceback" not in errors
    return errors


@pytest.mark.parametrize("output", ["page.txt", "page.musicxml", "page.pdf"])
@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        ([], "has no notes to write down"),
        ([(0, 1, 12), (1, 1, 30)], "C0 in bar 1 has no place on the tuning four-string"),
        (
            [(0, 1, 30 + k) for k in range(12)],
            "Bar 1 has more notes at once than the strings and the hand have room for",
        ),
    ],
)
def test_what_has_no_place_on_paper_is_said_and_nothing_is_written(
    rows: list[Row], sentence: str, output: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    take, out = saved(tmp_path / "take.mid", rows), tmp_path / output
    assert sentence in refused(capsys, "tab" if output.endswith("txt") else "sheet", take, "-o", str(out))
    assert not out.exists()


def test_a_note_of_ten_minutes_is_tied_through_its_bars(tmp_path: Path) -> None:
    take, out = saved(tmp_path / "long.mid", [(0, 1200, 30)]), tmp_path / "long.txt"
    assert main(["tab", take, "-o", str(out)]) == 0
    page = read_tab(out.read_text())
    (note,) = [note for bar in page.bars for note in bar.notes]
    assert (len(page.bars), note.duration) == (300, 1200)
    assert main(["sheet", take, "-o", str(tmp_path / "long.musicxml")]) == 0


@pytest.mark.parametrize("rows", [[(500_000, 1, 40)], [(0, 500_000, 40)], [(0, 1, 40), (500_000, 1, 40)]])
def test_more_bars_than_a_page_has(rows: list[Row], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    take, out = saved(tmp_path / "take.mid", rows), tmp_path / "page.txt"
    assert "a page has 20000 bars at most" in refused(capsys, "tab", take, "-o", str(out))
    assert not out.exists()


def test_a_thousand_bars(tmp_path: Path) -> None:
    """No two neighbours alike, so nothing is folded."""
    rows = [(k, 1, 28 + (k * k) % 17 + k % 5) for k in range(4000)]
    take = saved(tmp_path / "thousand.mid", rows)
    assert main(["tab", take, "--grid", "1/4", "-o", str(tmp_path / "a.txt")]) == 0
    page = read_tab((tmp_path / "a.txt").read_text())
    assert [note.pitch for bar in page.bars for note in bar.notes] == [pitch for _, _, pitch in rows]
    assert len(page.bars) == 1000
    assert main(["sheet", take, "--grid", "1/4", "-o", str(tmp_path / "a.musicxml")]) == 0


def test_a_meter_a_bar(tmp_path: Path) -> None:
    at, meters, rows = 0.0, [], []
    for k in range(60):
        n, d = METERS[(k * 5 + k // 7) % len(METERS)]
        meters.append((at, n, d))
        rows.append((at, 0.5, 30 + k % 12))
        at += n * 4 / d
    take = saved(tmp_path / "meters.mid", rows, meters)
    assert main(["tab", take, "-o", str(tmp_path / "a.txt")]) == 0
    page = read_tab((tmp_path / "a.txt").read_text())
    assert [(bar.meter.numerator, bar.meter.unit) for bar in page.bars] == [(n, d) for _, n, d in meters]
    assert main(["sheet", take, "-o", str(tmp_path / "a.musicxml")]) == 0


def test_a_title_with_every_alphabet(tmp_path: Path) -> None:
    shelf, take = str(tmp_path / "shelf"), saved(tmp_path / "a.mid", [(0, 1, 30)])
    assert main(["takes", "--shelf", shelf, "import", take, "--name", ALPHABETS]) == 0
    for name in ("a.txt", "a.musicxml", "a.svg"):
        command = "tab" if name.endswith("txt") else "sheet"
        assert main([command, "1", "--shelf", shelf, "-o", str(tmp_path / name)]) == 0
        assert (tmp_path / name).stat().st_size > 100
    assert read_tab((tmp_path / "a.txt").read_text()).title == ALPHABETS
    assert main(["sheet", "1", "--shelf", shelf, "-o", str(tmp_path / "b.pdf"), "--booklet", ALPHABETS]) == 0


@pytest.mark.parametrize(
    ("words", "ending", "known"),
    [
        (("tab",), "txt", ".txt"),
        (("sheet",), "musicxml", ".musicxml"),
        (("render",), "wav", ".wav"),
        (("takes", "export"), "mid", ".mid"),
    ],
)
def test_an_unknown_ending_and_an_unwritable_place(
    words: tuple[str, ...], ending: str, known: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shelf = str(tmp_path / "shelf")
    assert main(["takes", "--shelf", shelf, "import", saved(tmp_path / "a.mid", [(0, 1, 30)])]) == 0
    capsys.readouterr()
    place = ("--shelf", shelf)
    command = (words[0], *place, *words[1:], "1") if words[0] == "takes" else (*words, "1", *place)
    for name in ("x.mp3", "x"):
        assert known in refused(capsys, *command, "-o", str(tmp_path / name))
        assert not (tmp_path / name).exists()
    assert "No such file or directory" in refused(capsys, *command, "-o", str(tmp_path / "nowhere" / f"x.{ending}"))
    (tmp_path / "file").write_text("a file, no folder")
    refused(capsys, *command, "-o", str(tmp_path / "file" / f"x.{ending}"))
    assert (tmp_path / "file").read_text() == "a file, no folder"
