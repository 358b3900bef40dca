"""The hands on paper: fretting fingers, and plectrum strokes or plucking fingers.

Rule
    Strokes ``down`` are all down; ``alternate`` are down where the grid counts and up between (even
    and odd places of the finest step in the bar), so a hand that keeps moving meets the note.
    Plucking fingers go i and m in turn, and one finger rakes on to the next lower string; a chord
    has the thumb on its lowest note (common practice, no source). Without a word the technique of
    the brief decides: a plectrum goes down and up, downstrokes all down, a slapping hand has no
    signs, any other plucks.
"""

from dataclasses import dataclass, field
from fractions import Fraction
from itertools import groupby
from typing import Any
from xml.etree.ElementTree import Element, SubElement

from loopdeck.errors import UserError
from loopdeck.page.form import Page, PageNote

FRET, DOWN, ALTERNATE, PLUCK = "fret", "down", "alternate", "pluck"
WAYS = (FRET, DOWN, ALTERNATE, PLUCK)
AUTO = "auto"
#: Thumb, index, middle and ring, as players of strings write them (common practice, no source).
PLUCKING = ("p", "i", "m", "a")


@dataclass(frozen=True)
class Hands:
    """What is printed: the ways asked for, and the sign of the other hand for each note by
    identity.
    """

    ways: frozenset[str]
    signs: dict[int, str] = field(default_factory=dict)

    def add(self, technical: Element, note: PageNote) -> None:
        """Append the signs of a note to a MusicXML element ``technical``."""
        sign = self.signs.get(id(note), "")
        if sign in ("up-bow", "down-bow"):
            SubElement(technical, sign)
        if FRET in self.ways and note.finger:
            SubElement(technical, "fingering").text = str(note.finger)
        if sign in PLUCKING:
            SubElement(technical, "pluck").text = sign

    def as_dict(self, note: PageNote) -> dict[str, Any]:
        """As JSON: ``finger`` of the fretting hand (0: an open string), ``stroke`` down or up,
        ``pluck`` the finger.
        """
        sign = self.signs.get(id(note), "")
        found: dict[str, Any] = {"finger": note.finger} if FRET in self.ways else {}
        if sign in PLUCKING:
            found["pluck"] = sign
        elif sign:
            found["stroke"] = sign.removesuffix("-bow")
        return found

    def page_as_dict(self, page: Page) -> dict[str, Any]:
        """The page as JSON, with the hands at every note."""
        found = page.as_dict()
        for bar, row in zip(page.bars, found["bars"], strict=True):
            for note, one in zip(bar.notes, row["notes"], strict=True):
                one |= self.as_dict(note)
        return found


def hands_of(page: Page, ways: frozenset[str]) -> Hands:
    """The signs for every note of a page; a stroke through a chord has one, at its lowest note."""
    signs: dict[int, str] = {}
    plucked = _Plucked()
    for bar in page.bars:
        step = min([Fraction(1, 2), *(Fraction(1, note.at.denominator) for note in bar.notes)])
        for at, chord in groupby(bar.notes, key=lambda note: note.at):
            struck = [note for note in chord if not {"hammer-on", "pull-off", "slide"} & set(note.marks)]
            if not struck:
                continue
            if DOWN in ways:
                signs[id(struck[0])] = "down-bow"
            elif ALTERNATE in ways:
                signs[id(struck[0])] = "up-bow" if (at / step) % 2 else "down-bow"
            elif PLUCK in ways:
                signs |= {id(note): finger for note, finger in zip(struck, plucked.fingers(struck), strict=False)}
    return Hands(ways, signs)


class _Plucked:
    """Which finger plucks next."""

    def __init__(self) -> None:
        self._last, self._finger = 0, "m"

    def fingers(self, struck: list[PageNote]) -> tuple[str, ...]:
        """The fingers of one note, or of a chord from the lowest note: thumb, index, middle,
        ring.
        """
        if len(struck) > 1:
            self._last = 0
            return ("p", "i", "m", "a")
        rakes = bool(self._last) and struck[0].string > self._last
        self._finger = self._finger if rakes else "i" if self._finger == "m" else "m"
        self._last = struck[0].string
        return (self._finger,)


#: Words of a brief's technique and the way of the other hand that they mean, tried in this order.
_SAID = (
    (("downstroke", "down stroke", "down-stroke", "all down"), DOWN),
    (("plectrum", "pick"), ALTERNATE),
    (("slap", "tap"), ""),
)


def ways_of_technique(technique: str) -> frozenset[str]:
    """What a brief's technique says of the hands: the fretting fingers, and plectrum strokes, none
    (slapped), or else plucking fingers.
    """
    words = technique.lower()
    for signs, way in _SAID:
        # "fingerpicked" has no plectrum in it.
        if any(sign in words for sign in signs) and not (way == ALTERNATE and "finger" in words):
            return frozenset({FRET, way} - {""})
    return frozenset({FRET, PLUCK})


def ways_of(text: str | None, technique: str) -> frozenset[str]:
    """The ways that an option names: ``fret,pluck``; ``auto`` stands for what the technique says,
    None for nothing.

    Raises UserError.
    """
    if text is None:
        return frozenset()
    if text.strip() == AUTO:
        return ways_of_technique(technique)
    ways = frozenset(word.strip() for word in text.split(","))
    if not ways <= set(WAYS):
        raise UserError(
            f"{text[:40]!r} are not ways to show the hands; there are {', '.join(WAYS)}, and auto by the technique."
        )
    if len(ways - {FRET}) > 1:
        raise UserError("The other hand does one thing: down, alternate or pluck.")
    return ways
