"""Scales: spelling in every usual root, membership, degrees in and out, formulas of one's own, and
wrong input.

The spellings of single scales here are common practice, no source;
``tests/outside/test_scales_music21.py`` compares all of them with a reference library.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.errors import UserError
from loopdeck.theory.formulas import ALIASES, semitone_of
from loopdeck.theory.pitch import LETTERS, parse_note_name, parse_pitch
from loopdeck.theory.scale import SCALES, Scale, parse_scale
from tests.unit.scale_tools import ROOTS

EVERY = [(root, name) for name in SCALES for root in ROOTS]
#: Degrees of formulas of one's own: rising within the octave from 1, at most one name for each
#: distance.
_BY_STEP = {1: ("b2", "#1"), 2: ("2",), 3: ("b3", "#2"), 4: ("3", "b4"), 5: ("4", "#3"), 6: ("b5", "#4"), 7: ("5",)}
_BY_STEP |= {8: ("b6", "#5"), 9: ("6", "bb7"), 10: ("b7", "#6"), 11: ("7",)}
FORMULAS = st.sets(st.integers(1, 11)).flatmap(
    lambda steps: st.tuples(*(st.sampled_from(_BY_STEP[step]) for step in sorted(steps))).map(lambda rest: ("1", *rest))
)


@pytest.mark.parametrize(
    ("text", "notes"),
    [
        ("G minor blues", "G Bb C Db D F"),
        ("G blues", "G Bb C Db D F"),
        ("C major blues", "C D Eb E G A"),
        ("F# ionian", "F# G# A# B C# D# E#"),
        ("Gb ionian", "Gb Ab Bb Cb Db Eb F"),
        ("Cb lydian", "Cb Db Eb F Gb Ab Bb"),
        ("E dorian", "E F# G A B C# D"),
        ("B locrian", "B C D E F G A"),
        ("Eb aeolian", "Eb F Gb Ab Bb Cb Db"),
        ("G# harmonic minor", "G# A# B C# D# E F##"),
        ("Bb altered", "Bb Cb Db Ebb Fb Gb Ab"),
        ("E phrygian dominant", "E F G# A B C D"),
        ("F lydian dominant", "F G A B C D Eb"),
        ("A melodic minor", "A B C D E F# G#"),
        ("C ultralocrian", "C Db Eb Fb Gb Ab Bbb"),
        ("D major pentatonic", "D E F# A B"),
        ("D minor pentatonic", "D F G A C"),
        ("C whole tone", "C D E F# G# Bb"),
        ("C whole-half octatonic", "C D Eb F Gb Ab A B"),
        ("C half-whole octatonic", "C Db Eb E F# G A Bb"),
        ("C chromatic", "C Db D Eb E F Gb G Ab A Bb B"),
        ("E 1 b2 3 4 5 b6 b7", "E F G# A B C D"),
    ],
)
def test_spelling_of_known_scales(text: str, notes: str) -> None:
    assert parse_scale(text).notes == tuple(notes.split())


def test_the_scales_asked_of_a_bass_player_are_there() -> None:
    asked = """ionian, dorian, phrygian, lydian, mixolydian, aeolian, locrian, harmonic minor, melodic minor, phrygian dominant,
    lydian dominant, altered, major pentatonic, minor pentatonic, major blues, minor blues, whole tone, whole-half octatonic,
    half-whole octatonic, chromatic"""
    assert {" ".join(name.split()) for name in asked.split(",")} <= set(SCALES)


@pytest.mark.parametrize(("root", "name"), EVERY)
def test_every_scale_in_every_root(root: str, name: str) -> None:
    scale = parse_scale(f"{root} {name}")
    assert str(scale) == f"{root} {name}"
    assert parse_scale(str(scale)) == scale
    assert scale.notes[0] == root
    # Every note sounds where its degree says, and is written on the letter its degree says.
    for note, degree in zip(scale.spelled, scale.degrees, strict=True):
        assert (note.pitch_class - scale.root.pitch_class) % 12 == semitone_of(degree) % 12
        assert note.letter == LETTERS[(LETTERS.index(root[0]) + int(degree[-1]) - 1) % 7]
        assert parse_note_name(root).pitch_class == scale.root.pitch_class
    if len(scale.notes) == 7:
        assert len({note.letter for note in scale.spelled}) == 7
    assert len(scale.pitch_classes) == len(scale.degrees) == scale.mask.sum()


@pytest.mark.parametrize(("root", "name"), EVERY)
def test_membership_and_degree_of_every_pitch(root: str, name: str) -> None:
    scale = parse_scale(f"{root} {name}")
    pitches = np.arange(128)
    inside = scale.contains(pitches)
    for pitch in range(128):
        degree = scale.degree(pitch)
        # A name from the formula means in; any other means out; and it names the distance that is
        # there.
        assert (degree in scale.degrees) == inside[pitch] == (pitch % 12 in scale.pitch_classes)
        assert (semitone_of(degree) + scale.root.pitch_class - pitch) % 12 == 0
        name = scale.spell(pitch)
        if 12 <= pitch < 115 and "###" not in name and "bbb" not in name:
            assert parse_pitch(name) == pitch
    assert len(set(scale.degree_table)) == 12


def test_degrees_outside_have_their_usual_names() -> None:
    dorian = parse_scale("G dorian")
    assert [dorian.degree(parse_pitch(p)) for p in ("G1", "Ab1", "B1", "C#2", "Eb2", "E2", "F#2")] == [
        "1", "b2", "3", "b5", "b6", "6", "7",
    ]  # fmt: skip
    assert parse_scale("G mixolydian").degree(parse_pitch("C#2")) == "#4"
    assert parse_scale("G minor blues").degree(parse_pitch("C#2")) == "b5"
    assert parse_scale("G lydian").degree(parse_pitch("C#2")) == "#4"
    assert parse_scale("C lydian #2").degree(parse_pitch("D#2")) == "#2"
    assert parse_scale("C ultralocrian").degree(parse_pitch("A2")) == "bb7"


def test_pitches_are_spelled_by_their_degree() -> None:
    blues = parse_scale("G minor blues")
    assert [blues.spell(pitch) for pitch in (43, 46, 48, 49, 50, 53, 47)] == [
        "G2",
        "Bb2",
        "C3",
        "Db3",
        "D3",
        "F3",
        "B2",
    ]
    assert parse_scale("Ab minor").spell(59) == "Cb4"
    assert parse_scale("C# ionian").spell(60) == "B#3"
    assert blues.spell(0) == "C-1"


@pytest.mark.parametrize(("alias", "name"), ALIASES.items())
def test_aliases_lead_to_the_scale_they_mean(alias: str, name: str) -> None:
    assert parse_scale(f"D {alias}") == parse_scale(f"d  {name.upper()}")
    assert alias not in SCALES


@pytest.mark.parametrize("name", [name for name in SCALES if name[-1].isdigit()])
def test_a_name_with_a_number_is_no_formula(name: str) -> None:
    scale = parse_scale(f"A {name}")
    assert (scale.name, scale.degrees) == (name, SCALES[name])
    # With the musical signs too.
    assert parse_scale(f"A {name.replace('#', '♯').replace(' b', ' ♭')}") == scale


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("D dorian#4", "dorian #4"),
        ("D Dorian ♯4", "dorian #4"),
        ("E phrygian-dominant", "phrygian dominant"),
        ("C half whole octatonic", "half-whole octatonic"),
        ("C whole-tone", "whole tone"),
        ("C SuperLocrian", "altered"),
    ],
)
def test_spaces_and_hyphens_are_free(text: str, name: str) -> None:
    assert parse_scale(text).name == name


def test_names_with_a_number() -> None:
    expected = {
        "A locrian natural 6": "A Bb C D Eb F# G",
        "D dorian #4": "D E F G# A B C",
        "E mixolydian b6": "E F# G# A B C D",
        "E dorian b2": "E F G A B C# D",
        "C lydian #2": "C D# E F# G A B",
        "B locrian natural 2": "B C# D E F G A",
    }
    assert {text: " ".join(parse_scale(text).notes) for text in expected} == expected


@given(st.sampled_from(ROOTS), FORMULAS)
def test_a_formula_of_ones_own(root: str, degrees: tuple[str, ...]) -> None:
    scale = parse_scale(f"{root} {' '.join(degrees)}")
    assert scale.degrees == degrees
    assert parse_scale(str(scale)) == scale
    steps = [(pitch - scale.root.pitch_class) % 12 for pitch in range(12) if scale.contains(pitch)]
    assert sorted(steps) == [semitone_of(degree) for degree in degrees]
    assert [scale.degree(scale.root.pitch_class + semitone_of(degree)) for degree in degrees] == list(degrees)


@given(st.sampled_from(list(SCALES)), st.sampled_from(ROOTS))
def test_a_formula_equals_the_scale_it_spells(name: str, root: str) -> None:
    known = parse_scale(f"{root} {name}")
    own = parse_scale(f"{root} {' '.join(known.degrees)}")
    assert (own.notes, own.pitch_classes) == (known.notes, known.pitch_classes)


@given(st.lists(st.integers(0, 127), max_size=40), st.sampled_from(EVERY))
def test_arrays_keep_their_shape(pitches: list[int], which: tuple[str, str]) -> None:
    scale = parse_scale(" ".join(which))
    found = scale.contains(pitches)
    assert found.dtype == bool and found.shape == (len(pitches),)
    assert scale.contains(np.array([pitches, pitches])).shape == (2, len(pitches))


@pytest.mark.parametrize(
    ("text", "fifths"),
    [
        ("C ionian", 0),
        ("A minor", 0),
        ("G dorian", -2),
        ("E phrygian dominant", 4),
        ("Gb ionian", -6),
        ("F# ionian", 6),
        ("G# ionian", -4),
        ("Cb ionian", -7),
        ("C# ionian", 7),
        ("Fb ionian", 4),
        ("B# minor", -3),
    ],
)
def test_key_signature(text: str, fifths: int) -> None:
    assert parse_scale(text).fifths() == fifths


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("", "such as G dorian"),
        ("   ", "such as G dorian"),
        ("H dorian", "such as Bb or F#"),
        ("dorian", "such as Bb or F#"),
        ("Bbbb dorian", "such as Bb or F#"),
        ("G", "G dorian"),
        ("G dorain", "did you mean dorian?"),
        ("G dorian #", "did you mean dorian"),
        ("G locrian natural 7", "did you mean locrian natural"),
        ("G xyzzy", "a formula such as 1 b3 4 5 b7"),
        ("G " + "x" * 5000, "a formula such as 1 b3 4 5 b7"),
        ("1 b2 3 4 5 b6 b7", "needs its root first, such as E 1 b2"),
        ("E b2 3 5", "begins with 1"),
        ("E 1 3 b3", "rise"),
        ("E 1 1", "rise"),
        ("E 1 2 3 8", "8"),
        ("E 1 b#3 5", "b#3"),
        ("E 1 bbb3 5", "bbb3"),
        ("E 1 3 5 #7", "octave"),
        ("E 1 2 three", "three"),
        ("E 1, 2, 3", "1,"),
        ("E 1-2-3", "1-2-3"),
        ("E ²", "no scale called"),
        ("E 1 " + "2 " * 5000, "rise"),
    ],
)
def test_wrong_input_ends_in_a_sentence(text: str, right: str) -> None:
    with pytest.raises(UserError) as error:
        parse_scale(text)
    sentence = str(error.value)
    assert right in sentence
    assert "\n" not in sentence and sentence[-1] in ".?" and len(sentence) < 600


@given(st.text(max_size=20), st.sampled_from(["", "E ", "E 1 ", "E dorian "]))
def test_any_text_is_a_scale_or_a_sentence(text: str, before: str) -> None:
    try:
        scale = parse_scale(before + text)
    except UserError as error:
        assert str(error)[-1] in ".?"
    else:
        assert isinstance(scale, Scale) and parse_scale(str(scale)) == scale


def test_a_scale_is_called_what_its_player_called_it() -> None:
    asked = parse_scale("A Natural minor")
    assert str(asked) == "A natural minor" and asked == parse_scale("A aeolian") == parse_scale(str(asked))
    assert [parse_scale(text).in_short for text in ("F ionian", "E aeolian", "E dorian", "A natural minor")] == [
        "F major",
        "E minor",
        "E dorian",
        "A natural minor",
    ]
