"""The command ``sheet``: engraved through LilyPond, or MusicXML; bad input gets one sentence and
leaves nothing behind.
"""

import importlib.util
import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from loopdeck.cli.main import main
from loopdeck.errors import UserError
from loopdeck.page import engraver
from loopdeck.page.booklet import Style, booklet, scale_names
from loopdeck.page.hands import hands_of
from loopdeck.page.lily import quoted, sheet
from loopdeck.page.making import with_hands
from loopdeck.page.musicxml import INSTRUMENTS
from loopdeck.page.tab_read import read_tab

RIFFS = sorted((Path(__file__).parents[2] / "docs" / "riffs").glob("*.txt"))
needs_lilypond = pytest.mark.skipif(
    importlib.util.find_spec("lilypond") is None and shutil.which("lilypond") is None,
    reason="LilyPond is not installed",
)


@needs_lilypond
@pytest.mark.parametrize(("ending", "begins"), [(".pdf", b"%PDF"), (".png", b"\x89PNG"), (".svg", b"<svg")])
def test_a_sheet_is_engraved(tmp_path: Path, ending: str, begins: bytes) -> None:
    output = tmp_path / f"sheet{ending}"
    assert main(["sheet", str(RIFFS[0]), "-o", str(output)]) == 0
    assert begins in output.read_bytes()[:200]
    assert [path.name for path in tmp_path.iterdir()] == [output.name]


@needs_lilypond
def test_a_title_of_every_alphabet_and_of_commands_is_only_text(tmp_path: Path) -> None:
    text = RIFFS[0].read_text().split("\n", 1)[1]
    title = 'Ж 譜 ع ไทย 😀 \\ " #(system "touch harm") } %{ $(rm) \\include "x"'
    riff, output = tmp_path / "odd.txt", tmp_path / "odd.pdf"
    riff.write_text(f"{title}\n{text}", encoding="utf-8")
    assert main(["sheet", str(riff), "-o", str(output)]) == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["odd.pdf", "odd.txt"]


def test_a_string_of_the_typesetter_cannot_be_left() -> None:
    assert quoted('a"b\\c\n') == '"a\\"b\\\\c "'


def test_without_lilypond_it_says_how_to_get_it_and_musicxml_works(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(engraver.importlib.util, "find_spec", lambda name: None)
    monkeypatch.setattr(engraver.shutil, "which", lambda name: None)
    assert main(["sheet", str(RIFFS[0]), "-o", str(tmp_path / "a.pdf")]) == 2
    assert "pip install 'loopdeck[sheet]'" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
    assert main(["sheet", str(RIFFS[0]), "-o", str(tmp_path / "a.musicxml")]) == 0


@needs_lilypond
def test_a_typesetter_that_takes_too_long_is_ended(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="took longer"):
        engraver.engrave('\\version "2.24.0"\n#(let loop () (loop))\n', tmp_path / "a.pdf", patience_sec=0.3)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["RIFF", "-o", "x.mp3"], ".musicxml, .pdf, .svg, .png"),
        (["RIFF", "-o", "x"], ".musicxml, .pdf, .svg, .png"),
        (["RIFF", "-o", "none/x.pdf"], "none"),
        (["RIFF", "-o", "x.pdf", "--parts", "drums"], "staff,tab"),
        (["RIFF", "-o", "x.pdf", "--hands", "feet"], "pluck"),
        (["RIFF", "-o", "x.pdf", "--tuning", "drop-d"], "says its meter and tuning itself"),
        (["none.mid", "-o", "x.pdf"], "none.mid"),
    ],
)
def test_bad_input_gets_one_sentence(
    arguments: list[str], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    words = [str(RIFFS[0]) if word == "RIFF" else word for word in arguments]
    assert main(["sheet", *words]) != 0
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert said in error
    assert list(tmp_path.iterdir()) == []


@needs_lilypond
def test_a_booklet_of_all_riffs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    output = tmp_path / "booklet.pdf"
    takes = [str(riff) for riff in RIFFS]
    hands = ["--hands", "fret,pluck"]
    assert main(["sheet", *takes, "--booklet", 'Low "Riffs" \\ 譜', "-o", str(output), "--json", *hands]) == 0
    assert output.read_bytes().startswith(b"%PDF")
    found = json.loads(capsys.readouterr().out)
    assert [riff["title"] for riff in found["riffs"]] == [riff.read_text().split("\n")[0] for riff in RIFFS]


def test_one_scale_by_two_names_stands_once_in_the_index() -> None:
    page = read_tab(RIFFS[0].read_text())
    scales = ["E minor", "E aeolian", "G aeolian", "E minor", ""]
    pages = [replace(page, brief=page.brief.replace(scale=scale)) for scale in scales]
    both = "E minor (E aeolian)"
    assert scale_names(pages) == [both, both, "G aeolian", both, "no scale"]


def test_the_blocks_of_a_booklet_hold_together() -> None:
    pages = [read_tab(riff.read_text()) for riff in RIFFS]
    source = booklet("All", pages, Style(("staff", "tab"), INSTRUMENTS["bass"], lambda page: None))
    blocks = source.split('\\bold "Index"')[0].split("\\label ")[1:]
    assert len(blocks) == len(RIFFS)
    for number, (block, page) in enumerate(zip(blocks, pages, strict=True), 1):
        assert block.startswith(f"#'riff{number}\n")
        assert block.count("\\noPageBreak") == 3
        assert "page-break-permission = ##f" in block
        assert quoted(f"{number}.  {page.title}") in block
        assert all(f'"{word}"' in block for word in page.words.split())


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--booklet", "", "-o", "x.pdf"], "title"),
        (["--booklet", "A", "-o", "x.png"], ".pdf"),
        (["--booklet", "A", "-o", "x.musicxml"], ".pdf"),
        (["-o", "x.pdf"], "--booklet"),
    ],
)
def test_a_booklet_that_cannot_be(
    arguments: list[str], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["sheet", *map(str, RIFFS[:2]), *arguments]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert said in error
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("hands", "signs"),
    [("fret,down", "\\downbow-2-4 "), ("pluck", '_\\markup \\tiny \\italic "i" _\\markup \\tiny \\italic "p" ')],
)
def test_all_notes_of_a_chord_have_their_hands(hands: str, signs: str) -> None:
    text = "   w\nG|----|\nD|-5--|\nA|-3--|\nE|----|\n"
    page = with_hands(read_tab(text))
    source = sheet(page, ("staff",), INSTRUMENTS["bass"], hands_of(page, frozenset(hands.split(","))), True)
    assert f"<c g>1{signs}" in source


@needs_lilypond
@pytest.mark.parametrize(("parts", "hands"), [("staff", "fret,pluck"), ("tab", "fret,alternate")])
def test_every_sign_with_the_hands_of_one_part(tmp_path: Path, parts: str, hands: str) -> None:
    riff = next(path for path in RIFFS if "every-sign" in path.stem)
    page = with_hands(read_tab(riff.read_text()))
    source = sheet(page, (parts,), INSTRUMENTS["guitar"], hands_of(page, frozenset(hands.split(","))), True)
    assert engraver.engrave(source, tmp_path / "sheet.svg") == []
