"""What repeats: exact and varied returns, what chance brings, and what is left of bad input."""

import numpy as np
import pytest
from numpy.typing import NDArray

from loopdeck.analysis.repeats.choice import searchers_of
from loopdeck.analysis.repeats.grammar import Chooser
from loopdeck.analysis.repeats.riffs import Riff, find_riffs, name_of
from loopdeck.analysis.repeats.text import Text, steps, text_of
from tests.bench.form_grammar import piece
from tests.bench.riff_grammar import planted

#: A riff of one bar: (place in quarters, pitch).
RIFF = ((0.0, 28), (0.5, 31), (0.75, 35), (1.5, 33), (2.0, 38), (2.75, 29), (3.0, 36), (3.5, 34))


def riffs_of(
    notes: list[tuple[float, int]], part: list[int] | None = None, scale: set[int] | None = None
) -> list[Riff]:
    """The riffs of (place in quarters, pitch) at 120, bars of four."""
    places, pitches = (np.array(column) for column in zip(*sorted(notes), strict=True))
    where = np.zeros(len(places)) if part is None else np.array(part)
    text = text_of(places / 2, np.full(len(places), 0.1), pitches, where, places)
    return find_riffs(text, np.floor(places / 4).astype(int) + 1, scale)


def noodle(seed: int, first_bar: int, last_bar: int) -> list[tuple[float, int]]:
    """Bars of chance: no two alike."""
    rng = np.random.default_rng(seed)
    return [
        (bar * 4 + float(place), int(rng.integers(40, 60)))
        for bar in range(first_bar, last_bar)
        for place in np.sort(rng.choice(16, 8, replace=False)) / 4
    ]


def at(bar: int, riff: tuple[tuple[float, int], ...] = RIFF, up: int = 0) -> list[tuple[float, int]]:
    return [(bar * 4 + place, pitch + up) for place, pitch in riff]


def found_at(riff: Riff) -> list[int]:
    return [round(one.start_sec * 2 / 4, 6) for one in riff.occurrences]


def test_a_riff_between_noodling_is_found_whole() -> None:
    notes = at(0) + noodle(1, 1, 4) + at(4) + noodle(2, 5, 9) + at(9) + noodle(3, 10, 12)
    (riff,) = riffs_of(notes)
    assert (riff.name, riff.bars, found_at(riff)) == ("A", 1, [0, 4, 9])
    assert [(place, pitch) for place, _, pitch in riff.notes] == list(RIFF)
    assert riff.occurrences[0].indices == tuple(range(8))
    assert all(one.alike == 1.0 and one.transposed == 0 for one in riff.occurrences)


def test_a_riff_of_one_bar_has_one_bar_though_it_goes_over_the_bar_line() -> None:
    later = tuple((place + 2.5, pitch) for place, pitch in RIFF)
    notes = [note for at_bar in (0, 4, 9) for note in at(at_bar, later)]
    notes += noodle(1, 2, 4) + noodle(2, 6, 9) + noodle(3, 11, 13)
    (riff,) = riffs_of(notes)
    assert (riff.bars, len(riff.notes), found_at(riff)) == (1, 8, [0.625, 4.625, 9.625])


@pytest.mark.parametrize(
    ("what", "bar"),
    [
        ("changed", [*RIFF[:3], (1.5, 45), *RIFF[4:]]),
        ("added", [*RIFF[:4], (1.75, 45), *RIFF[4:]]),
        ("left out", [*RIFF[:4], *RIFF[5:]]),
        ("first changed", [(0.0, 40), *RIFF[1:]]),
        ("last left out", list(RIFF[:-1])),
    ],
)
def test_a_varied_return_is_one(what: str, bar: list[tuple[float, int]]) -> None:
    notes = at(0) + noodle(1, 1, 4) + at(4, tuple(bar)) + noodle(2, 5, 9) + at(9) + noodle(3, 10, 12)
    (riff,) = riffs_of(notes)
    assert [round(place) for place in found_at(riff)] == [0, 4, 9]
    assert 0.8 <= riff.occurrences[1].alike < 1.0 and riff.best != 1
    assert [(place, pitch) for place, _, pitch in riff.notes] == list(RIFF)


