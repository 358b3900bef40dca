"""Places as players count them."""

from fractions import Fraction

import pytest

from loopdeck.rhythm.counting import count_of, place_of
from loopdeck.rhythm.meter import parse_meter


@pytest.mark.parametrize(
    ("meter", "place", "words"),
    [
        ("4/4", "0", "1"),
        ("4/4", "3/2", "2 and"),
        ("4/4", "1/4", "1 e"),
        ("4/4", "15/4", "4 a"),
        ("4/4", "4/3", "2 triplet 2"),
        ("4/4", "8/3", "3 triplet 3"),
        ("4/4", "1/8", "1 + 1/8"),
        ("4+3/8", "2", "5"),
        ("7/8", "13/4", "7 and"),
        ("6/8", "3/2", "4"),
        ("2/2", "3", "2 and"),
    ],
)
def test_counts(meter: str, place: str, words: str) -> None:
    assert count_of(parse_meter(meter), Fraction(place)) == words


def test_a_place_in_a_sentence() -> None:
    assert place_of(3, parse_meter("4/4"), Fraction(3, 2)) == "bar 3, beat 2 and"
