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


def by_hand(riff: list[tuple[float, int]], bars: int, rounds: int, passes: list[int]) -> list[Recurrence | None]:
    """A riff of so many bars over and over at 110, in passes of so many bars, and its bar lines."""
    rng, ear, first = np.random.default_rng(1), Recurrences(), 0
    notes = [(4.0 * bars * number + place, pitch) for number in range(rounds) for place, pitch in riff]
    places, pitches = (np.array(column) for column in zip(*notes, strict=True))
    bar = np.floor(places / 4)
    places = places + rng.normal(0.0, 0.015, len(places))
    answers = []
    for count in passes:
        mine = (bar >= first) & (bar < first + count)
        first += count
        at_q, numbers = places[mine], bar[mine]
        lines = numbers, at_q - 4 * numbers
        answers.append(ear.heard(at_q * 60 / 110, np.full(len(at_q), 0.1), pitches[mine], at_q, lines))
    return answers


def test_a_loop_of_sixteenths_is_told_however_long_it_lasts() -> None:
    pitches = (28, 35, 31, 40, 33, 28, 45, 43, 31, 28, 38, 35, 40, 28, 33, 47)
    answers = by_hand([(number / 4, pitch) for number, pitch in enumerate(pitches)], 1, 264, [64] * 4 + [2] * 4)
    assert [answer and answer.times for answer in answers[4:]] == [258, 260, 262, 264]


def test_a_loop_longer_than_the_pass_is_told_whole() -> None:
    rng = np.random.default_rng(2)
    riff = [(number / 2, int(rng.choice([28, 31, 33, 35, 38, 40, 43]))) for number in range(32)]
    last = by_hand(riff, 4, 16, [2] * 32)[-1]
    assert last is not None and last.times == 16
    assert np.allclose(np.diff(last.starts_sec), 16 * 60 / 110, atol=0.1)


def test_silence_and_single_notes() -> None:
    ear = Recurrences()
    assert ear.heard([], [], [], []) is None
    assert ear.heard([0.0], [0.1], [40], [0.0]) is None


def test_ordinals() -> None:
    assert [ordinal(number) for number in (1, 3, 10, 11, 12, 21, 22, 103)] == [
        "first", "third", "tenth", "11th", "12th", "21st", "22nd", "103rd"
    ]  # fmt: skip
