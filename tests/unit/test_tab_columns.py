"""Text tab without note values, typed in the styles players use: read by its columns or counts, or
refused in a sentence.
"""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.errors import UserError
from loopdeck.page.form import Page
from loopdeck.page.tab_read import read_tab


def _notes(page: Page) -> list[list[str]]:
    """Of each bar ``place:string/fret`` and the first letters of its marks."""
    return [
        [f"{note.at}:{note.string}/{note.fret}" + "".join(mark[0] for mark in note.marks) for note in bar.notes]
        for bar in page.bars
    ]


EIGHTHS = [["0:4/0", "1/2:4/3", "1:3/2", "3/2:3/0", "2:4/3", "3:4/0"]]


@pytest.mark.parametrize(
    "text",
    [
        "G|----------------|\nD|----------------|\nA|----2-0---------|\nE|0-3-----3---0---|\n",
        "g |-----------------|\nd |-----------------|\na |-----2-0---------|\ne |-0-3-----3---0---|\n",
        "A title\r\n\r\nG----------------\r\nD----------------\r\nA----2-0---------\r\nE0-3-----3---0---\r\n",
        "G|                |\nD|                |\nA|    2 0         |\nE|0 3     3   0   |\n",
        "G –––––––––––––––––\nD –––––––––––––––––\nA –––––2–0–––––––––\nE –0–3–––––3–––0–––\n",
        "   1 & 2 & 3   4\nG|----------------\nD|----------------\nA|-----2-0--------\nE|-0-3-----3---0--\n",
    ],
)
def test_styles_of_one_bar(text: str) -> None:
    page = read_tab(text)
    assert _notes(page) == EIGHTHS
    assert "rhythm" in page.extra


def test_signs_as_players_type_them() -> None:
    text = (
        "G|----------------|----------------|\nD|--------7/9\\7---|----------------|\n"
        "A|7b9r7-5---------|------5p3-------|\nE|-------------(3)|x-x-3~~~5h7-5/--|\n"
    )
    first, second = _notes(read_tab(text))
    assert first == ["0:3/7br", "3/2:3/5", "2:2/7", "5/2:2/9s", "3:2/7s", "7/2:4/3g"]
    assert second[:3] == ["0:4/0d", "1/2:4/0d", "1:4/3v"]
    assert second[-1].endswith("4/5s")


def test_a_fret_never_stands_where_the_one_before_it_on_its_string_does() -> None:
    rows = "".join(f"{name}|{'5h7-5---' if name == 'A' else '-' * 8}{'-' * 8}|\n" for name in "GDAE")
    page = read_tab("meter: 2/4\n  1   &   2   &\n" + rows)
    assert _notes(page)[0] == ["0:3/5", "1/4:3/7h", "1/2:3/5"]
    wide = "".join(f"{name}|{'5h7' if name == 'A' else '---'}{'-' * 29}|\n" for name in "GDAE")
    with pytest.raises(UserError, match=r"^line 5, column 4: this fret has no place of its own"):
        read_tab("meter: 2/4\n  1       &       2\n" + wide)


def test_counts_to_three_that_fill_every_bar_are_bars_of_three() -> None:
    rows = "".join(
        f"{name}|{'5-7-5-7-5---' if name == 'A' else '-' * 12}|{'-' * 12}|\n" for name in ("G", "D", "A", "E")
    )
    page = read_tab("  1 & 2 & 3 &  1 & 2 & 3 &\n" + rows)
    assert [str(bar.meter) for bar in page.bars] == ["3/4", "3/4"]
    assert str(page.brief.cycle) == "3/4"
    assert _notes(page)[0] == ["0:3/5", "1/2:3/7", "1:3/5", "3/2:3/7", "2:3/5"]
    wider = rows.replace("-|-", "-----|-----")
    assert str(read_tab("  1 & 2 & 3\n" + wider).bars[0].meter) == "4/4"


def test_a_bar_without_frets_is_a_rest() -> None:
    rows = "".join(f"{name}|{'5-7-----' if name == 'A' else '-' * 8}|{'-' * 8}|\n" for name in "GDAE")
    assert _notes(read_tab(rows)) == [["0:3/5", "1:3/7"], []]


def test_played_once_is_played_once() -> None:
    rows = "G|--------|\nD|--------|\nA|--------|\nE|0-0-0---| x1\n"
    assert len(read_tab(rows).bars) == 1


def test_bars_beside_bars_of_four_tell_their_meter_and_repeats_need_no_beginning() -> None:
    rows = ("G|----------------|--------------:|", "D|----------------|--------------:|")
    page = read_tab("\n".join([*rows, "A|2---------------|--------------:|", "E|----------------|0-0-0-0-3-3-5-:|"]))
    assert [str(bar.meter) for bar in page.bars] == ["4/4", "7/8"] * 2
    page = read_tab("meter: 7/8\nG|--------------|\nD|--------------|\nA|--------------|\nD|0-0-0-0-3-3-5-| x3\n")
    assert len(page.bars) == 3
    assert page.brief.tuning.strings[3] == 26


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("G|---------|\nD|---------|\nA|---------|\nE|---0-----|\n" * 1, None),
        ("G|-------|\nD|-------|\nA|-------|\nE|0-0-0--|\n", "line 1, column 3: this bar has 7 columns"),
        ("G|--------|\nD|--------|\nA|----q---|\nE|0-0-0---|\n", "line 3, column 7: 'q' is not a fret"),
        ("G|--------|\nD|--------|\nA|----30--|\nE|0-0-0---|\n", "line 3, column 7: there is no fret 30"),
        ("G|--------|\nD|----|\nA|--------|\nE|0-0-0---|\n", "line 2, column 3: this bar is 4 columns shorter"),
        ("G|--------|\nA|--------|\nE|0-0-0---|\n", "line 1, column 1: here are 3 string lines"),
        ("D|--------|\nG|--------|\nA|--------|\nE|0-0-0---|\n", "line 1, column 1: this line is called D"),
        (
            "e|--------|\nB|--------|\nG|--------|\nD|--------|\nA|--------|\nE|0-0-0---|\n",
            "line 1, column 1: no tuning",
        ),
        ("G|----|----|\nD|----|----|\nA|----|\nE|0-0-|----|\n", "line 3, column 7: this line has 1 bar"),
    ],
)
def test_what_cannot_be_told_is_refused_with_its_place(text: str, said: str | None) -> None:
    if said is None:
        assert read_tab(text).bars[0].meter.quarters == 4
        return
    with pytest.raises(UserError) as caught:
        read_tab(text)
    assert str(caught.value).startswith(said)
    assert "\n" not in str(caught.value)


@given(st.lists(st.text(alphabet="|:-–0123hp/\\x~()b r1&e ", max_size=24), min_size=4, max_size=9), st.booleans())
def test_any_columns_end_with_a_page_or_a_sentence(rows: list[str], named: bool) -> None:
    names = "GDAE" if named else "    "
    lines = [f"{names[number % 4]}|{row}" for number, row in enumerate(rows)]
    try:
        page = read_tab("\n".join(lines))
    except UserError as error:
        assert "\n" not in str(error)
        return
    for bar in page.bars:
        assert all(Fraction(0) <= note.at < bar.length for note in bar.notes)
