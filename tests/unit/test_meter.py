"""Meters and cycles: groups, bars, clicks, halves, and how they are read and written."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.errors import UserError
from loopdeck.rhythm.meter import Cycle, Meter, default_groups, parse_cycle, parse_meter
from tests.unit.rhythm_strategies import cycles, meters


@pytest.mark.parametrize(
    ("text", "groups"),
    [
        ("4/4", (1, 1, 1, 1)),
        ("3/2", (1, 1, 1)),
        ("2/1", (1, 1)),
        ("6/8", (3, 3)),
        ("9/8", (3, 3, 3)),
        ("12/8", (3, 3, 3, 3)),
        ("6/16", (3, 3)),
        ("5/8", (3, 2)),
        ("7/8", (4, 3)),
        ("3/8", (3,)),
        ("1/8", (1,)),
        ("4/8", (2, 2)),
        ("11/8", (3, 3, 3, 2)),
        ("13/8", (3, 3, 3, 2, 2)),
        ("4+3/8", (4, 3)),
        ("2+2+3/8", (2, 2, 3)),
        ("(4)/8", (4,)),
    ],
)
def test_groups(text: str, groups: tuple[int, ...]) -> None:
    assert parse_meter(text).groups == groups


@given(st.integers(1, 64), st.sampled_from([1, 2, 4, 8, 16, 32]))
def test_default_groups_fill_the_bar(number: int, unit: int) -> None:
    groups = default_groups(number, unit)
    assert sum(groups) == number
    assert min(groups) >= 1


@given(meters)
def test_a_meter_reads_back(meter: Meter) -> None:
    assert parse_meter(str(meter)) == meter


@given(cycles)
def test_a_cycle_reads_back(cycle: Cycle) -> None:
    assert parse_cycle(str(cycle)) == cycle


@pytest.mark.parametrize("text", ["4/4", "7/8", "4+3/8", "2+2+3/8", "4/4 4+3/8", "6/8 3/8", "(4)/8", "4/4 7/8"])
def test_a_meter_is_written_as_it_was_read(text: str) -> None:
    assert str(parse_cycle(text)) == text


def test_seven_eighths_equals_its_groups() -> None:
    assert parse_meter("7/8") == parse_meter("4+3/8") != parse_meter("3+4/8")


def test_cycle_of_a_bar_of_four_and_one_of_seven() -> None:
    cycle = parse_cycle("4/4 4+3/8")
    assert cycle.quarters == Fraction(15, 2)
    assert cycle.bar_starts == (0, 4)
    assert [group.start for group in cycle.groups] == [0, 1, 2, 3, 4, 6]
    assert [group.length for group in cycle.groups] == [1, 1, 1, 1, 2, Fraction(3, 2)]
    assert [cycle.bar_at(place) for place in (0, 3.999, 4, 7.4, -1, 99)] == [0, 0, 1, 1, 0, 1]
    kinds = [place.kind for place in cycle.clicks]
    assert kinds == ["bar", "beat", "beat", "beat", "bar", "beat", "beat", "beat", "group", "beat", "beat"]
    assert [(place.bar, place.beat) for place in cycle.clicks[3:6]] == [(0, 4), (1, 1), (1, 2)]


def test_six_eight_has_its_accent_on_the_fourth_eighth() -> None:
    clicks = parse_cycle("6/8").clicks
    assert [click.position for click in clicks] == [Fraction(eighth, 2) for eighth in range(6)]
    assert [click.kind for click in clicks] == ["bar", "beat", "beat", "group", "beat", "beat"]


@given(cycles)
def test_bars_groups_and_clicks_tile_the_cycle(cycle: Cycle) -> None:
    end = Fraction(0)
    for group in cycle.groups:
        assert group.start == end
        assert (group.length / group.unit).denominator == 1
        end += group.length
    assert end == cycle.quarters == sum(meter.quarters for meter in cycle.meters)
    positions = [click.position for click in cycle.clicks]
    assert positions[0] == 0
    assert all(a < b for a, b in pairwise(positions))
    assert positions[-1] < cycle.quarters
    assert {group.start for group in cycle.groups} <= set(positions)
    assert [click.position for click in cycle.clicks if click.kind == "bar"] == list(cycle.bar_starts)


@given(cycles)
def test_half_undoes_double(cycle: Cycle) -> None:
    assert cycle.double().half() == cycle
    assert cycle.double().quarters == 2 * cycle.quarters


@pytest.mark.parametrize(
    ("text", "half"), [("4/4", "2/4"), ("6/8", "3/8"), ("4/4 4/4 4/4", "4/4 2/4"), ("4+4/8", "(4)/8")]
)
def test_half(text: str, half: str) -> None:
    assert parse_cycle(text).half() == parse_cycle(half)


@pytest.mark.parametrize("text", ["7/8", "3/4", "4/4 4+3/8", "(4)/8"])
def test_what_cannot_be_halved_says_so(text: str) -> None:
    with pytest.raises(UserError, match="inside a group"):
        parse_cycle(text).half()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("7/9", "9 below the line"),
        ("0/4", "no beats"),
        ("3++4/8", "not a meter"),
        ("4/0", "0 below the line"),
        ("0+3/8", "empty group"),
        ("65/4", "65 units"),
        ("999999/4", "999999 units"),
        ("9" * 5000 + "/4", "not a meter"),
        ("-4/4", "not a meter"),
        ("4/4/4", "not a meter"),
        ("４/４", "not a meter"),
        ("4 / 4", "not a meter"),
        ("", "empty"),
        ("4/4 " * 65, "65 bars"),
        ("4/4 " * 100_000, "100000 bars"),
        ("64/1 " * 5, "1280 quarters"),
    ],
)
def test_what_is_no_cycle_gets_one_short_sentence(text: str, says: str) -> None:
    with pytest.raises(UserError, match=says) as caught:
        parse_cycle(text)
    sentence = str(caught.value)
    assert isinstance(caught.value, UserError)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    assert len(sentence) < 250


def test_double_stops_at_the_limit() -> None:
    cycle = parse_cycle("4/4 " * 33)
    with pytest.raises(UserError, match="66 bars"):
        cycle.double()


@given(st.text(max_size=30))
def test_any_text_is_a_cycle_or_a_sentence(text: str) -> None:
    try:
        cycle = parse_cycle(text)
    except UserError as error:
        assert str(error).endswith(".")
    else:
        assert parse_cycle(str(cycle)) == cycle
