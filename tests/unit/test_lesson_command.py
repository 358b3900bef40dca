"""``loopdeck lesson``: six files, whole or not at all; and what a pupil played comes back as one
file with the comparison.
"""

import errno
import json
import wave
import zipfile
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from loopdeck.brief.brief import load_brief
from loopdeck.capture.events import Event
from loopdeck.cli import lesson_page, lesson_sounds
from loopdeck.cli.lesson import FILES, lesson_riff
from loopdeck.cli.lesson_sounds import LessonSound, write_sounds
from loopdeck.cli.main import main
from loopdeck.errors import UserError
from loopdeck.export.piece import piece_of_take
from loopdeck.export.score import parts_of, score_of_take, usual_parts
from loopdeck.export.smf import write_smf
from loopdeck.page import engraver
from loopdeck.page.making import page_of
from loopdeck.practice.backing import backing_of
from loopdeck.practice.changed import at_tempo
from loopdeck.practice.practising import Plan, PracticeRun
from loopdeck.practice.progress import add_run
from loopdeck.practice.target import target_of
from loopdeck.shelf.excerpt import in_a_brief
from loopdeck.shelf.material import material_of
from loopdeck.shelf.source import open_take
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import take_of_file
from loopdeck.synth.events import CLICK, DRUMS
from loopdeck.synth.loudness import LoudnessMeter
from tests.unit.test_play_command import take_of

PITCHES = [40, 43, 45, 47, 40, 43, 45, 47, 40, 43, 45, 47, 52, 50, 47, 45]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    write_smf(tmp_path / "steps.mid", piece_of_take(take_of(PITCHES, gap_q=0.5)))
    return tmp_path / "steps.mid"


@pytest.fixture
def no_page(monkeypatch: pytest.MonkeyPatch) -> None:
    """The page is none of this test's business: the typesetter takes a second for each."""
    monkeypatch.setattr(lesson_page, "page_pdf", lambda takes: (b"%PDF-", ""))


def seconds(path: Path) -> float:
    with wave.open(str(path)) as sound:
        return sound.getnframes() / sound.getframerate()


def sound(path: Path) -> np.ndarray:
    with wave.open(str(path)) as one:
        return np.frombuffer(one.readframes(one.getnframes()), np.int16)


