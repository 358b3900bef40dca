"""Practising: the state machine alone, a run on a clock of its own with a player, and the record
over days.
"""

import json
import zipfile
from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.cli.main import main
from loopdeck.cli.practise import _read
from loopdeck.engine.practice_runner import Row, run_practice
from loopdeck.errors import UserError
from loopdeck.export.piece import piece_of_take
from loopdeck.export.smf import write_smf
from loopdeck.practice.live import LivePass
from loopdeck.practice.practising import CALL, LEAD_IN, MOST_SILENT, PASS, Plan, PracticeRun, judge
from loopdeck.practice.progress import Progress, add_run, read_progress, readable_runs
from loopdeck.practice.target import Target, target_of
from loopdeck.practice.techniques import HandNote
from loopdeck.shelf.material import material_of
from loopdeck.shelf.practice_rows import PracticeRow
from loopdeck.shelf.rescue import rescue
from loopdeck.shelf.store import Shelf
from loopdeck.synth.events import CLICK, LIVE
from tests.unit.test_play_command import take_of

PITCHES = [40, 43, 45, 47, 52, 50, 47, 45]
ONSETS = np.arange(8) * 0.5


def target(first: int = 1, last: int | None = None) -> Target:
    return target_of(material_of(take_of(PITCHES, gap_q=0.5)), first, last)


def practice(**more: float) -> PracticeRun:
    return PracticeRun(target(), Plan(**{"from_qpm": 60, "to_qpm": 72, "step": 4, "passes": 2, **more}))  # type: ignore[arg-type]


def passes(run: PracticeRun) -> list[str]:
    """The kinds of parts up to the next pass."""
    kinds = []
    while not kinds or kinds[-1] != PASS:
        part = run.next()
        assert part is not None
        kinds.append(part.kind)
    return kinds


def play(run: PracticeRun, clean: bool = True) -> float:
    """One pass; the tempo after it."""
    passes(run)
    run.judge(ONSETS, PITCHES if clean else [1, *PITCHES[1:]])
    return run.qpm


def test_clean_passes_raise_the_tempo_and_end_the_run() -> None:
    run = practice()
    assert [play(run) for _ in range(8)] == [60, 64, 64, 68, 68, 72, 72, 72]
    assert run.done and run.next() is None and run.reached_qpm == 72


def test_it_falls_when_it_goes_wrong_and_not_below_the_first() -> None:
    run = practice()
    plays = [True, True, False, True, False, False, False, False]
    assert [play(run, clean) for clean in plays] == [60, 64, 64, 64, 64, 60, 60, 60]
    assert not run.over and "wrong notes" in run.work_on() and "bar 1" in run.work_on()


def test_a_change_of_tempo_begins_with_a_lead_in() -> None:
    run = practice(passes=1)
    assert passes(run) == [LEAD_IN, PASS]
    run.judge(ONSETS, PITCHES)
    assert passes(run) == [LEAD_IN, PASS]
    run.judge([], [])
    assert passes(run) == [PASS]


def test_call_and_answer() -> None:
    run = PracticeRun(target(), Plan(60, 64, call=True))
    assert passes(run) == [LEAD_IN, CALL, PASS] and passes(run) == [CALL, PASS]


def test_silence_is_no_failure_and_ends_a_run_that_nobody_plays() -> None:
    run = practice()
    for _ in range(MOST_SILENT - 1):
        passes(run)
        run.judge([], [])
    assert run.qpm == 60 and not run.over
    play(run)
    for _ in range(MOST_SILENT):
        passes(run)
        run.judge([], [])
    assert run.over and not run.done


@given(st.integers(0, 7), st.floats(70, 110), st.booleans())
def test_what_is_wrong_is_named(index: int, off_ms: float, early: bool) -> None:
    own = target()
    onsets = ONSETS.copy()
    onsets[index] += (-1 if early else 1) * off_ms / 1000.0
    found = judge(own, 60, onsets, PITCHES)
    assert (found.early, found.late) == ((1, 0) if early else (0, 1)) and not found.clean
    without = np.delete(ONSETS, index), np.delete(PITCHES, index)
    assert judge(own, 60, *without).counts() == {"missed": 1, "added": 0, "wrong": 0, "early": 0, "late": 0}
    more = judge(own, 60, [*ONSETS, ONSETS[index] + 0.25], [*PITCHES, 36])
    assert more.counts() == {"missed": 0, "added": 1, "wrong": 0, "early": 0, "late": 0}
    other = [*PITCHES[:index], PITCHES[index] + 1, *PITCHES[index + 1 :]]
    assert judge(own, 60, ONSETS, other).counts() == {"missed": 0, "added": 0, "wrong": 1, "early": 0, "late": 0}
    assert judge(own, 60, ONSETS, PITCHES).clean


