"""Tunings: the open strings of an instrument, and the simplest place of a pitch on them.

Conventions
    ``strings`` are MIDI numbers, the highest string first: string 1 is ``strings[0]``. As text a
    tuning is said from the lowest string up, ``E1 A1 D2 G2``, as players say it. Frets count from
    the nut, 0 is open.
"""

import re
from dataclasses import dataclass

from loopdeck.errors import UserError
from loopdeck.theory.pitch import parse_pitch, pitch_name

FRETS = 24
MOST_FRETS = 36


@dataclass(frozen=True)
class Tuning:
    """A name, the open strings, highest first, and how many frets the neck has; ``fretless`` necks
    have places and no frets.
    """

    name: str
    strings: tuple[int, ...]
    frets: int = FRETS
    fretless: bool = False

    def place(self, pitch: int, string: int | None = None) -> tuple[int, int]:
        """(string, fret) of a pitch: on the given string, else at the lowest fret. (0, 0) when it
        is nowhere on the neck.
        """
        wanted = range(1, len(self.strings) + 1) if string is None else (string,)
        places = [(pitch - self.strings[one - 1], one) for one in wanted if 1 <= one <= len(self.strings)]
        fret, found = min(((fret, one) for fret, one in places if 0 <= fret <= self.frets), default=(0, 0))
        return found, fret

    def name_of(self, string: int) -> str:
        """The note name of an open string, without its octave."""
        return pitch_name(self.strings[string - 1], flats=True).rstrip("0123456789-")

    def __str__(self) -> str:
        return self.name


#: What a bass is tuned to where nothing else is said. Common practice, no source.
FOUR_STRING = Tuning("four-string", (43, 38, 33, 28))

_EXAMPLE = "E1 A1 D2 G2"
#: What parts the strings from the frets, and a number of frets.
_BEFORE_FRETS = re.compile(r"[\s,]+(?=(?:[0-9]{1,2}[\s-]*frets?|frets?\s*[0-9]{1,2}|fretless)\b)", re.IGNORECASE)
_FRETS = re.compile(r"([0-9]{1,2})[\s-]*frets?|frets?\s*([0-9]{1,2})", re.ASCII)


def parse_tuning(text: str) -> Tuning:
    """The open strings from the lowest, ``E1 A1 D2 G2``; with a name in front (``porch = D1 A1 D2
    G2``), frets or fretless behind.

    ``E1 A1 D2 G2, 20 frets`` and ``E1 A1 D2 G2 fretless``: a comma may stand before the frets, and
    the number behind them (``frets 20``). ``four-string`` and ``standard`` are
    the usual four. Names of other tunings are a matter of ``loopdeck.brief.tunings``. Raises
    UserError.
    """
    words = text.strip()
    if words.lower().replace(" ", "-") in ("four-string", "standard"):
        return FOUR_STRING
    name, equals, rest = words.partition("=")
    pitches, *more = _BEFORE_FRETS.sub(",", rest if equals else words).split(",")
    try:
        strings = tuple(parse_pitch(word) for word in reversed(pitches.split()))
    except UserError:
        raise UserError(
            f"{words[:40]!r} is not a row of pitches; write the open strings from the lowest, such as {_EXAMPLE}."
        ) from None
    if not 1 <= len(strings) <= 12:
        raise UserError(f"A tuning has 1 to 12 strings, not {len(strings)}; write them from the lowest: {_EXAMPLE}.")
    frets, fretless = _neck(words, [one.strip().lower() for one in more])
    return Tuning(name.strip() if equals else words, strings, frets, fretless)


def _neck(words: str, more: list[str]) -> tuple[int, bool]:
    """Frets, and whether they are only places, from the words behind the strings."""
    frets, fretless = FRETS, False
    for one in more:
        number = _FRETS.fullmatch(one)
        if one == "fretless":
            fretless = True
        elif number is not None and 1 <= int(number[1] or number[2]) <= MOST_FRETS:
            frets = int(number[1] or number[2])
        else:
            raise UserError(
                f"{one[:40]!r} in the tuning {words[:40]!r} makes no sense; behind the strings may stand "
                "fretless, or 1 to "
                f"{MOST_FRETS} frets, as in {_EXAMPLE}, 20 frets."
            )
    return frets, fretless


def tuning_text(tuning: Tuning) -> str:
    """The tuning spelled out, so that ``parse_tuning`` reads it back without knowing its name."""
    pitches = " ".join(pitch_name(pitch) for pitch in reversed(tuning.strings))
    neck = (f", {tuning.frets} frets" if tuning.frets != FRETS else "") + (", fretless" if tuning.fretless else "")
    try:
        own = parse_tuning(tuning.name)
    except UserError:
        return f"{tuning.name} = {pitches}{neck}"
    # A name that is a row of pitches itself says it all.
    return tuning.name if own == tuning else f"{tuning.name} = {pitches}{neck}"
