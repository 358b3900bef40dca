"""A take held against a target: what was done to it is what is said of it; in time, by order, and
with bad input."""

import json
from pathlib import Path

import numpy as np
import pytest

from loopdeck.analysis.comparison.comparing import Comparison, compare
from loopdeck.cli.main import main
from tests.bench.altered import Altered, altered
from tests.unit.test_riffs_command import write


def held(case: Altered) -> Comparison:
    return compare(case.onset_sec, case.pitch, case.target_sec, case.target_pitch)


def pairs(rows: list[tuple[int, int, float]]) -> set[tuple[int, int]]:
    return {row[:2] for row in rows}


@pytest.mark.parametrize("seed", range(12))
def test_in_time_all_that_was_done_is_told(seed: int) -> None:
    case = altered(seed)
    made = held(case)
    assert made.by == "time"
    assert (set(made.missed), set(made.added)) == (case.missed, case.added)
    assert (pairs(made.wrong), pairs(made.early), pairs(made.late)) == (case.wrong, case.early, case.late)
    assert all(28 <= ms <= 52 for _, _, ms in made.late) and all(-52 <= ms <= -28 for _, _, ms in made.early)
    assert made.scores["recall"] == len(made.matched) / 64


def test_a_note_beyond_the_tolerance_is_late_and_not_missing() -> None:
    made = compare([0.0, 1.09], [40, 43], [0.0, 1.0], [40, 43])
    assert (made.scores["f1"], made.matched, made.missed, made.added) == (0.5, [(0, 0, 0.0)], [], [])
    assert made.late == [(1, 1, 90.0)]


@pytest.mark.parametrize("ratio", [0.7, 1.4, 2.0])
def test_by_order_where_the_tempo_differs(ratio: float) -> None:
    told = right = 0
    for seed in range(6):
        case = altered(seed, ratio=ratio)
        made = held(case)
        assert made.by == "order" and made.ratio == pytest.approx(ratio, rel=0.01)
        assert (set(made.missed), set(made.added)) == (case.missed, case.added)
        assert pairs(made.wrong) == case.wrong
        timed, truth = pairs(made.early) | pairs(made.late), case.early | case.late
        told, right = told + len(timed | truth), right + len(timed & truth)
        # The figures are those of the notes as they lie.
        assert made.scores["f1"] < 0.5
    assert right / told >= 0.85


def test_by_order_though_it_begins_later_and_drifts() -> None:
    case = altered(3, notes=120)
    drift = 0.2 * np.sin(case.onset_sec / 9.0)
    made = compare(case.onset_sec + 5.0 + drift, case.pitch, case.target_sec, case.target_pitch)
    assert made.by == "order" and len(set(made.missed) ^ case.missed) <= 1 and len(set(made.added) ^ case.added) <= 1


def test_the_same_is_the_same() -> None:
    case = altered(1)
    made = compare(case.target_sec, case.target_pitch, case.target_sec, case.target_pitch)
    assert made.scores == {
        "f1": 1.0,
        "precision": 1.0,
        "recall": 1.0,
        "strict": {"f1": 1.0, "precision": 1.0, "recall": 1.0},
    }
    assert made.matched == [(index, index, 0.0) for index in range(64)]
    assert not (made.wrong or made.early or made.late or made.missed or made.added)


@pytest.mark.parametrize(
    ("played", "target"),
    [
        (([], []), ([], [])),
        (([], []), ([1.0], [40])),
        (([1.0], [40]), ([], [])),
        (([1.0], [40]), ([9.0], [41])),
        (([0.0] * 128, list(range(128))), ([5.0] * 128, list(range(128)))),
        (([-2.0, -1.0], [40, 41]), ([-2.0, -1.0], [40, 41])),
        (([0.0] * 2_000, [40] * 2_000), ([0.0] * 2_000, [40] * 2_000)),
    ],
)
def test_bad_input_ends_well(played: tuple[list, list], target: tuple[list, list]) -> None:
    made = compare(*played, *target)
    there = {one for one, _, _ in [*made.matched, *made.early, *made.late]}
    assert len(there) + len(made.added) == len(played[0])
    assert 0.0 <= made.scores["f1"] <= 1.0


# ---- the command ---------------------------------------------------------------------------------


def files(folder: Path, case: Altered) -> tuple[str, str]:
    take = write(folder / "take.mid", [(sec * 2, int(p)) for sec, p in zip(case.onset_sec, case.pitch, strict=True)])
    notes = [(sec * 2, int(p)) for sec, p in zip(case.target_sec, case.target_pitch, strict=True)]
    return take, write(folder / "target.mid", notes)


