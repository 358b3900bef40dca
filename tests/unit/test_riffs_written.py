"""What is listed of written music: whole sections, the phrase that opens the first of them, and of
brief figures those that stand alone."""

import pytest

from loopdeck.analysis.repeats.riffs import Riff
from tests.unit.test_riffs import RIFF, at, found_at, noodle, riffs_of

Notes = list[tuple[float, int]]


def section(seed: int, bars: int) -> Notes:
    return noodle(seed, 0, bars)


def played(*sections: Notes) -> Notes:
    """Sections one after another; each lasts to the end of its last bar."""
    notes: Notes = []
    begin = 0.0
    for one in sections:
        notes += [(begin + place, pitch) for place, pitch in one]
        begin += 4.0 * (int(one[-1][0]) // 4 + 1)
    return notes


def spans(riffs: list[Riff]) -> set[tuple[int, ...]]:
    """Where each riff begins, in bars from 0."""
    return {tuple(int(start) for start in found_at(riff)) for riff in riffs}


@pytest.mark.parametrize("seed", range(3))
def test_a_section_that_ends_with_the_first_one_begins_where_it_is_new(seed: int) -> None:
    a, b, end = section(10 + seed, 4), section(20 + seed, 4), section(30 + seed, 4)
    riffs = riffs_of(played(a, a, b, a, b, a, end))
    assert spans(riffs) == {(0, 4, 12, 20), (8, 16)}
    # Without a first part heard before, the round begins where it began.
    assert (0, 8) in spans(riffs_of(played(a, b, a, b, a, end)))


@pytest.mark.parametrize("seed", range(3))
def test_a_section_that_comes_more_often_the_other_way_round_begins_there(seed: int) -> None:
    a, b, end = section(10 + seed, 4), section(20 + seed, 4), section(30 + seed, 4)
    one, two = section(50 + seed, 2), section(60 + seed, 2)
    notes = played(a, a, b, a, b, a, one, a, b, two, a, b, end)
    whole = max(riffs_of(notes), key=lambda riff: len(riff.notes))
    assert [pitch for _, _, pitch in whole.notes] == [pitch for _, pitch in played(a, b)]
    assert len(whole.occurrences) == 4


@pytest.mark.parametrize("seed", range(3))
def test_a_riff_that_comes_once_and_then_three_times_in_a_row_begins_where_it_began(seed: int) -> None:
    riff, noodles, end = section(10 + seed, 4), section(50 + seed, 3), section(30 + seed, 4)
    (found,) = riffs_of(played(riff, noodles, riff, riff, riff, end))
    rounds = [(one.indices[0], len(one.indices), one.alike) for one in found.occurrences]
    before = len(riff) + len(noodles)
    assert rounds == [(start, len(riff), 1.0) for start in (0, *(before + turn * len(riff) for turn in range(3)))]


@pytest.mark.parametrize("seed", range(3))
def test_a_riff_played_twice_before_its_fill_is_not_turned(seed: int) -> None:
    riff, fill, noodles, end = (
        section(10 + seed, 2),
        section(50 + seed, 1),
        section(80 + seed, 2),
        section(30 + seed, 2),
    )
    listed = riffs_of(played(riff, noodles, riff, riff, fill, riff, riff, fill, riff, end))
    first, size = len(riff) + len(noodles), 2 * len(riff) + len(fill)
    assert [(first, size), (first + size, size)] in [
        [(one.indices[0], len(one.indices)) for one in found.occurrences] for found in listed
    ]


@pytest.mark.parametrize("seed", range(3))
def test_a_brief_figure_is_listed_where_it_stands_alone(seed: int) -> None:
    one, two = (played(section(part + seed, 5), at(0), section(part + 50 + seed, 6), at(0)) for part in (100, 200))
    noodles = [section(300 + 20 * seed + bar, 1) for bar in range(8)]
    inside = riffs_of(played(one, noodles[0], two, noodles[1], one, noodles[2], two))
    assert sum(len(riff.notes) >= len(one) for riff in inside) == 2
    assert not any(set(RIFF) <= {(place, pitch) for place, _, pitch in riff.notes} for riff in inside[2:])
    alone = riffs_of(played(one, *(part for bar in noodles for part in (bar, at(0))), one))
    assert any([(place, pitch) for place, _, pitch in riff.notes] == list(RIFF) for riff in alone)


@pytest.mark.parametrize("seed", range(1, 4))
def test_the_phrase_that_opens_a_piece_in_sections_is_listed_last(seed: int) -> None:
    # Its last note is long, as at the end of a phrase.
    phrase = [*section(10 + seed, 3), (12.0, 45)]
    a, b = played(phrase, section(20 + seed, 5)), section(30 + seed, 8)
    riffs = riffs_of(played(a, a, b, b))
    assert spans(riffs[:2]) == {(0, 9), (18, 26)}
    (opening,) = riffs[2:]
    assert [round(start) for start in found_at(opening)] == [0, 9]
    assert len(opening.notes) == len(phrase)
    # Of playing that is only in part sections there is no such level.
    (alone,) = riffs_of(played(a, section(70 + seed, 4), a, section(80 + seed, 9)))
    assert len(alone.notes) >= len(a)
