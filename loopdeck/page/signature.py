"""The key signature and the spelling of notes on paper.

Rule
    A scale of seven notes that are those of some major scale has that one's signature, so that no
    note of it needs an accidental: E dorian has two sharps. Any other scale has the signature of
    the major or the minor scale on its root, by its third. Without a scale there is none.
"""

from typing import NamedTuple

from loopdeck.theory.pitch import parse_note_name
from loopdeck.theory.scale import Scale

_STEPS = "CDEFGAB"
_SHARPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_FIFTHS = "FCGDAEB"
_MAJOR = frozenset({0, 2, 4, 5, 7, 9, 11})


class NoteName(NamedTuple):
    """A note name: ``step`` C to B, ``alter`` in semitones, ``octave`` (middle C is in octave
    4).
    """

    step: str
    alter: int
    octave: int


def fifths_of(scale: Scale | None) -> int:
    """Sharps of the signature, below 0 flats."""
    if scale is None:
        return 0
    for fifths in sorted(range(-7, 8), key=abs):
        tonic = fifths * 7 % 12
        if (
            len(scale.degrees) == 7
            and scale.pitch_classes == {(tonic + step) % 12 for step in _MAJOR}
            and _spelled(scale, fifths)
        ):
            return fifths
    return scale.fifths()


def _spelled(scale: Scale, fifths: int) -> bool:
    """Whether the scale's own names are those of the signature."""
    return all(note.accidental == alter_in_key(note.letter, fifths) for note in scale.spelled)


def alter_in_key(step: str, fifths: int) -> int:
    """What the signature does to a step: 1 sharp, -1 flat, 0 nothing."""
    place = _FIFTHS.index(step)
    if fifths > 0:
        return int(place < fifths)
    return -int(6 - place < -fifths)


def written(pitch: int, scale: Scale | None) -> NoteName:
    """The name of a MIDI number, spelled by the scale, with sharps without one."""
    name = scale.spell(pitch) if scale is not None else f"{_SHARPS[pitch % 12]}{pitch // 12 - 1}"
    letters = name.rstrip("-0123456789")
    note = parse_note_name(letters)
    return NoteName(note.letter, note.accidental, int(name[len(letters) :]))
