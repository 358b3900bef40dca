"""Where a riff begins and ends, which notes are its own, and what a kept stretch carries over."""

from fractions import Fraction

import numpy as np
import pytest

from loopdeck.analysis.repeats.barlines import bar_lines
from loopdeck.analysis.repeats.riffs import Riff, find_riffs
from loopdeck.analysis.repeats.text import text_of
from loopdeck.capture.events import Event
from loopdeck.shelf.carried import grid_for, settings_of
from tests.unit.test_riffs import RIFF, at, noodle

#: Two performances of three go on with the same note, by chance.
CHANCE = (4.0, 45)
#: A bar of eighths.
EIGHT = (40, 40, 47, 40, 43, 40, 45, 47)


def played(notes: list[tuple[float, int]], known_bars: bool, seed: int = 4) -> list[Riff]:
    """The riffs of (place, pitch) at 120, by hands that are off by 15 ms."""
    places, pitches = (np.array(column) for column in zip(*sorted(notes), strict=True))
    places = places + np.random.default_rng(seed).normal(0.0, 0.03, len(places))
    bar = np.floor(places / 4 + 0.05).astype(int)
    bars = (bar, places - bar * 4) if known_bars else None
    text = text_of(places / 2, np.full(len(places), 0.1), pitches, np.zeros(len(places)), places, bars=bars)
    return find_riffs(text, bar + 1)


def take() -> list[tuple[float, int]]:
    notes = []
    for number, bar in enumerate((0, 5, 10)):
        rest = [one for one in noodle(number + 1, bar + 1, bar + 5) if one[0] > bar * 4 + 4.0]
        notes += [*at(bar), (bar * 4 + CHANCE[0], CHANCE[1] if number < 2 else 52), *rest]
    return notes


def test_a_riff_ends_at_its_bar_line_though_chance_goes_on() -> None:
    (riff,) = played(take(), known_bars=True)
    assert [pitch for _, _, pitch in riff.notes] == [pitch for _, pitch in RIFF] and riff.bars == 1
    (without,) = played(take(), known_bars=False)
    assert len(without.notes) == len(RIFF) + 1


@pytest.mark.parametrize("times", [8, 20])
@pytest.mark.parametrize(("figure", "apart"), [((40, 43, 45, 46, 47), 0.5), ((40, 43, 45, 38), 1.0), (EIGHT, 0.5)])
def test_an_even_figure_over_and_over_is_a_riff(figure: tuple[int, ...], apart: float, times: int) -> None:
    notes = [(number * apart, pitch) for number, pitch in enumerate(figure * times)]
    for known_bars in (True, False):
        (riff,) = played(notes, known_bars)
        rounds = len(riff.notes) // len(figure)
        assert sorted(pitch for _, _, pitch in riff.notes) == sorted(figure * rounds) and rounds in (1, 2)
        assert len(riff.occurrences) * rounds >= times - 2


def test_one_note_over_and_over_is_none() -> None:
    assert played([(number / 2, 40) for number in range(64)], known_bars=True) == []


def test_bar_lines_that_returns_do_not_go_by_tell_nothing() -> None:
    lines = bar_lines([1, 1, 2, 2, 3, 3], [0.0, 2.0, 0.0, 2.0, 1.1, 3.2], np.arange(6), np.zeros(6, int))
    assert lines.begins.tolist() == [True, False, True, False, True, False, True]
    with_bars = lines.aligned(np.array([0, 2]), np.array([1, 3]), 0, 0.1)
    across = lines.aligned(np.array([0, 4]), np.array([1, 5]), 0, 0.1)
    assert with_bars.all() and across.tolist() == [True, False]
    assert lines.edge_bits(0, 1, with_bars) > 0.0 == lines.edge_bits(0, 1, across)


def test_a_riff_has_the_notes_that_most_performances_have() -> None:
    notes = []
    for number, bar in enumerate((0, 5, 10, 15)):
        # Every performance leaves another note out.
        notes += [one for place, one in enumerate(at(bar)) if place != number + 2] + noodle(
            number + 1, bar + 1, bar + 5
        )
    (riff,) = played(notes, known_bars=True)
    assert [pitch for _, _, pitch in riff.notes] == [pitch for _, pitch in RIFF]
    assert [place for place, _, _ in riff.notes] == pytest.approx([place for place, _ in RIFF], abs=0.1)
    assert {one.alike for one in riff.occurrences} == {0.875}


def test_settings_hold_and_a_pedal_goes_up_at_the_end() -> None:
    events = [
        Event(0.0, 0, bytes((0xB0, 0, 1))),
        Event(0.0, 0, bytes((0xC0, 5))),
        Event(1.0, 0, bytes((0xC0, 35))),
        Event(1.5, 0, bytes((0xC1, 9))),
        Event(2.5, 0, bytes((0xB0, 64, 127))),
        Event(2.6, 0, bytes((0xB0, 101, 0))),
        Event(2.7, 0, bytes((0xB0, 123, 0))),
        Event(9.0, 0, bytes((0xC0, 7))),
    ]
    found = settings_of(events, {0}, 2.0, 4.0, -0.01)
    assert [(event.time_sec, event.data.hex()) for event in found] == [
        (-0.01, "b00001"),
        (-0.01, "c023"),
        (0.5, "b0407f"),
        (2.0, "b04000"),
    ]


@pytest.mark.parametrize(
    ("written", "grid"),
    [
        ([Fraction(0), Fraction(1, 2), Fraction(3, 4)], "1/16"),
        ([Fraction(0), Fraction(1, 3), Fraction(2)], "1/8T"),
        ([Fraction(0), Fraction(1, 6), Fraction(1, 2)], "1/16T"),
        ([Fraction(1, 8)], "1/32"),
        ([Fraction(1, 3), Fraction(1, 4)], "auto"),
        ([], "1/16"),
    ],
)
def test_the_plainest_grid_that_holds_all(written: list[Fraction], grid: str) -> None:
    assert str(grid_for(written)) == grid
