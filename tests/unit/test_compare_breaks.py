"""A take that loses its place: where it does, by how much, and what is said of it."""

from pathlib import Path

import numpy as np
import pytest

from loopdeck.analysis.comparison.comparing import compare
from loopdeck.cli.compare_breaks import in_beats
from loopdeck.cli.main import main
from loopdeck.rhythm.meter import parse_meter
from tests.unit.test_riffs_command import write

#: Five bars of eighths at 120: places in quarters, and pitches that tell where one is.
PLACES = np.arange(40) / 2.0
PITCHES = np.random.default_rng(5).choice([40, 43, 45, 47, 50, 52], 40)


def take(
    shift_q: np.ndarray, kept: np.ndarray | None = None, spread_sec: float = 0.008
) -> tuple[np.ndarray, np.ndarray]:
    """The target by hand, each note moved by so many quarters, without those that are not kept."""
    chosen = np.ones(40, bool) if kept is None else kept
    by_hand = np.random.default_rng(6).normal(0.0, spread_sec, 40)
    return (((PLACES + shift_q) / 2.0) + by_hand)[chosen] + 1.0, PITCHES[chosen]


@pytest.mark.parametrize(("at", "moved_q"), [(13, 0.5), (13, -0.5), (20, 1.0), (33, 4.0)])
def test_a_jump_is_found_where_it_is(at: int, moved_q: float) -> None:
    late = np.arange(40) >= at
    kept = ~late | (moved_q > 0) | (np.arange(40) != at)
    made = compare(*take(moved_q * late, kept), PLACES / 2.0 + 1.0, PITCHES)
    assert [one.at for one in made.breaks] == [at + (moved_q < 0)]
    assert made.breaks[0].moved_sec == pytest.approx(moved_q / 2.0, abs=0.02)
    if made.by == "order":
        assert made.missed == np.flatnonzero(~kept).tolist() and not made.wrong


def test_a_bar_left_out_is_missed_and_all_else_is_there() -> None:
    kept = (np.arange(40) < 8) | (np.arange(40) >= 16)
    made = compare(*take(-4.0 * (np.arange(40) >= 16), kept), PLACES / 2.0 + 1.0, PITCHES)
    assert made.missed == list(range(8, 16)) and not made.added and [one.at for one in made.breaks] == [16]
    assert made.by == "order" and made.ratio == 1.0


@pytest.mark.parametrize("late", [np.arange(40) >= 20, np.arange(40) >= 10, (np.arange(40) + 10) % 40 >= 20])
def test_a_stretch_of_which_every_note_is_near_its_place_is_late_there(late: np.ndarray) -> None:
    made = compare(*take(0.3 * late), PLACES / 2.0 + 1.0, PITCHES)
    assert made.by == "time" and made.breaks and not made.missed and not made.added
    assert [other for _, other, _ in made.late] == np.flatnonzero(late).tolist()
    assert len(made.matched) == (~late).sum()


def test_a_steady_take_has_no_breaks() -> None:
    target = PLACES / 2.0 + 1.0, PITCHES
    still = take(np.zeros(40))
    assert not compare(*still, *target).breaks
    assert not compare(still[0] * 1.2, still[1], *target).breaks
    for ratio in (0.97, 0.98, 0.985, 1.015, 1.02, 1.03):
        assert not compare(still[0] * ratio, still[1], *target).breaks
    assert not compare(still[0] + 3.0, still[1], *target).breaks
    assert not compare(still[0], np.random.default_rng(9).permutation(PITCHES), *target).breaks


def test_what_is_said_of_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = write(tmp_path / "target.mid", list(zip((PLACES + 4).tolist(), PITCHES.tolist(), strict=True)))
    for at, moved_q, words in (
        (16, 1.0, "Compared by order: you wait a beat too long before beat 1 in bar 4, and go on from there."),
        (34, -0.5, "You leave out half a beat before the and of 2 in bar 6, and go on from there."),
    ):
        late = np.arange(40) >= at
        onsets, pitches = take(moved_q * late, ~late | (moved_q > 0) | (np.arange(40) != at), 0.0)
        played = write(tmp_path / "take.mid", list(zip((2 * onsets + 2).tolist(), pitches.tolist(), strict=True)))
        assert main(["compare", played, target]) == 0
        said = " ".join(capsys.readouterr().out.split())
        assert words in said and "keep your place there." in said


@pytest.mark.parametrize(
    ("quarters", "meter", "words"),
    [
        (0.5, "4/4", "half a beat"),
        (1.02, "4/4", "a beat"),
        (1.5, "4/4", "a beat and a half"),
        (2.5, "4/4", "2 and a half beats"),
        (4.0, "4/4", "a bar"),
        (7.0, "7/8", "2 bars"),
        (1.0, "7/8", "2 beats"),
        (0.4, "4/4", ""),
    ],
)
def test_lengths_in_beats(quarters: float, meter: str, words: str) -> None:
    assert in_beats(quarters, parse_meter(meter)) == words
