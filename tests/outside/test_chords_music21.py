"""Names of intervals and chords, against music21's own names for the same pitches."""

import pytest
from music21 import chord, interval

from loopdeck.theory.chord import CHORDS, chord_name, interval_name, together_name
from loopdeck.theory.scale import parse_scale

THEIRS = {
    "": "major triad",
    "m": "minor triad",
    "dim": "diminished triad",
    "aug": "augmented triad",
    "7": "dominant seventh chord",
    "maj7": "major seventh chord",
    "m7": "minor seventh chord",
    "m7b5": "half-diminished seventh chord",
    "dim7": "diminished seventh chord",
}


@pytest.mark.parametrize("semitones", [one for one in range(13) if one != 6])
def test_intervals_are_called_as_music21_calls_them(semitones: int) -> None:
    theirs = interval.Interval(semitones).niceName
    words = theirs.lower().removeprefix("perfect ")
    assert interval_name(40, 40 + semitones) == words


@pytest.mark.parametrize("suffix", THEIRS)
def test_chords_are_what_music21_takes_them_for(suffix: str) -> None:
    formula = max((one for one, name in CHORDS.items() if name == suffix), key=len)
    for root in range(40, 52):
        pitches = [root + step for step in formula]
        theirs = chord.Chord(pitches).commonName
        assert theirs == THEIRS[suffix] or f"enharmonic equivalent to {THEIRS[suffix]}" in theirs, (suffix, theirs)
        assert chord_name(pitches).endswith(suffix)


def test_names_players_use() -> None:
    e_dorian = parse_scale("E dorian")
    assert together_name([28, 35], e_dorian) == "E5 (fifth)"
    assert together_name([28, 40], e_dorian) == "octave"
    assert together_name([33, 37]) == "major third"
    assert chord_name([28, 31, 35, 38], e_dorian) == "Em7"
    assert chord_name([40, 43, 48]) == "C/E", "over its bass"
    assert chord_name([30, 34, 37], parse_scale("F# mixolydian")) == "F#"
    assert chord_name([40]) == "" and chord_name([40, 41, 42]) == "" and together_name([40, 41, 42]) == ""
    assert together_name([28, 44]) == "major tenth"
