"""The hands on paper: fretting fingers, and plectrum strokes or plucking fingers.

Rule
    Strokes ``down`` are all down; ``alternate`` are down where the grid counts and up between (even
    and odd places of the finest step in the bar), so a hand that keeps moving meets the note.
    Plucking fingers go i and m in turn, and one finger rakes on to the next higher string down
    (common practice, no source).
"""

from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement

from loopdeck.page.form import Page, PageNote

FRET, DOWN, ALTERNATE, PLUCK = "fret", "down", "alternate", "pluck"
WAYS = (FRET, DOWN, ALTERNATE, PLUCK)


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
        if sign in ("i", "m"):
            SubElement(technical, "pluck").text = sign


def hands_of(page: Page, ways: frozenset[str]) -> Hands:
    """The signs for every note of a page."""
    signs: dict[int, str] = {}
    last, finger = 0, "m"
    for bar in page.bars:
        step = min([Fraction(1, 2), *(Fraction(1, note.at.denominator) for note in bar.notes)])
        for note in bar.notes:
            if {"hammer-on", "pull-off", "slide"} & set(note.marks):
                continue
            if DOWN in ways:
                signs[id(note)] = "down-bow"
            elif ALTERNATE in ways:
                signs[id(note)] = "up-bow" if (note.at / step) % 2 else "down-bow"
            elif PLUCK in ways:
                finger = finger if last and note.string > last else "i" if finger == "m" else "m"
                signs[id(note)] = finger
                last = note.string
    return Hands(ways, signs)