@given(
    st.lists(st.sampled_from(["", "", "", "left out", "wrong"]), min_size=8, max_size=8),
    st.lists(st.tuples(st.floats(-1, 5), st.integers(60, 127)), max_size=1),
    st.floats(20, 400),
)
def test_a_pass_is_clean_with_every_note_and_no_other(
    slips: list[str], more: list[tuple[float, int]], qpm: float
) -> None:
    played = [
        (onset, pitch + (slip == "wrong"))
        for onset, pitch, slip in zip(ONSETS, PITCHES, slips, strict=True)
        if slip != "left out"
    ]
    played = sorted([*played, *more])
    found = judge(target(), qpm, [onset for onset, _ in played], [pitch for _, pitch in played])
    assert found.clean == (not any(slips) and not more)


@given(st.lists(st.floats(-45, 45), min_size=8, max_size=8), st.sets(st.integers(0, 7)), st.integers(40, 240))
def test_note_by_note_and_as_a_whole_agree_where_all_is_plain(offs: list[float], left_out: set[int], qpm: int) -> None:
    """Notes within the tolerance, or left out: the signs of a pass say what its judgement says."""
    own, live = target(), LivePass(target(), qpm, 50.0)
    onsets = ONSETS + np.array(offs) / 1000.0 * qpm / 60.0
    kept = [row for row in range(8) if row not in left_out]
    for row in kept:
        live.reach(onsets[row])
        live.hear(row, onsets[row], PITCHES[row])
        assert not live.hear(row, onsets[row], PITCHES[row]), "a note is news once"
    live.reach(own.length_q + 4.0)
    found = judge(own, qpm, onsets[kept], [PITCHES[row] for row in kept])
    if len(kept) >= 6:
        # With fewer, notes of one pitch that are near may stand for each other.
        assert live.verdicts.count("missed") == found.missed and live.verdicts.count("in time") == len(kept)
    assert not live.added


def test_stretches() -> None:
    two = target_of(material_of(take_of(PITCHES * 2, gap_q=0.5)), 2, 2)
    assert (two.length_q, len(two), two.first_bar) == (4.0, 8, 2) and np.allclose(two.onset_q, ONSETS)
    assert [quarter for quarter, _ in two.clicks] == [0, 1, 2, 3]
    for first, last in ((0, 1), (2, 1), (1, 9)):
        with pytest.raises(UserError, match=r"There (is|are) no bars? .*to practise"):
            target(first, last)
    assert two.mark == target().mark != target_of(material_of(take_of(PITCHES[::-1], gap_q=0.5))).mark


class PlayerOnPaper:
    """A rig whose time is made up, and a player who answers every pass: ``slip`` seconds off, after
    a click.
    """

    def __init__(self, slip: float, leaves_out: int = 0) -> None:
        self.time, self.slip, self.leaves_out = 100.0, slip, leaves_out
        self.rows: list[Row] = []
        self.notes: list[tuple[float, int]] = []

    def now(self) -> float:
        return self.time

    def play(self, rows: Sequence[Row]) -> None:
        assert all(sec >= self.time for sec, _, _ in rows), "what is to sound lies in the past"
        self.rows += rows
        clicks = [sec for sec, part, _ in rows if part == CLICK]
        half = (clicks[1] - clicks[0]) / 2
        places = [place for sec in clicks for place in (sec, sec + half)]
        self.notes += [(sec + self.slip, pitch) for sec, pitch in zip(places, PITCHES, strict=True)][self.leaves_out :]

    def wait(self, until: float) -> None:
        assert until >= self.time
        self.time = until

    def take(self, before: float) -> list[tuple[float, int]]:
        found = [note for note in self.notes if note[0] < before]
        self.notes = [note for note in self.notes if note[0] >= before]
        return found

    def hands(self, start: float, end: float, quarter: float) -> list[HandNote]:
        return []


@pytest.mark.parametrize("slip", [-0.04, 0.0, 0.04])
def test_a_run_with_a_player_in_time(slip: float) -> None:
    run, rig = practice(), PlayerOnPaper(slip)
    run_practice(run, rig, lambda judged: None)
    assert run.done and [one.qpm for one in run.judged] == [60, 60, 64, 64, 68, 68, 72, 72]
    assert not [row for row in rig.rows if row[1] == LIVE]


def test_a_run_with_a_player_who_leaves_a_note_out() -> None:
    run = practice()
    run_practice(run, PlayerOnPaper(0.0, 1), lambda judged: None, most=5)
    assert [one.missed for one in run.judged] == [1] * 5 and run.qpm == 60 and run.reached_qpm == 0


def test_the_riff_sounds_in_a_call() -> None:
    run, rig = PracticeRun(target(), Plan(60, 60, passes=1, call=True)), PlayerOnPaper(0.0)
    run_practice(run, rig, lambda judged: None)
    struck = [(sec, data[1]) for sec, part, data in rig.rows if part == LIVE and data[0] == 0x90]
    assert [pitch for _, pitch in struck] == PITCHES and np.allclose(np.diff([sec for sec, _ in struck]), 0.5)


