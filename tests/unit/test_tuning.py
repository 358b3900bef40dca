"""Tunings: the known ones, places on the neck, files, and wrong input. The open strings are common practice, no source."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck import configs
from loopdeck.errors import UserError
from loopdeck.theory.pitch import parse_pitch, pitch_name
from loopdeck.theory.tuning import FRETS, TUNINGS, Tuning, parse_tuning
from loopdeck.theory.tuning_files import load_tuning

FILES = sorted(configs.folder("tunings").glob("*.toml"))
ALL = st.sampled_from([parse_tuning(name) for name in TUNINGS])


@pytest.mark.parametrize(
    ("text", "strings"),
    [
        ("four-string", (43, 38, 33, 28)),
        ("standard", (43, 38, 33, 28)),
        ("Five-String", (43, 38, 33, 28, 23)),
        ("drop d", (43, 38, 33, 26)),
        ("half step down", (42, 37, 32, 27)),
        ("E1 A1 D2 G2", (43, 38, 33, 28)),
        ("E♭1 A♭1", (32, 27)),
        ("B0", (23,)),
    ],
)
def test_open_strings_highest_first(text: str, strings: tuple[int, ...]) -> None:
    assert parse_tuning(text).strings == strings


@pytest.mark.parametrize("name", TUNINGS)
def test_the_known_ones_lead_back_to_themselves(name: str) -> None:
    tuning = parse_tuning(name)
    assert str(tuning) == name and parse_tuning(str(tuning)) == tuning
    assert parse_tuning(TUNINGS[name]).strings == tuning.strings
    assert list(tuning.strings) == sorted(tuning.strings, reverse=True)


def test_fourths_and_fifths() -> None:
    def steps(name: str) -> set[int]:
        strings = parse_tuning(name).strings
        return {high - low for high, low in itertools.pairwise(strings)}

    for name in ("four-string", "five-string", "six-string", "high five", "half step down", "whole step down", "tenor"):
        assert steps(name) == {5}, name
    assert steps("fifths") == {7}
    assert steps("drop D") == steps("drop C") == {5, 7}


def test_places() -> None:
    bass = parse_tuning("four-string")
    assert bass.place(parse_pitch("E1")) == (4, 0)
    assert bass.place(parse_pitch("A1")) == (3, 0)
    assert bass.place(parse_pitch("A1"), string=4) == (4, 5)
    assert bass.place(parse_pitch("G3")) == (1, 12)
    assert bass.place(parse_pitch("D1")) == (0, 0)
    assert bass.place(parse_pitch("D1"), string=4) == (0, 0)
    assert bass.place(parse_pitch("E1"), string=5) == (0, 0)
    assert parse_tuning("drop D").place(parse_pitch("E1")) == (4, 2)


@given(ALL, st.integers(0, 127))
def test_a_place_sounds_the_pitch_at_the_lowest_fret(tuning: Tuning, pitch: int) -> None:
    string, fret = tuning.place(pitch)
    frets = [pitch - open_string for open_string in tuning.strings if 0 <= pitch - open_string <= FRETS]
    if not frets:
        assert (string, fret) == (0, 0)
    else:
        assert tuning.strings[string - 1] + fret == pitch
        assert fret == min(frets)


def test_names_of_strings() -> None:
    assert [parse_tuning("four-string").name_of(string) for string in (4, 3, 2, 1)] == ["E", "A", "D", "G"]
    assert [parse_tuning("half step down").name_of(string) for string in (4, 1)] == ["Eb", "Gb"]
    assert Tuning("low", (0,)).name_of(1) == "C"


@given(st.lists(st.integers(0, 127), min_size=1, max_size=12))
def test_any_row_of_pitches_is_a_tuning(pitches: list[int]) -> None:
    assert parse_tuning(" ".join(map(pitch_name, pitches))).strings == tuple(reversed(pitches))


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("", "strings"),
        ("drop Q", "there are four-string"),
        ("E1 A1 H2", "such as E1 A1 D2 G2"),
        ("E1 " * 13, "12"),
        ("E", "such as E1 A1 D2 G2"),
        ("C-2", "such as E1 A1 D2 G2"),
        ("x" * 5000, "such as"),
    ],
)
def test_wrong_input_ends_in_a_sentence(text: str, right: str) -> None:
    with pytest.raises(UserError) as error:
        parse_tuning(text)
    assert right in str(error.value) and str(error.value).endswith(".") and len(str(error.value)) < 400


# ---- files ------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_file_is_the_tuning_of_that_name(path: object) -> None:
    from pathlib import Path

    assert isinstance(path, Path)
    tuning = load_tuning(path.read_text("utf-8"), path.name)
    assert tuning == parse_tuning(tuning.name)
    assert path.stem == tuning.name.lower().replace(" ", "-")


def test_there_is_a_file_for_every_known_tuning() -> None:
    assert {load_tuning(path.read_text("utf-8")).name for path in FILES} == set(TUNINGS)


def test_a_file_of_ones_own() -> None:
    text = 'name = "porch"\r\nstrings = " D1 A1 D2 F♯2 "\r\n'
    assert load_tuning(text) == Tuning("porch", (42, 38, 33, 26))


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("", "my.toml has no line name"),
        ('name = "a"', "my.toml has no line strings"),
        ('name = "a"\nstrings = E1\n', "my.toml, line 2: this is not TOML"),
        ('name = "a"\nstrings = "E1', "my.toml, line 2: this is not TOML"),
        ('name = "a"\nname = "b"\n', "my.toml, line 2: this is not TOML"),
        ('name = "a"\n\nstrings = ["E1", "A1"]', "my.toml, line 3: strings is text in quotes"),
        ('name = 4\nstrings = "E1 A1"', "my.toml, line 1: name is text in quotes"),
        ('name = "a"\nstrings = ""', "my.toml, line 2: strings is text in quotes"),
        ('name = "a"\nstrings = "drop D"', "my.toml, line 2: 'drop D' is not a row of pitches"),
        ('name = "a"\nstrings = "E1 A1 H2"', "my.toml, line 2: "),
        ('name = "a"\nstrings = "' + "E1 " * 13 + '"', "my.toml, line 2: A tuning has 1 to 12 strings, not 13."),
        ('name = "a"\nstrings = "E1"\nfrets = 24', "my.toml, line 3: a tuning has no 'frets'"),
        ('name = "a"\nstrings = "E1"\n[[more]]\nx = 1', "my.toml, line 3: a tuning has no 'more'"),
        ('name = "a\\nb"\nstrings = "E1"', "my.toml, line 1: a name is one line"),
        ('name = "' + "a" * 500 + '"\nstrings = "E1"', "my.toml, line 1: a name is one line"),
        ("name = " + "[" * 5000, "my.toml"),
    ],
)
def test_wrong_files_end_in_a_sentence_with_the_line(text: str, right: str) -> None:
    with pytest.raises(UserError) as error:
        load_tuning(text, "my.toml")
    sentence = str(error.value)
    assert sentence.startswith(right), sentence
    assert "\n" not in sentence and sentence.endswith(".") and len(sentence) < 400
