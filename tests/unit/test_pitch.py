"""Pitch names both ways: the numbers of known pitches, every number through its name and back, and
what is not a name.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.errors import UserError
from loopdeck.theory.pitch import LETTERS, Spelled, parse_note_name, parse_pitch, pitch_name, spelled_pitch

#: Middle C is C4 = 60 (the project's convention); the rest follows by counting semitones.
KNOWN = {
    "C4": 60,
    "Bb2": 46,
    "B♭2": 46,
    "F#1": 30,
    "F♯1": 30,
    "E1": 28,
    "Cb4": 59,
    "B#3": 60,
    "B4": 71,
    "E#4": 65,
    "Fb4": 64,
    "Dbb4": 60,
    "F##2": 43,
    "C-1": 0,
    "G9": 127,
    "A4": 69,
    "bb2": 46,
    " e1 ": 28,
}
NAMES = st.builds(Spelled, st.sampled_from(LETTERS), st.integers(-2, 2))


def one_sentence(error: pytest.ExceptionInfo[UserError]) -> str:
    """The text of an error, when it is what a user can be shown: a single line, ending as a
    sentence does.
    """
    text = str(error.value)
    assert isinstance(error.value, UserError)
    assert "\n" not in text and text[-1] in ".?" and len(text) < 600
    return text


@pytest.mark.parametrize(("name", "midi"), KNOWN.items())
def test_known_pitches(name: str, midi: int) -> None:
    assert parse_pitch(name) == midi


@pytest.mark.parametrize("flats", [False, True])
def test_every_number_through_its_name_and_back(flats: bool) -> None:
    names = [pitch_name(midi, flats) for midi in range(128)]
    assert [parse_pitch(name) for name in names] == list(range(128))
    assert ("A#2" in names, "Bb2" in names) == (not flats, flats)
    assert not any(("#" if flats else "b") in name for name in names)


@given(NAMES)
def test_a_spelled_name_reads_back_in_both_scripts(name: Spelled) -> None:
    assert parse_note_name(str(name)) == name
    assert parse_note_name(str(name).replace("b", "♭").replace("#", "♯")) == name


@given(NAMES, st.integers(1, 8))
def test_a_spelled_pitch_keeps_letter_and_number(name: Spelled, octave: int) -> None:
    midi = parse_pitch(f"{name}{octave}")
    assert midi % 12 == name.pitch_class
    assert spelled_pitch(midi, name) == f"{name}{octave}"


def test_octaves_belong_to_the_letter() -> None:
    assert spelled_pitch(59, Spelled("C", -1)) == "Cb4"
    assert spelled_pitch(60, Spelled("B", 1)) == "B#3"
    assert spelled_pitch(60, Spelled("C")) == "C4"


@pytest.mark.parametrize("text", ["", "H", "Bbbb", "F###", "B#b", "Bb#", "1", "C4", "do", "B ♭", "x" * 10_000])
def test_no_note_name(text: str) -> None:
    with pytest.raises(UserError) as error:
        parse_note_name(text)
    assert "such as Bb or F#" in one_sentence(error)


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("Bb", "octave"),
        ("H2", "note name"),
        ("C10", "C-1 to G9"),
        ("Cb-1", "C-1 to G9"),
        ("G#9", "C-1 to G9"),
        ("C-2", "C-1 to G9"),
        ("2", "note name"),
        ("", "octave"),
        ("E1 A1", "note name"),
        ("E²", "octave"),
        ("C\n4\n", "note name"),
    ],
)
def test_no_pitch(text: str, right: str) -> None:
    with pytest.raises(UserError) as error:
        parse_pitch(text)
    assert right in one_sentence(error)


@given(st.text(max_size=12))
def test_any_text_is_a_pitch_or_a_sentence(text: str) -> None:
    try:
        assert 0 <= parse_pitch(text) <= 127
    except UserError as error:
        assert str(error).endswith(".")