def test_the_record_over_days(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shelf = tmp_path / "shelf.sqlite"
    run = practice()
    play(run)
    for day in ("06", "07"):
        add_run(shelf, run.to_dict(), f"2031-05-{day}T07:08:09+00:00")
    found = read_progress(shelf, run.target.mark)
    assert [one["at"][8:10] for one in found.runs] == ["06", "07"] and found.unreadable == 0
    assert not read_progress(shelf, "another").runs
    with Shelf(shelf) as opened:
        assert not opened.find(), "a run is not a take"
    picture = tmp_path / "progress.svg"
    assert main(["practise", "--progress", "--shelf", str(shelf), "--json", "--picture", str(picture)]) == 0
    said = json.loads(capsys.readouterr().out)
    assert len(said["runs"]) == 2 and said["runs"][0]["reached_qpm"] == 60 and b"<svg" in picture.read_bytes()
    assert main(["practise", "--progress", "--shelf", str(shelf)]) == 0
    assert "2031-05-07" in capsys.readouterr().out


def test_the_record_of_before_is_taken_over_once(tmp_path: Path) -> None:
    shelf, file = tmp_path / "shelf.sqlite", tmp_path / "shelf.sqlite.practice.jsonl"
    run = practice()
    play(run)
    old = [{"version": 1, "at": f"2031-05-0{day}T07:08:09+00:00", **run.to_dict()} for day in (3, 4)]
    text = json.dumps(old[0]) + '\n{"version": 1, "at": "2031-0\n' + json.dumps(old[1]) + "\n"
    file.write_text(text)
    add_run(shelf, run.to_dict(), "2031-05-07T07:08:09+00:00")
    assert [one["at"][8:10] for one in read_progress(shelf).runs] == ["03", "04", "07"]
    assert not file.exists() and (tmp_path / "shelf.sqlite.practice.jsonl.taken-over").read_text() == text
    file.write_text(text)  # As after a kill between the two steps.
    assert len(read_progress(shelf).runs) == 3


def test_a_damaged_run_is_left_out_and_a_rescued_shelf_keeps_the_rest(tmp_path: Path) -> None:
    shelf = tmp_path / "shelf.sqlite"
    run = practice()
    play(run)
    with Shelf(shelf) as opened:
        opened.add(take_of(PITCHES))
        opened.add_runs([PracticeRow("2031-05-05T07:08:09+00:00", "x", "y", '{"version": 1}')])
    add_run(shelf, run.to_dict(), "2031-05-07T07:08:09+00:00")
    found = read_progress(shelf)
    assert len(found.runs) == 1 and found.unreadable == 1
    assert rescue(shelf, tmp_path / "new.sqlite") == (1, 0)
    assert read_progress(tmp_path / "new.sqlite").runs == found.runs


def test_numbers_that_are_none_make_no_run(tmp_path: Path) -> None:
    run = practice()
    play(run)
    good = {"version": 1, "at": "2031-05-07T07:08:09+00:00", **run.to_dict()}
    wrong = [{**good, "reached_qpm": number} for number in (float("nan"), float("inf"), -1.0, 2**2000, True)]
    wrong += [{**good, "passes": [{"clean": float("nan")}]}]
    assert readable_runs([good, *wrong]) == [good]
    with Shelf(tmp_path / "shelf.sqlite") as opened:
        opened.add_runs([PracticeRow("2031", "x", "y", json.dumps(one)) for one in (good, *wrong)])
    assert read_progress(tmp_path / "shelf.sqlite") == Progress([good], len(wrong))


def test_a_lesson_can_be_practised(tmp_path: Path) -> None:
    folder = tmp_path / "lesson"
    folder.mkdir()
    write_smf(folder / "riff.mid", piece_of_take(take_of(PITCHES, gap_q=0.5)))
    with zipfile.ZipFile(tmp_path / "lesson.zip", "w") as archive:
        archive.write(folder / "riff.mid", "riff.mid")
    for name in ("lesson", "lesson.zip", "lesson/riff.mid"):
        asked = Namespace(take=str(tmp_path / name), shelf=None, first=1, last=None, played=False, layers=False)
        assert _read(asked)[1].mark == target().mark


def test_wrong_words_get_a_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file, empty = str(tmp_path / "steps.mid"), str(tmp_path / "empty.mid")
    write_smf(file, piece_of_take(take_of(PITCHES, gap_q=0.5)))
    write_smf(empty, piece_of_take(take_of([])))
    shelf = ["--shelf", str(tmp_path / "none.sqlite")]
    cases = [
        ([empty], "no notes"),
        ([], "nothing named"),
        ([file, "--from-tempo", "5"], "range"),
        ([file, "--from-tempo", "90", "--to-tempo", "60"], "cannot rise"),
        ([file, "--step", "0"], "step"),
        ([file, "--passes", "0"], "clean passes"),
        ([file, "--from", "7"], "no bar 7"),
        ([file, "--within", "500"], "out of range"),
        (["--progress"], "Nothing was practised"),
    ]
    for words, says in cases:
        assert main(["practise", *words, *shelf]) == 2
        text = capsys.readouterr().err
        assert says in text and text.count("\n") == 1
