"""Pitch names, both ways.

Conventions
    Pitches are MIDI numbers; middle C is C4 = 60, so the open low E of a bass is E1 = 28. A name is
    a letter, accidentals (``b`` or ``♭``, ``#`` or ``♯``, up to two) and, for a pitch, the octave
    of its letter: Cb4 is the note below C4 (59), B#3 the one at C4 (60).
"""

import re
from dataclasses import dataclass

from loopdeck.errors import UserError

LETTERS = "CDEFGAB"
NATURAL = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NAME = re.compile(r"([A-Ga-g])([b♭]{0,2}|[#♯]{0,2})")
_SHARPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_FLATS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


@dataclass(frozen=True)
class Spelled:
    """A note name without octave: a letter and -3 to 3 accidentals (negative: flats)."""

    letter: str
    accidental: int = 0

    @property
    def pitch_class(self) -> int:
        """0 for C to 11 for B."""
        return (NATURAL[self.letter] + self.accidental) % 12

    def __str__(self) -> str:
        return self.letter + ("b" * -self.accidental if self.accidental < 0 else "#" * self.accidental)


def parse_note_name(text: str) -> Spelled:
    """``Bb``, ``F♯``: a name without octave. Raises UserError."""
    found = _NAME.fullmatch(text.strip())
    if found is None:
        raise UserError(f"{text[:40]!r} is not a note name; write a letter A to G with b or #, such as Bb or F#.")
    signs = found[2]
    return Spelled(found[1].upper(), -len(signs) if signs[:1] in ("b", "♭") else len(signs))


def parse_pitch(text: str) -> int:
    """``Bb2``, ``F♯1``: the MIDI number. Raises UserError if it is not a name, or lies outside 0 to
    127.
    """
    found = re.fullmatch(r"(.*?)(-?[0-9]{1,2})", text.strip())
    if found is None:
        raise UserError(f"{text[:40]!r} is not a pitch; write a note name and an octave, such as Bb2 (middle C is C4).")
    name = parse_note_name(found[1])
    midi = (int(found[2]) + 1) * 12 + NATURAL[name.letter] + name.accidental
    if not 0 <= midi <= 127:
        raise UserError(f"{text[:40]!r} lies outside the range of MIDI, which is C-1 to G9.")
    return midi


def pitch_name(midi: int, flats: bool = False) -> str:
    """The name of a MIDI number, with sharps or with flats: 46 is ``A#2`` or ``Bb2``."""
    return f"{(_FLATS if flats else _SHARPS)[midi % 12]}{midi // 12 - 1}"


def spelled_pitch(midi: int, name: Spelled) -> str:
    """A MIDI number under a given spelling, with the octave of its letter: (59, Cb) is ``Cb4``."""
    return f"{name}{(midi - NATURAL[name.letter] - name.accidental) // 12 - 1}"
