"""What ``TAKE`` means on the command line, and what becomes of files with odd tempi and names."""

import os
import subprocess
import sys
from pathlib import Path

import mido
import pytest

from loopdeck.errors import UserError
from loopdeck.shelf.source import open_take
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import take_of_file
from tests.unit.shelf_tools import small_take

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """A shelf with the takes harbour and ladder."""
    path = tmp_path / "shelf.sqlite"
    with Shelf(path) as shelf:
        shelf.add(small_take("harbour"))
        shelf.add(small_take("ladder"))
    return path


def midi(path: Path, *messages: mido.Message) -> Path:
    """A file of one track."""
    mido.MidiFile(type=0, ticks_per_beat=480, tracks=[mido.MidiTrack(messages)]).save(path)
    return path


def test_a_file_comes_before_the_shelf(shelf: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert open_take("1", shelf).name == "harbour"
    assert open_take("Ladder", shelf).number == 2
    midi(tmp_path / "1")
    assert open_take("1", shelf).origin == "imported"
    (tmp_path / "text").write_text("no music")
    with pytest.raises(UserError):
        open_take("text", shelf)


def test_a_folder_of_that_name_is_no_file(shelf: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "harbour").mkdir()
    assert open_take("harbour", shelf).number == 1


def test_a_file_is_opened_without_the_shelf(tmp_path: Path) -> None:
    code = (
        "import sys; from loopdeck.shelf.source import open_take; print(open_take(sys.argv[1]).name);"
        "print([name for name in ('sqlite3', 'platformdirs', 'pygame', 'rtmidi') if name in sys.modules])"
    )
    command = [sys.executable, "-c", code, str(midi(tmp_path / "a.mid"))]
    done = subprocess.run(command, check=True, cwd=ROOT, capture_output=True, text=True, timeout=360)
    assert done.stdout == "a\n[]\n"


def test_what_is_nowhere(shelf: Path, tmp_path: Path) -> None:
    with pytest.raises(UserError, match="no file and no take 'x'"):
        open_take("x", tmp_path / "no.sqlite")
    assert not (tmp_path / "no.sqlite").exists(), "looking makes no shelf"
    with pytest.raises(UserError, match="no take 'x'"):
        open_take("x", shelf)
    with pytest.raises(FileNotFoundError):
        open_take(str(tmp_path / "x.mid"), shelf)


@pytest.mark.parametrize(("qpm", "text"), [(97, "97"), (96, "96"), (92.5, "92.5"), (113.37, "113.37")])
def test_a_files_tempo_is_the_number_it_was_made_from(tmp_path: Path, qpm: float, text: str) -> None:
    path = midi(tmp_path / "a.mid", mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(qpm)))
    take = take_of_file(path)
    assert str(take.brief.tempo) == text
    assert take.recording.tempo_map[0].qpm == pytest.approx(qpm, abs=1e-3)
    with Shelf(tmp_path / "s.sqlite") as shelf:
        shelf.add(take)
        assert [row["name"] for row in shelf.find(tempo=(qpm, qpm))] == ["a"]


@pytest.mark.parametrize("qpm", [15.5, 612.0])
def test_a_tempo_that_no_brief_can_have_is_kept_all_the_same(tmp_path: Path, qpm: float) -> None:
    path = midi(
        tmp_path / "odd.mid", mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(qpm)),
        mido.Message("note_on", note=40, velocity=9, time=480),
    )  # fmt: skip
    with Shelf(tmp_path / "s.sqlite") as shelf:
        number = shelf.add(take_of_file(path))
        assert shelf.find()[0]["qpm"] == pytest.approx(qpm, rel=1e-5)
        assert shelf.get(number).notes().array["onset_sec"][0] == pytest.approx(60 / qpm, rel=1e-5)


def test_a_file_whose_name_is_no_text(tmp_path: Path) -> None:
    path = tmp_path / os.fsdecode(b"od\xffd\x1b[2Jname.mid")
    midi(tmp_path / "plain.mid").rename(path)
    with Shelf(tmp_path / "s.sqlite") as shelf:
        assert shelf.get(shelf.add(take_of_file(path))).name == "od?d?[2Jname"


@pytest.mark.parametrize("words", ["\udcff", "a\udcffb"])
def test_words_that_are_no_text_get_a_sentence(shelf: Path, words: str) -> None:
    with Shelf(shelf) as opened:
        for ask in (
            opened.get, lambda w: opened.find(tag=w), lambda w: opened.set_note(1, w), lambda w: opened.rename(1, w),
            lambda w: opened.tag(1, [w]),
        ):  # fmt: skip
            with pytest.raises(UserError) as error:
                ask(words)
            str(error.value).encode()


def test_a_brief_of_an_earlier_loopdeck_lacks_later_fields(shelf: Path) -> None:
    """What a brief did not know yet has its default: an old take still opens."""
    import json
    import sqlite3

    db = sqlite3.connect(shelf)
    (text,) = db.execute("SELECT brief FROM take WHERE number = 1").fetchone()
    fields = json.loads(text)
    for name in ("click_level", "groove", "ramp", "clicks"):
        fields.pop(name, None)
    db.execute("UPDATE take SET brief = ? WHERE number = 1", (json.dumps(fields),))
    db.commit()
    db.close()
    with Shelf(shelf) as opened:
        assert opened.get(1).brief.to_dict() == small_take().brief.to_dict()
