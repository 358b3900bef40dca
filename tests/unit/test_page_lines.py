"""Lines of engraved music, and the words beside it."""

from pathlib import Path

import pytest

from loopdeck.cli.tab import page_of_text
from loopdeck.page.in_words import to_practise
from loopdeck.page.lily import balanced, with_accidentals
from loopdeck.page.lily_lines import last_line_is_full, lines_of
from loopdeck.page.tab_read import read_tab

RIFFS = Path(__file__).parents[2] / "docs" / "riffs"


def _text(bars: int, bar: str = "0---0---3---5---", meter: str = "4/4") -> str:
    """Bars that differ in their last fret, so that none is folded."""
    low = "|".join(bar[:-1] + str(number % 10) for number in range(bars))
    empty = "|".join("-" * len(bar) for _ in range(bars))
    return f"x\nmeter: {meter}\n\nG|{empty}|\nD|{empty}|\nA|{empty}|\nE|{low}|\n"


def test_four_bars_a_line_and_no_bar_alone() -> None:
    assert [len(line) for line in lines_of(read_tab(_text(8)))] == [4, 4]
    assert [len(line) for line in lines_of(read_tab(_text(9)))] == [4, 3, 2]
    assert last_line_is_full(read_tab(_text(9)))
    assert [len(line) for line in lines_of(read_tab(_text(6)))] == [4, 2]


def test_full_bars_stand_two_on_a_line_all_through() -> None:
    page = read_tab(_text(8, "0123456789012345", "4/4 4/4"))
    assert [len(line) for line in lines_of(page)] == [2, 2, 2, 2]


def test_what_to_practise_is_of_this_riff() -> None:
    said = to_practise(page_of_text(str(RIFFS / "02-tram-line-seven.txt")))
    assert said[0] == "Count 1 2 3 4, 1 2 3 in the bars of 4+3/8, aloud and with the foot on every 1."
    one = read_tab("meter: 7/8\nG|--------------|\nD|--------------|\nA|--------------|\nE|0-0-0-0-3h5---|\n")
    assert to_practise(one)[:2] == [
        "Count 1 2 3 4, 1 2 3, aloud and with the foot on every 1.",
        "Play the hammer-on alone first, then in the bar.",
    ]
    early = to_practise(page_of_text(str(RIFFS / "13-early-ferry.txt")))
    assert early[0] == "It starts before the one: count a bar and come in on the and of 4."
    held = to_practise(page_of_text(str(RIFFS / "07-held-breath.txt")))
    assert any(sentence.startswith("Keep counting through the note") for sentence in held)


def test_sharps_and_flats_of_names_are_signs() -> None:
    assert "\\flat" in with_accidentals("Bb major, drop D (D1 A1 D2 G2)")
    assert "\\sharp" in with_accidentals("C# locrian, tuned Eb1 Ab1")
    assert with_accidentals("G minor blues") == '"G minor blues"'


def test_a_long_title_stands_in_lines_of_about_the_same_length() -> None:
    lines = balanced("A very long title for a riff that was played late at night on the old iron bridge", 54)
    assert len(lines) == 2
    assert abs(len(lines[0]) - len(lines[1])) < 10
    assert balanced("Short", 54) == ["Short"]


@pytest.mark.parametrize(("tempo", "said"), [("95.5", "up to 95.5 when"), ("119.9987", "up to 120 when")])
def test_the_tempo_to_reach_is_said_as_players_say_it(tempo: str, said: str) -> None:
    page = read_tab(f"tempo: {tempo}\n   w\nG|----|\nD|----|\nA|-3--|\nE|----|\n")
    assert said in to_practise(page)[-1]