def test_moved_an_octave_up_and_begun_a_beat_later() -> None:
    later = tuple((place + 1, pitch) for place, pitch in RIFF)
    notes = at(0) + noodle(1, 1, 4) + at(4, up=12) + noodle(2, 5, 9) + at(9, later) + noodle(3, 11, 13)
    (riff,) = riffs_of(notes)
    assert found_at(riff) == [0, 4, 9.25]
    assert [one.transposed for one in riff.occurrences] == [0, 12, 0]


def test_the_cleanest_is_where_the_riff_mostly_stands() -> None:
    (riff,) = riffs_of(at(0, up=5) + noodle(11, 1, 4) + at(4) + noodle(12, 5, 9) + at(9) + noodle(13, 10, 12))
    assert [one.transposed for one in riff.occurrences] == [5, 0, 0]
    assert [one.alike for one in riff.occurrences] == [1.0] * 3 and riff.best == 1


def test_a_row_of_returns_is_one_riff_and_not_two_at_once() -> None:
    (riff,) = riffs_of([note for bar in range(8) for note in at(bar)])
    assert (len(riff.occurrences), riff.bars, len(riff.notes)) == (8, 1, 8)


def test_a_phrase_inside_a_section_has_its_own_name() -> None:
    section = at(0) + noodle(1, 1, 3) + at(3) + noodle(2, 4, 6)
    notes = section + [(place + 24, pitch) for place, pitch in section] + noodle(3, 12, 14)
    section_riff, phrase = sorted(riffs_of(notes), key=lambda riff: -len(riff.notes))
    assert (len(section_riff.notes), found_at(section_riff)) == (len(section), [0, 6])
    assert found_at(phrase) == [0, 3, 6, 9]


def test_nothing_is_found_where_nothing_repeats() -> None:
    assert riffs_of(noodle(7, 0, 120)) == []


def test_a_riff_that_comes_back_in_another_part() -> None:
    notes = sorted(at(0) + at(5) + [(place + 40, pitch) for place, pitch in at(0)])
    (riff,) = riffs_of(notes, part=[0] * 16 + [1] * 8)
    assert len(riff.occurrences) == 3


def test_strummed_chords_are_a_riff() -> None:
    rng = np.random.default_rng(0)
    chords = [(place, root + above) for place, root in ((0, 28), (1, 33), (1.5, 31), (3, 36)) for above in (0, 7)]
    notes = [(bar * 4 + place + rng.uniform(0, 0.02), pitch) for bar in (0, 4, 7) for place, pitch in chords]
    (riff,) = riffs_of(notes + noodle(1, 1, 4) + noodle(2, 5, 7))
    assert len(riff.notes) == 8 and len(riff.occurrences) == 3


def test_what_lies_in_the_scale_ranks_higher() -> None:
    other = tuple((place, pitch + 1) for place, pitch in RIFF[::-1])
    other = tuple((place, pitch) for (place, _), (_, pitch) in zip(RIFF, other, strict=True))
    notes = at(0) + noodle(1, 1, 4) + at(4, other) + noodle(2, 5, 9) + at(9) + noodle(3, 10, 12) + at(12, other)
    for mine in (RIFF, other):
        best = riffs_of(notes, scale={pitch % 12 for _, pitch in mine})[0]
        assert [pitch for _, _, pitch in best.notes] == [pitch for _, pitch in mine]


@pytest.mark.parametrize(
    "notes",
    [
        [(0.0, 40)],
        [(1.0, pitch) for pitch in range(128)],
        [(0.0, 40)] * 50,
        [(-4.0, 40), (-3.0, 41), (-2.0, 42)],
    ],
)
def test_where_there_is_nothing_to_find(notes: list[tuple[float, int]]) -> None:
    assert riffs_of(notes) == []


def test_notes_before_zero_are_searched_too() -> None:
    (riff,) = riffs_of(at(-3) + noodle(1, -2, 2) + at(2) + noodle(2, 3, 5) + at(5))
    assert found_at(riff) == [-3, 2, 5]


def test_one_note_over_and_over_ends_well() -> None:
    riffs = riffs_of([(place / 2, 40) for place in range(4_000)])
    assert sum(len(riff.occurrences) for riff in riffs) < 4_000


