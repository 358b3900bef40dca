"""Places of notes that were not struck together, and where notes end on paper."""

from fractions import Fraction as F

import pytest

from loopdeck.page.beat_rows import Beat, beats_of
from loopdeck.page.lengths import Ends, as_told, played
from loopdeck.page.parting import Onset, parted
from loopdeck.rhythm.meter import parse_cycle


def _beats(meters: str, bars: int = 2) -> list[Beat]:
    rows, at = [], F(0)
    for _ in range(bars):
        for meter in parse_cycle(meters).meters:
            rows.append((at, meter))
            at += meter.quarters
    return beats_of(rows)


def _onset(place: F, really: float, length: float = 0.1) -> Onset:
    return Onset(place, really, really / 2, (really + length) / 2)


def test_notes_one_after_the_other_get_places_of_their_own() -> None:
    # The sextuplet's second note was heard on the beat.
    heard = [_onset(F(1), 1.0), _onset(F(1), 1.168), _onset(F(5, 3), 1.66)]
    assert parted(heard, _beats("4/4")) == [F(1), F(7, 6), F(5, 3)]


def test_a_second_early_downbeat_belongs_to_the_beat_before() -> None:
    heard = [_onset(F(2), 2.0, 0.6), _onset(F(3), 2.73, 0.2), _onset(F(3), 3.01)]
    assert parted(heard, _beats("4/4")) == [F(2), F(11, 4), F(3)]


def test_a_chord_stays_one() -> None:
    heard = [_onset(F(1), 1.0, 0.9), _onset(F(1), 1.1, 0.8), _onset(F(3, 2), 1.5)]
    assert parted(heard, _beats("4/4")) == [F(1), F(1), F(3, 2)]


@pytest.mark.parametrize(
    ("place", "sounding", "end"),
    [(F(0), 0.9, F(1)), (F(0), 1.35, F(3, 2)), (F(0), 1.75, F(7, 4)), (F(0), 3.6, F(4)), (F(4, 3), 0.31, F(5, 3))],
)
def test_notes_let_go_early_end_on_the_grid(place: F, sounding: float, end: F) -> None:
    ends = Ends.of(_beats("4/4"), [F(0), place], F(1, 4))
    assert place + played(place, sounding, None, ends) == end


def test_an_end_that_is_no_place_is_none() -> None:
    ends = Ends.of(_beats("5/8"), [F(5, 2), F(27, 10)], F(1, 4))
    assert as_told(F(27, 10), F(1, 5), None, ends) == F(1, 5)
    assert as_told(F(0), F(19, 10), None, ends) is None
