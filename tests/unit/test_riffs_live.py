"""After every pass: what has come before, and how often."""

import numpy as np

from loopdeck.analysis.repeats.live import Recurrence, Recurrences, ordinal
from tests.unit.test_riffs import at, noodle


def passes(bars: list[list[tuple[float, int]]], remembered_sec: float = 600.0) -> list[Recurrence | None]:
    """Each bar of four at 120, played by hand, is a pass."""
    rng = np.random.default_rng(4)
    ear = Recurrences(remembered_sec)
    answers = []
    for bar in bars:
        places = np.array([place for place, _ in bar])
        seconds = np.sort(places / 2 + rng.uniform(0, 0.01, len(bar)))
        answers.append(ear.heard(seconds, np.full(len(bar), 0.1), [pitch for _, pitch in bar], seconds * 2))
    return answers


def test_the_third_time_is_told_when_it_comes() -> None:
    bars = [at(0), noodle(1, 1, 2), noodle(2, 2, 3), at(3), noodle(3, 4, 5), at(5), noodle(4, 6, 7), noodle(5, 7, 8)]
    answers = passes(bars)
    third = answers[5]
    assert third is not None and third.times == 3 and str(third) == "That is the third time"
    assert [round(second) for second in third.starts_sec] == [0, 6, 10]
    assert [answer for index, answer in enumerate(answers) if index not in (3, 5)] == [None] * 6


def test_what_is_long_ago_is_forgotten() -> None:
    bars = [at(0)] + [noodle(bar, bar, bar + 1) for bar in range(1, 20)] + [at(20), noodle(30, 21, 22), at(22), at(23)]
    answers = passes(bars, remembered_sec=10.0)
    assert answers[20] is None
    assert answers[23] is not None and answers[23].times == 3


def test_silence_and_single_notes() -> None:
    ear = Recurrences()
    assert ear.heard([], [], [], []) is None
    assert ear.heard([0.0], [0.1], [40], [0.0]) is None


def test_ordinals() -> None:
    assert [ordinal(number) for number in (1, 3, 10, 11, 12, 21, 22, 103)] == [
        "first", "third", "tenth", "11th", "12th", "21st", "22nd", "103rd"
    ]  # fmt: skip