def test_the_same_notes_give_the_same_riffs() -> None:
    take = planted(5)
    text = text_of(take.onset_sec, take.duration_sec, take.pitch, take.pitch * 0, take.onset_sec * take.bpm / 60)
    bars = np.ones(len(text), int)
    assert find_riffs(text, bars) == find_riffs(text, bars)


def test_the_grammars_give_the_same_every_time() -> None:
    assert planted(3).truth == planted(3).truth and piece(4).notes == piece(4).notes


def test_steps_follow_the_scale() -> None:
    assert steps(np.array([60, 62, 64, 65, 67, 69, 71, 72])).tolist() == list(range(35, 43))


def test_names() -> None:
    assert [name_of(number) for number in (0, 25, 26, 701, 702)] == ["A", "Z", "AA", "ZZ", "AAA"]


def looped(seed: int, rounds: int, dropped: float, changed: float) -> tuple[Text, NDArray[np.int64]]:
    """``RIFF`` over and over, by hand."""
    rng = np.random.default_rng(seed)
    notes = [
        (bar * 4 + place, int(rng.integers(40, 60)) if rng.random() < changed else pitch)
        for bar in range(rounds)
        for place, pitch in RIFF
        if rng.random() >= dropped
    ]
    seconds = np.sort(np.array([place for place, _ in notes]) / 2 + rng.normal(0.0, 0.008, len(notes)))
    pitch, bar = np.array([pitch for _, pitch in notes]), np.array([int(place // 4) for place, _ in notes])
    bars = (bar, seconds * 2 - bar * 4)
    return text_of(seconds, np.full(len(notes), 0.1), pitch, np.zeros(len(notes)), seconds * 2, bars=bars), bar


@pytest.mark.parametrize(("dropped", "changed"), [(0.0, 0.0), (0.03, 0.0), (0.0, 0.03)])
def test_one_loop_over_and_over_is_one_riff_and_quickly_found(dropped: float, changed: float) -> None:
    text, bar = looped(1, 60, dropped, changed)
    (riff,) = find_riffs(text, bar)
    assert riff.bars == 1 and len(riff.occurrences) >= 59
    assert [pitch for _, _, pitch in riff.notes] == [pitch for _, pitch in RIFF]
    # Its rotations and multiples, hundreds of them, are not searched for one by one.
    chooser = Chooser(text, searchers_of(text))
    chooser.chosen()
    assert len(chooser.searched) < 120


#: Another riff of one bar.
OTHER = ((0.0, 45), (1.0, 43), (1.25, 40), (2.5, 50), (3.0, 47), (3.25, 41))


@pytest.mark.parametrize("plan", ["AABB" * 5, "ABBA" * 5, "A.A." + "AB" * 6, "AAAABBBB" * 3])
def test_two_riffs_that_take_turns_have_a_name_each(plan: str) -> None:
    rng = np.random.default_rng(5)
    shapes = {"A": RIFF, "B": OTHER}
    notes = [
        (bar * 4 + place, pitch, bar)
        for bar, letter in enumerate(plan)
        for place, pitch in (
            shapes[letter] if letter in shapes else [(p - bar * 4, h) for p, h in noodle(9, bar, bar + 1)]
        )
    ]
    places, pitch, bar = (np.array(column) for column in zip(*notes, strict=True))
    played = np.sort(places + rng.normal(0.0, 0.01, len(places)))
    text = text_of(
        played / 2, np.full(len(places), 0.1), pitch, np.zeros(len(places)), played, bars=(bar, played - bar * 4)
    )
    found = find_riffs(text, bar)
    for letter, shape in shapes.items():
        (one,) = [riff for riff in found if [height for _, _, height in riff.notes] == [height for _, height in shape]]
        assert (one.bars, len(one.occurrences)) == (1, plan.count(letter))


def test_riffs_are_found_in_an_hour_of_noodling() -> None:
    take = planted(5, 60.0)
    onset_q = take.onset_sec * take.bpm / 60.0
    text = text_of(take.onset_sec, take.duration_sec, take.pitch, take.pitch * 0, onset_q)
    found = find_riffs(text, np.ones(len(text), int))
    heard = [set(one.indices) for riff in found for one in riff.occurrences]
    for riff in take.truth:
        for planting in map(set, riff):
            assert max((len(one & planting) / len(one | planting) for one in heard), default=0.0) >= 0.7
