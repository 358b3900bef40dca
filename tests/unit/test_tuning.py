"""Tunings: the known ones, places on the neck, files, and wrong input. The open strings are common
practice, no source.
"""

import itertools
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck import configs
from loopdeck.brief import tunings
from loopdeck.brief.brief import Brief, brief_from_dict
from loopdeck.brief.tunings import find_tuning, load_tuning, text_of
from loopdeck.errors import UserError
from loopdeck.theory.pitch import parse_pitch, pitch_name
from loopdeck.theory.tuning import FRETS, Tuning, parse_tuning, tuning_text

FILES = sorted(configs.folder("tunings").glob("*.toml"))
NAMES = tunings.names()
ALL = st.sampled_from([find_tuning(name) for name in NAMES])


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
    assert find_tuning(text).strings == strings


@pytest.mark.parametrize("name", NAMES)
def test_the_known_ones_lead_back_to_themselves(name: str) -> None:
    tuning = find_tuning(name)
    assert str(tuning) == name and find_tuning(text_of(tuning)) == tuning
    assert find_tuning(name.lower().replace(" ", "-")) == tuning
    # Spelled out it needs no file to be read back.
    assert parse_tuning(tuning_text(tuning)) == tuning
    assert list(tuning.strings) == sorted(tuning.strings, reverse=True)


def test_fourths_and_fifths() -> None:
    def steps(name: str) -> set[int]:
        strings = find_tuning(name).strings
        return {high - low for high, low in itertools.pairwise(strings)}

    for name in ("four-string", "five-string", "six-string", "high five", "half step down", "whole step down", "tenor"):
        assert steps(name) == {5}, name
    assert steps("fifths") == {7}
    assert steps("drop D") == steps("drop C") == {5, 7}


def test_places() -> None:
    bass = find_tuning("four-string")
    assert bass.place(parse_pitch("E1")) == (4, 0)
    assert bass.place(parse_pitch("A1")) == (3, 0)
    assert bass.place(parse_pitch("A1"), string=4) == (4, 5)
    assert bass.place(parse_pitch("G3")) == (1, 12)
    assert bass.place(parse_pitch("D1")) == (0, 0)
    assert bass.place(parse_pitch("D1"), string=4) == (0, 0)
    assert bass.place(parse_pitch("E1"), string=5) == (0, 0)
    assert find_tuning("drop D").place(parse_pitch("E1")) == (4, 2)


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
    assert [find_tuning("four-string").name_of(string) for string in (4, 3, 2, 1)] == ["E", "A", "D", "G"]
    assert [find_tuning("half step down").name_of(string) for string in (4, 1)] == ["Eb", "Gb"]
    assert Tuning("low", (0,)).name_of(1) == "C"


@given(st.lists(st.integers(0, 127), min_size=1, max_size=12))
def test_any_row_of_pitches_is_a_tuning(pitches: list[int]) -> None:
    assert find_tuning(" ".join(map(pitch_name, pitches))).strings == tuple(reversed(pitches))


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("", "strings"),
        ("fiddle", "there are four-string"),
        ("drop Q", "did you mean drop D?"),
        ("E1 A1 H2", "such as E1 A1 D2 G2"),
        ("E1 " * 13, "12"),
        ("E", "such as E1 A1 D2 G2"),
        ("C-2", "such as E1 A1 D2 G2"),
        ("x" * 5000, "such as"),
    ],
)
def test_wrong_input_ends_in_a_sentence(text: str, right: str) -> None:
    with pytest.raises(UserError) as error:
        find_tuning(text)
    assert right in str(error.value) and str(error.value)[-1] in ".?" and len(str(error.value)) < 400


# ---- files ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_file_is_the_tuning_of_that_name(path: Path) -> None:
    tuning = load_tuning(path.read_text("utf-8"), path.name)
    assert tuning == find_tuning(tuning.name) == find_tuning(path.stem) == find_tuning(str(path))
    assert path.stem == tuning.name.lower().replace(" ", "-")


def test_the_ten_of_ours() -> None:
    assert NAMES == (
        "four-string", "drop C", "drop D", "fifths", "half step down", "tenor", "whole step down", "five-string", "high five",
        "six-string",
    )  # fmt: skip


def test_the_players_own_go_by_name_and_stay_readable_without_their_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(configs, "own_folder", lambda kind: tmp_path / kind)
    (tmp_path / "tunings").mkdir()
    file = tmp_path / "tunings" / "porch-bass.toml"
    file.write_text('name = "Porch"\nstrings = "D1 A1 D2 F#2"\nfrets = 20\nfretless = true\n')
    porch = Tuning("Porch", (42, 38, 33, 26), 20, True)
    assert find_tuning("porch-bass") == find_tuning("Porch") == find_tuning(str(file)) == porch
    brief = Brief.default().replace(tuning="porch")
    file.unlink()
    assert brief_from_dict(brief.to_dict()).tuning == porch
    assert brief.to_dict()["tuning"] == "Porch = D1 A1 D2 F#2, 20 frets, fretless"
    with pytest.raises(UserError, match="There is no tuning 'Porch'; there are four-string, "):
        find_tuning("Porch")


def test_a_file_of_ones_own() -> None:
    text = 'name = "porch"\r\nstrings = " D1 A1 D2 F♯2 "\r\n'
    assert load_tuning(text) == Tuning("porch", (42, 38, 33, 26))


@pytest.mark.parametrize(
    ("words", "frets", "fretless"),
    [
        ("E1 A1 D2 G2 20 frets", 20, False),
        ("E1 A1 D2 G2, frets 21", 21, False),
        ("E1 A1 D2 G2 fretless", 24, True),
        ("E1 A1 D2 G2 22-fret, fretless", 22, True),
        ("porch = E1 A1 D2 G2 frets 22 fretless", 22, True),
    ],
)
def test_frets_are_said_as_players_say_them(words: str, frets: int, fretless: bool) -> None:
    tuning = parse_tuning(words)
    assert (tuning.strings, tuning.frets, tuning.fretless) == ((43, 38, 33, 28), frets, fretless)
    assert parse_tuning(tuning_text(tuning)) == tuning


@pytest.mark.parametrize("text", ["E1 A1, 25frets more", "E1 A1, 0 frets", "E1 A1, 99 frets", "E1 A1, frets"])
def test_wrong_words_behind_the_strings(text: str) -> None:
    with pytest.raises(UserError, match="behind the strings may stand"):
        find_tuning(text)


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
        ('name = "a"\nstrings = "' + "E1 " * 13 + '"', "my.toml, line 2: A tuning has 1 to 12 strings, not 13; "),
        ('name = "a"\nstrings = "E1"\nfrets = 0', "my.toml, line 3: frets is a whole number from 1 to 36"),
        ('name = "a"\nstrings = "E1"\nfretless = 1', "my.toml, line 3: fretless is true or false"),
        ('name = "a"\nstrings = "E1"\nfrets = ' + "9" * 5000, "my.toml, line 3: this number is too long"),
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