def test_the_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    case = altered(5)
    assert main(["compare", *files(tmp_path, case), "--json"]) == 0
    out, err = capsys.readouterr()
    found = json.loads(out)
    assert err == "" and out.count("\n") == 1
    assert {
        "f1",
        "precision",
        "recall",
        "strict",
        "matched",
        "wrong",
        "early",
        "late",
        "missed",
        "added",
        "says",
    } <= set(found)
    assert set(found["strict"]) == {"f1", "precision", "recall"}
    assert (set(found["missed"]), set(found["added"])) == (case.missed, case.added)
    assert {tuple(row[:2]) for row in found["wrong"]} == case.wrong
    assert all(isinstance(sentence, str) and sentence.endswith(".") for sentence in found["says"])


def test_the_report_fits_a_screen(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", *files(tmp_path, altered(5))]) == 0
    out = capsys.readouterr().out
    assert "54 of 64 notes are there." in out and "D# where E belongs, 3 times; " in out and "Work on bar" in out
    assert len(out.splitlines()) <= 24
    assert main(["compare", *files(tmp_path, altered(5, ratio=1.25))]) == 0
    assert "Compared by order: the take runs at 80 % of the target's tempo." in capsys.readouterr().out


def told(tmp_path: Path, capsys: pytest.CaptureFixture[str], played: list[tuple[float, int]]) -> list[str]:
    """What is said of a playing of sixteen eighths on E and G, at 120."""
    target = [(at / 2, (40, 43)[at % 2]) for at in range(16)]
    files = write(tmp_path / "take.mid", played), write(tmp_path / "target.mid", target)
    assert main(["compare", *files, "--json"]) == 0
    return list(json.loads(capsys.readouterr().out)["says"])


def test_the_most_that_went_wrong_comes_first(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    late = [(at / 2 + (0.12 if at % 2 else 0.0), (40, 43)[at % 2]) for at in range(16)]
    sentences = told(tmp_path, capsys, late)
    assert sentences[:2] == [
        "All 16 notes are there.",
        "8 notes come late, by 60 ms or so, all on the off-beats.",
    ]
    one_off = [(at / 2, 42 if at == 5 else (40, 43)[at % 2]) for at in range(16) if at != 11]
    assert told(tmp_path, capsys, one_off)[1:3] == [
        "Bar 1, beat 3 and: F# where G belongs.",
        "1 note missed, in bar 2.",
    ]
    assert "2 notes missed, both in bar 2." in told(tmp_path, capsys, late[:14])


def test_late_throughout_is_most_of_the_notes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Also of those that are too late to be matched."""
    line = [(at / 2, (40, 43)[at % 2]) for at in range(16)]
    assert told(tmp_path, capsys, [(at + 0.14, pitch) for at, pitch in line])[1] == "You are 70 ms late throughout."
    # Half of them 40 ms late, half of them 60 ms early.
    either = told(tmp_path, capsys, [(at + (0.08 if pitch == 40 else -0.12), pitch) for at, pitch in line])
    assert not any("throughout" in one for one in either)
    assert told(tmp_path, capsys, [(at, 50) for at, _ in line[:2]])[0] == "None of the 16 notes is there."


def test_what_begins_later_is_compared_by_order(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    case = altered(5)
    later = write(
        tmp_path / "later.mid", [(sec * 2 + 7, int(p)) for sec, p in zip(case.onset_sec, case.pitch, strict=True)]
    )
    assert main(["compare", later, files(tmp_path, case)[1]]) == 0
    assert "Compared by order: the take lies 3.5 s behind the target." in capsys.readouterr().out


def test_an_octave_off_is_named_with_its_octave(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    line = [40, 43, 45, 47, 50, 47, 45, 43]
    target = write(tmp_path / "target.mid", [(at, pitch) for at, pitch in enumerate(line)])
    take = write(tmp_path / "take.mid", [(at, pitch + 12 * (at == 2)) for at, pitch in enumerate(line)])
    assert main(["compare", take, target]) == 0
    out = capsys.readouterr().out
    assert "A3 where A2 belongs." in out and "A3 for A2" in out


def test_nothing_against_something(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    empty, full = write(tmp_path / "empty.mid", []), write(tmp_path / "full.mid", [(0.0, 40)])
    for take, target, sentence in (
        (empty, full, "There are no notes to compare."),
        (full, empty, "The target has no notes."),
    ):
        assert main(["compare", take, target]) == 0
        assert sentence in capsys.readouterr().out
    assert main(["compare", full, str(tmp_path / "none.mid")]) == 2
    assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.parametrize("ratio", [1.0, 1.5])
def test_the_picture(tmp_path: Path, capsys: pytest.CaptureFixture[str], ratio: float) -> None:
    pytest.importorskip("matplotlib")
    take, target = files(tmp_path, altered(5, ratio=ratio))
    assert main(["compare", take, target, "--picture", str(tmp_path / "picture.png")]) == 0
    assert (tmp_path / "picture.png").read_bytes().startswith(b"\x89PNG")
    assert main(["compare", take, target, "--picture", target]) == 2
    assert "ending that no picture has" in capsys.readouterr().err
