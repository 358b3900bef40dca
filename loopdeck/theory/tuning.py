"""Tunings: the open strings of an instrument, and the simplest place of a pitch on them.

Conventions
    ``strings`` are MIDI numbers, the highest string first: string 1 is ``strings[0]``. As text a tuning is said from the lowest string up,
    ``E1 A1 D2 G2``, as players say it. Frets count from the nut, 0 is open.
"""

from dataclasses import dataclass

from loopdeck.errors import UserError
from loopdeck.theory.pitch import parse_pitch, pitch_name

FRETS = 24


@dataclass(frozen=True)
class Tuning:
    """A name, the open strings, highest first, and how many frets the neck has; ``fretless`` necks have places and no frets."""

    name: str
    strings: tuple[int, ...]
    frets: int = FRETS
    fretless: bool = False

    def place(self, pitch: int, string: int | None = None) -> tuple[int, int]:
        """(string, fret) of a pitch: on the given string, else at the lowest fret. (0, 0) when it is nowhere on the neck."""
        wanted = range(1, len(self.strings) + 1) if string is None else (string,)
        places = [(pitch - self.strings[one - 1], one) for one in wanted if 1 <= one <= len(self.strings)]
        fret, found = min(((fret, one) for fret, one in places if 0 <= fret <= self.frets), default=(0, 0))
        return found, fret

    def name_of(self, string: int) -> str:
        """The note name of an open string, without its octave."""
        return pitch_name(self.strings[string - 1], flats=True).rstrip("0123456789-")

    def __str__(self) -> str:
        return self.name


#: The well-known ones, lowest string first. Common practice, no source.
TUNINGS = {
    "four-string": "E1 A1 D2 G2",
    "five-string": "B0 E1 A1 D2 G2",
    "six-string": "B0 E1 A1 D2 G2 C3",
    "high five": "E1 A1 D2 G2 C3",
    "drop D": "D1 A1 D2 G2",
    "drop C": "C1 G1 C2 F2",
    "half step down": "Eb1 Ab1 Db2 Gb2",
    "whole step down": "D1 G1 C2 F2",
    "tenor": "A1 D2 G2 C3",
    "fifths": "C1 G1 D2 A2",
}
_ALIASES = {"standard": "four-string"}


def parse_tuning(text: str) -> Tuning:
    """``drop D``, or the open strings from the lowest: ``E1 A1 D2 G2``. Raises UserError."""
    words = text.strip()
    plain = words.lower().replace("-", " ")
    name = next((one for one in TUNINGS if one.lower().replace("-", " ") == plain), _ALIASES.get(plain))
    if name is not None:
        return Tuning(name, tuple(parse_pitch(word) for word in reversed(TUNINGS[name].split())))
    try:
        strings = tuple(parse_pitch(word) for word in reversed(words.split()))
    except UserError:
        known = ", ".join(TUNINGS)
        raise UserError(
            f"There is no tuning {words[:40]!r}; there are {known}, or the open strings from the lowest such as E1 A1 D2 G2."
        ) from None
    if not 1 <= len(strings) <= 12:
        raise UserError(f"A tuning has 1 to 12 strings, not {len(strings)}.")
    return Tuning(words, strings)