def test_all_of_a_lesson_is_there(file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "lesson"
    assert (
        main(["lesson", str(file), "-o", str(out), "--words", "Let it ring.", "--practice-tempo", "60", "--json"]) == 0
    )
    said: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert sorted(said["files"]) == sorted(FILES) == sorted(path.name for path in out.iterdir())
    assert (out / "page.pdf").read_bytes().startswith(b"%PDF-") and said["says"] == []
    # A bar of click and two bars of 4/4, at 120 and at 60, and a second to ring on.
    assert seconds(out / "full.wav") == pytest.approx(7.0, abs=0.01)
    assert seconds(out / "practice.wav") == pytest.approx(13.0, abs=0.01)
    assert seconds(out / "backing.wav") == pytest.approx(7.0, abs=0.01)
    assert all(np.abs(sound(out / name)).max() > 500 for name in ("full.wav", "practice.wav", "backing.wav"))
    assert take_of_file(out / "riff.mid").notes().array["pitch"].tolist() == PITCHES
    assert str(load_brief(out / "brief.toml").cycle) == "4/4 4/4"
    assert not list(tmp_path.glob(".loopdeck*"))


def test_the_backing_has_the_chords_and_not_the_bass(file: Path) -> None:
    riff = in_a_brief(take_of_file(file))
    backing = backing_of(riff)
    pitches = set(backing.notes().array["pitch"].tolist())
    assert min(pitches) >= 40 and not pitches & {43, 50} and {40, 47, 52} <= pitches
    assert backing.brief.groove == "medium" and not backing.recording.layers


def test_the_sounds_count_in_alike_and_are_as_loud_as_each_other(tmp_path: Path) -> None:
    """One bar of click, then the riff: at its own tempo in two of them, slower in the third. An
    early downbeat stands inside that bar.
    """
    take = take_of(PITCHES, gap_q=0.5)
    take = take.changed(events=tuple(one._replace(time_sec=one.time_sec - 0.04) for one in take.recording.events))
    folder = tmp_path / "lesson"
    folder.mkdir()
    slower, backing = at_tempo(take, 60.0), backing_of(take)
    sounds = [
        LessonSound("full.wav", take, usual_parts(take)),
        LessonSound("practice.wav", slower, (*usual_parts(slower), CLICK)),
        LessonSound("backing.wav", backing, parts_of(backing)),
    ]
    write_sounds([(folder, sounds)], tmp_path)
    loud = {}
    for name, beat_sec in (("full.wav", 0.5), ("practice.wav", 1.0), ("backing.wav", 0.5)):
        samples = sound(folder / name).reshape(-1, 2) / 32767
        for beat in range(4):
            at = round(beat * beat_sec * 48_000)
            assert np.abs(samples[at : at + 2400]).max() > 0.02, (name, beat)
            assert np.abs(samples[at + 9600 : at + round(0.35 * 48_000)]).max() < 0.01, (name, beat)
        meter = LoudnessMeter()
        meter.feed(samples)
        loud[name] = meter.lufs()
        assert meter.peak < 0.9, "no more than -0.9 dB of full scale"
    assert max(loud.values()) - min(loud.values()) < 0.1


def test_loudness_of_the_recommendations_sine() -> None:
    """ITU-R BS.1770-4, annex 1: 997 Hz at full scale in one channel reads -3.01 LUFS; in both, 3.01
    more. Silence before and after is not counted in.
    """
    sine = np.sin(2 * np.pi * 997 * np.arange(96_000) / 48_000)
    for channels, expected in ((1, -3.01), (2, 0.0)):
        meter = LoudnessMeter()
        whole = np.column_stack([sine, sine if channels == 2 else 0 * sine])
        for piece in np.array_split(np.vstack([np.zeros((144_000, 2)), whole, np.zeros((144_000, 2))]), 7):
            meter.feed(piece)
        assert meter.lufs() == pytest.approx(expected, abs=0.7), "blocks at the edges are half empty"
        meter = LoudnessMeter()
        meter.feed(whole)
        assert meter.lufs() == pytest.approx(expected, abs=0.02)
    assert LoudnessMeter().lufs() == -np.inf


def test_several_takes_in_one_zip(file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each has its folder; above these stand the same files with all of them in a row."""
    write_smf(tmp_path / "threes.mid", piece_of_take(take_of(PITCHES[:6], gap_q=0.5, tempo="90", cycle="3/4")))
    out = tmp_path / "week.zip"
    assert main(["lesson", str(file), str(tmp_path / "threes.mid"), "-o", str(out)]) == 0
    archive = zipfile.ZipFile(out)
    folders = ("", "01-steps/", "02-threes/")
    assert sorted(archive.namelist()) == sorted(folder + name for folder in folders for name in FILES)
    sizes = [archive.getinfo(f"{folder}full.wav").file_size - 44 for folder in folders]
    assert sizes[0] == sizes[1] + sizes[2]
    archive.extract("riff.mid", tmp_path / "all")
    whole = take_of_file(tmp_path / "all" / "riff.mid")
    assert whole.notes().array["pitch"].tolist() == [*PITCHES, *PITCHES[:6]]
    assert [str(meter) for _, meter in whole.recording.meters] == ["4/4", "3/4"]
    assert [round(point[2]) for point in whole.tempo().points] == [120, 90]
    capsys.readouterr()
    assert main(["check", str(out)]) == 2
    assert "lesson of 2 riffs" in capsys.readouterr().err
    riff = open_take(f"{out}/02-threes")
    assert riff.notes().array["pitch"].tolist() == PITCHES[:6] and str(riff.brief.cycle) == "3/4"
    assert main(["check", f"{out}/03-none"]) == 2
    assert "not a lesson" in capsys.readouterr().err
    # Packed anew, with its folder around it.
    with zipfile.ZipFile(tmp_path / "again.zip", "w") as again:
        for name in archive.namelist():
            again.writestr(f"week/{name}", archive.read(name))
    assert main(["check", str(tmp_path / "again.zip")]) == 2
    said = capsys.readouterr().err
    assert "lesson of 2 riffs" in said and "again.zip/week/01-steps" in said
    assert open_take(f"{tmp_path}/again.zip/week/02-threes").notes().array["pitch"].tolist() == PITCHES[:6]


@pytest.mark.usefixtures("no_page")
def test_an_answer_is_one_file(file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    played = [*PITCHES[:3], 46, *PITCHES[4:-1]]
    write_smf(tmp_path / "pupil.mid", piece_of_take(take_of(played, tempo="80", gap_q=0.5)))
    for lesson in (tmp_path / "lesson", tmp_path / "lesson.zip"):
        assert main(["lesson", str(file), "-o", str(lesson)]) == 0
        out = tmp_path / "answer.zip"
        capsys.readouterr()
        assert main(["lesson", str(lesson), "--answer", str(tmp_path / "pupil.mid"), "-o", str(out), "--json"]) == 0
        found = json.loads(capsys.readouterr().out)["comparison"]
        assert [row[:2] for row in found["wrong"]] == [[3, 3]] and found["missed"] == [3, 15] and found["by"] == "order"
        with zipfile.ZipFile(out) as archive:
            assert json.loads(archive.read("comparison.json")) == found
            assert b"14 of 16 notes are there" in archive.read("comparison.txt")
            assert archive.read("answer.mid").startswith(b"MThd") and archive.read("answer.wav").startswith(b"RIFF")


@pytest.mark.usefixtures("no_page")
def test_an_answer_is_read_back_with_how_it_was_practised(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lesson, shelf, out = tmp_path / "steps-1", tmp_path / "shelf.sqlite", tmp_path / "answer.zip"
    write_smf(tmp_path / "pupil.mid", piece_of_take(take_of(PITCHES, tempo="80", gap_q=0.5)))
    assert main(["lesson", str(file), "-o", str(lesson)]) == 0
    run = PracticeRun(target_of(material_of(lesson_riff(str(lesson), None))), Plan(60, 80))
    run.judge(run.target.onset_q, run.target.pitch)
    add_run(shelf, run.to_dict(), "2031-05-06T07:08:09+00:00")
    words = [str(lesson), "--answer", str(tmp_path / "pupil.mid"), "-o", str(out), "--shelf", str(shelf)]
    assert main(["lesson", *words]) == 0
    capsys.readouterr()
    assert main(["lesson", str(out), "--read"]) == 0
    said = capsys.readouterr().out
    assert "All 16 notes are there" in said and "2031-05-06" in said
    assert main(["lesson", str(out), "--read", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["practice"][0]["reached_qpm"] == 60 and found["comparison"]["missed"] == []
    # Every command that reads a take reads a lesson and an answer.
    for packed in (lesson, out):
        assert open_take(str(packed)).notes().array["pitch"].tolist() == PITCHES


@pytest.mark.usefixtures("no_page")
def test_a_lesson_is_practised_in_its_own_brief(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    take = take_of(PITCHES, gap_q=0.5)
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        shelf.add(take.changed(brief=take.brief.replace(scale="E dorian", tuning="five-string", cycle="3+3+2/8")))
    for out in (tmp_path / "lesson", tmp_path / "lesson.zip"):
        assert main(["lesson", "1", "-o", str(out), "--shelf", str(tmp_path / "shelf.sqlite")]) == 0
        riff = lesson_riff(str(out), None)
        assert str(riff.brief.scale) == "E dorian" and len(riff.brief.tuning.strings) == 5
        assert riff.notes().array["pitch"].tolist() == PITCHES and riff.name == take.name, "by its own name"
        assert str(riff.brief.cycle) == "3+3+2/8 3+3+2/8" and str(riff.brief.tempo) == "120"
        capsys.readouterr()
        assert main(["tab", str(out)]) == 0
        said = capsys.readouterr().out
        assert "E dorian" in said and "five-string" in said and "3+3+2/8" in said
    (tmp_path / "lesson" / "brief.toml").unlink()
    capsys.readouterr()
    assert lesson_riff(str(tmp_path / "lesson"), None).brief.scale is None
    assert "has no brief.toml" in capsys.readouterr().err
    (tmp_path / "lesson" / "brief.toml").write_text("tempo = fast", encoding="utf-8")
    with pytest.raises(UserError, match=r"brief\.toml"):
        lesson_riff(str(tmp_path / "lesson"), None)
    (tmp_path / "lesson" / "riff.mid").unlink()
    with pytest.raises(UserError, match=r"has no riff\.mid"):
        lesson_riff(str(tmp_path / "lesson"), None)


def test_nothing_is_left_when_a_part_is_missing(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def none(*_: object) -> tuple[bytes, str]:
        raise UserError("There is no page to be had.")

    monkeypatch.setattr(lesson_page, "page_pdf", none)
    before = sorted(tmp_path.iterdir())
    assert main(["lesson", str(file), "-o", str(tmp_path / "lesson")]) == 2
    assert "no page" in capsys.readouterr().err
    assert sorted(tmp_path.iterdir()) == before


@pytest.mark.usefixtures("no_page")
def test_a_disk_that_is_full_is_told_of_the_lesson_and_leaves_nothing(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device", str(tmp_path / ".loopdeck-lesson-1" / "0.raw"))

    monkeypatch.setattr(lesson_sounds, "_render", full)
    before = sorted(tmp_path.iterdir())
    assert main(["lesson", str(file), "-o", str(tmp_path / "lesson")]) == 2
    assert capsys.readouterr().err == f"loopdeck: {tmp_path / 'lesson'} cannot be written: No space left on device.\n"
    assert sorted(tmp_path.iterdir()) == before


def test_a_layered_take_without_room_on_the_strings_has_a_page(tmp_path: Path) -> None:
    """Eleven notes at once: the page has the part that can be fingered, and says so."""
    take = take_of(PITCHES, gap_q=0.5)
    stack = [Event(0.0, 1, bytes((0x90, 45 + n, 90))) for n in range(10)]
    stack += [Event(0.4, 1, bytes((0x80, 45 + n, 0))) for n in range(10)]
    many = take.changed(events=tuple(sorted((*take.recording.events, *stack), key=lambda one: one.time_sec)))
    pdf, said = lesson_page.page_pdf([(many, "")])
    assert pdf.startswith(b"%PDF-") and "no room on the strings" in said
    # As one row of notes, as a lesson of it is read again, channels tell the parts apart.
    on_channels = tuple(
        one._replace(port=0, data=bytes((one.data[0] | one.port, *one.data[1:]))) for one in many.recording.events
    )
    one = lesson_page._page(many.changed(events=on_channels))
    assert "what is on channel 1 alone" in one.said and sum(len(bar.notes) for bar in one.page.bars) == len(PITCHES)


def test_what_no_string_has_is_on_the_staff_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    stack = [Event(0.0, 0, bytes((0x90, 45 + n, 90))) for n in range(10)]
    stack += [Event(0.4, 0, bytes((0x80, 45 + n, 0))) for n in range(10)]
    for take, why in (
        (take_of(PITCHES).changed(events=tuple(stack)), "bar 1 has more notes at once"),
        (take_of([21]), "A0 in bar 1 has no place on the tuning"),
    ):
        one = lesson_page._page(take)
        assert one.parts == ("staff",) and why in one.said and "the staff and no tab" in one.said
    pdf, said = lesson_page.page_pdf([(take_of([21]), "Low.")])
    assert pdf.startswith(b"%PDF-") and "no tab" in said

    def none() -> Path:
        raise UserError("There is no typesetter.")

    monkeypatch.setattr(engraver, "typesetter", none)
    with pytest.raises(UserError, match="cannot be written as tab, and the staff needs the typesetter"):
        lesson_page.page_pdf([(take_of([21]), "")])


def test_without_the_typesetter_there_is_the_tab_as_text(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none() -> Path:
        raise UserError("There is no typesetter.")

    monkeypatch.setattr(engraver, "typesetter", none)
    pdf, said = lesson_page.page_pdf([(in_a_brief(take_of_file(file)), "Let it ring.")] * 2)
    assert pdf.startswith(b"%PDF-") and "no staff: There is no typesetter." in said


@pytest.mark.parametrize("method", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_damaged_zip_is_a_sentence(method: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lesson = tmp_path / "lesson.zip"
    with zipfile.ZipFile(lesson, "w", method) as archive:
        archive.writestr("riff.mid", bytes(range(256)) * 50)
    whole = lesson.read_bytes()
    for place in (40, 50, 60, 80, 100):
        damage = bytes(one ^ 0xAA for one in whole[place : place + 2])
        lesson.write_bytes(whole[:place] + damage + whole[place + 2 :])
        assert main(["check", str(lesson)]) == 2
        text = capsys.readouterr().err
        assert text.startswith("loopdeck: ") and text.count("\n") == 1
    with zipfile.ZipFile(lesson, "w") as archive:
        archive.writestr("two\nlines\x1b/riff.mid", b"")
    assert main(["check", str(lesson)]) == 2
    text = capsys.readouterr().err
    assert text.count("\n") == 1 and "\x1b" not in text and "lesson of 1 riff;" in text


@pytest.mark.parametrize("comparison", ["[]", "7", '{"f1": NaN}', '{"f1": 1e999}'])
def test_a_damaged_comparison_is_a_sentence(
    comparison: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with zipfile.ZipFile(tmp_path / "answer.zip", "w") as archive:
        archive.writestr("comparison.txt", "words")
        archive.writestr("comparison.json", comparison)
    assert main(["lesson", str(tmp_path / "answer.zip"), "--read", "--json"]) == 2
    said = capsys.readouterr()
    assert said.out == "" and said.err.endswith("it is damaged.\n")


def test_wrong_words_get_a_sentence(file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_smf(tmp_path / "empty.mid", piece_of_take(take_of([])))
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("mine", encoding="utf-8")
    (tmp_path / "bad.zip").write_bytes(b"none")
    cases = [
        ([str(tmp_path / "empty.mid"), "-o", str(tmp_path / "x")], "no notes"),
        ([str(file), "-o", str(tmp_path / "full")], "there already"),
        ([str(file), "-o", str(tmp_path / "no" / "where")], "no folder"),
        ([str(file), "-o", str(tmp_path / "x"), "--practice-tempo", "900"], "out of range"),
        ([str(file), "--answer", str(file), "-o", str(tmp_path / "x")], "ZIP"),
        ([str(tmp_path / "bad.zip"), "--answer", str(file), "-o", str(tmp_path / "x.zip")], "not a lesson"),
        ([str(tmp_path / "full"), "--answer", str(file), "-o", str(tmp_path / "x.zip")], "not a lesson"),
        ([str(file)], "nothing named to make"),
        ([str(tmp_path / "bad.zip"), "--read"], "not a ZIP file"),
        ([str(tmp_path / "none.zip"), "--read"], "There is no file"),
        ([str(tmp_path / "full"), "--read"], "not an answer"),
    ]
    for words, says in cases:
        assert main(["lesson", *words]) == 2
        text = capsys.readouterr().err
        assert says in text and text.count("\n") == 1
        assert not (tmp_path / "x").exists() and not (tmp_path / "x.zip").exists()


def test_a_file_in_triplets_is_written_in_triplets_and_its_drums_stay_drums(tmp_path: Path) -> None:
    write_smf(tmp_path / "threes.mid", piece_of_take(take_of(PITCHES[:12], gap_q=1 / 3)))
    take = take_of_file(tmp_path / "threes.mid")
    # As the window writes it out.
    assert page_of(material_of(take)).bars[0].notes[1].at == Fraction(1, 3)
    page = lesson_page._written(in_a_brief(take))
    assert [note.at for bar in page.bars for note in bar.notes] == [Fraction(step, 3) for step in range(12)]
    drum = [Event(0.0, 1, bytes((0x99, 36, 90))), Event(0.1, 1, bytes((0x89, 36, 0)))]
    riff = in_a_brief(take.changed(events=tuple(sorted((*take.recording.events, *drum), key=lambda one: one.time_sec))))
    assert [event.data[1] for event in score_of_take(riff, 48_000).events if event.part == DRUMS] == [36]
    assert 36 not in [note.pitch for bar in lesson_page._written(riff).bars for note in bar.notes]
