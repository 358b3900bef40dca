"""A take that begins elsewhere, goes round its target several times, or is another piece."""

import json
from pathlib import Path

import numpy as np
import pytest

from loopdeck.analysis.comparison.comparing import Comparison, compare
from loopdeck.cli.main import main
from tests.unit.test_riffs_command import write

AT = np.array([0, 1, 2, 3, 5, 6, 7, 8, 9, 11, 12, 13, 14, 15]) * 0.26
RIFF = np.array([28, 31, 33, 35, 28, 38, 35, 33, 31, 28, 33, 36, 28, 38])


def by_hand(seed: int, spread_sec: float = 0.01) -> np.ndarray:
    return np.random.default_rng(seed).normal(0, spread_sec, len(AT))


def rounds_of(count: int, ratio: float, seed: int) -> Comparison:
    at = np.concatenate([ratio * (AT + one * 4.16) + by_hand(seed + one) for one in range(count)])
    return compare(at, np.tile(RIFF, count), AT, RIFF)


@pytest.mark.parametrize("later", [0.41, 1.3, 2.6])
@pytest.mark.parametrize("spread_sec", [0.005, 0.04])
def test_who_begins_later_keeps_the_tempo(later: float, spread_sec: float) -> None:
    made = compare(np.sort(AT + later + by_hand(1, spread_sec)), RIFF, AT, RIFF)
    assert (made.by, made.ratio, made.missed) == ("order", 1.0, [])


def test_who_is_late_throughout_does_not_begin_elsewhere() -> None:
    made = compare(AT + 0.09 + by_hand(2), RIFF, AT, RIFF)
    assert made.by == "time" and len(made.late) == len(AT)


@pytest.mark.parametrize("count", [1, 2, 3, 8])
@pytest.mark.parametrize("ratio", [1.0, 0.9, 1.25])
def test_rounds_are_counted(count: int, ratio: float) -> None:
    made = rounds_of(count, ratio, 5)
    assert made.rounds == count and made.ratio == pytest.approx(ratio, rel=0.01)
    assert made.missed == [] and len(made.added) == (count - 1) * len(AT)


def test_other_notes_are_no_round() -> None:
    rng = np.random.default_rng(3)
    for _ in range(10):
        at = np.concatenate((AT, 4.3 + np.cumsum(rng.choice([0.26, 0.52], 40))))
        assert compare(at, np.concatenate((RIFF, rng.choice(RIFF, 40))), AT, RIFF).rounds == 1


def told(folder: Path, capsys: pytest.CaptureFixture[str], at: np.ndarray, pitch: np.ndarray) -> list[str]:
    take = write(folder / "take.mid", list(zip((2 * at).tolist(), pitch.tolist(), strict=True)))
    target = write(folder / "target.mid", list(zip((2 * AT).tolist(), RIFF.tolist(), strict=True)))
    assert main(["compare", take, target, "--json"]) == 0
    return list(json.loads(capsys.readouterr().out)["says"])


def test_what_is_said_of_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    twice = told(tmp_path, capsys, np.concatenate((AT, AT + 4.16)), np.tile(RIFF, 2))
    assert twice[1:] == [
        "You played it twice; one of them is compared, the others count as added.",
        "Nothing is left to work on at this tempo.",
    ]
    then = np.concatenate((AT, AT + 4.16, 9 + 0.2 * np.arange(30))), np.concatenate((RIFF, RIFF, np.arange(50, 80)))
    assert told(tmp_path, capsys, *then)[2] == "About 30 notes belong to no round of it."
    late = told(tmp_path, capsys, AT + 0.04, RIFF)
    assert late[1:] == ["You are 40 ms late throughout.", "Play it all 40 ms earlier, or have the latency taken off."]
    other = told(tmp_path, capsys, AT * 1.37 + 0.1, np.roll(RIFF, 5) + 1)
    assert other[1:] == ["The take has little in common with this target: is it the right one?"]
    loose = told(tmp_path, capsys, np.abs(AT + 0.04 * (-1.0) ** np.arange(len(AT))), RIFF)
    assert loose[1].startswith("The timing is loose: 14 notes lie 4") and "7 late and 7 early." in loose[1]
    assert loose[2].startswith("Work on bar ") and " late." in loose[2]


@pytest.mark.parametrize(("ratio", "how"), [(1.03, "You fall behind, by "), (0.97, "You run ahead, by ")])
def test_a_tempo_that_is_a_little_off_is_no_lateness(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], ratio: float, how: str
) -> None:
    off = told(tmp_path, capsys, AT * ratio, RIFF)
    assert off[1].startswith(how) and "from the first note to the last." in off[1]
    assert not any("throughout" in one for one in off) and off[-1].startswith("Work on bar 2: ")
    # Late in the second half is no other tempo.
    assert "fall behind" not in told(tmp_path, capsys, AT + 0.06 * (AT > 1.9), RIFF)[1]


def test_where_a_take_lies_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert told(tmp_path, capsys, AT + 1.3, RIFF)[1] == "Compared by order: the take lies 1.3 s behind the target."
    paused = told(tmp_path, capsys, AT + 0.6 * (AT > 1.9), RIFF)
    assert paused[1].startswith("Compared by order: you wait ") and paused[1].endswith(", and go on from there.")
