"""The written form: bars, notes with exact places and lengths, strings, frets and marks; what every
page is made from.

Conventions
    Places and lengths are quarters, exact (``fractions.Fraction``); a note's ``at`` counts from the
    start of its bar. One voice: notes that begin together are a chord and end together, and a chord
    ends where the next one begins at the latest; what sounded on is marked ``let-ring``. A note may
    last into later bars; it stands once, where it begins. Bars count from 1, a pick-up bar is 0.
    Pitches sound as written here (MIDI numbers); that a bass is printed an octave higher is the
    printer's affair. Strings count from the highest (1).
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

from loopdeck.brief.brief import Brief
from loopdeck.rhythm.meter import Meter

#: No page has more bars, nor a note that goes on for more.
MOST_BARS = 20_000


@dataclass(frozen=True)
class PageNote:
    """One note.

    ``marks`` as technique names them, with ``hammer-on``, ``pull-off`` or ``slide`` for how it was
    reached.
    """

    at: Fraction
    duration: Fraction
    pitch: int
    string: int = 0
    fret: int = 0
    marks: tuple[str, ...] = ()
    velocity: int = 90
    hand: int = 0
    finger: int = 0
    bend_semitones: float = 0.0

    def as_dict(self) -> dict[str, Any]:
        """As JSON, with fraction strings."""
        return {
            "at": str(self.at),
            "duration": str(self.duration),
            "string": self.string,
            "fret": self.fret,
            "pitch": self.pitch,
            "marks": list(self.marks),
            **({"bend": round(self.bend_semitones, 2)} if "bend" in self.marks else {}),
        }


def in_order(notes: Iterable[PageNote]) -> tuple[PageNote, ...]:
    """Notes of a bar by place, those of a chord from the lowest."""
    return tuple(sorted(notes, key=lambda note: (note.at, note.pitch)))


@dataclass(frozen=True)
class PageBar:
    """One bar; its notes stand by place, those of a chord from the lowest.

    ``length`` is the meter's, but for a pick-up bar, which is as long as what is in it.
    """

    number: int
    meter: Meter
    length: Fraction
    notes: tuple[PageNote, ...] = ()
    pickup: bool = False

    def content(self) -> tuple[Any, ...]:
        """What makes two bars the same on paper."""
        notes = tuple((n.at, n.duration, n.pitch, n.string, n.fret, n.marks, n.bend_semitones) for n in self.notes)
        return str(self.meter), self.length, notes

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {
            "meter": str(self.meter),
            "pickup": self.pickup,
            "length": str(self.length),
            "notes": [note.as_dict() for note in self.notes],
        }


@dataclass(frozen=True)
class Page:
    """A piece on paper.

    ``unplayable``: notes (MIDI numbers) that the tuning has no place for, which stand without
    string and fret (both 0).
    """

    title: str
    brief: Brief
    bars: tuple[PageBar, ...]
    unplayable: tuple[int, ...] = ()
    words: str = ""
    extra: dict[str, Any] = field(default_factory=dict)

    def as_dict(self) -> dict[str, Any]:
        """As JSON: the bars in playing order, repeats written out, with what they were played
        in.
        """
        brief = self.brief
        return {
            "title": self.title,
            "tempo": str(brief.tempo),
            "swing": str(brief.swing),
            "scale": str(brief.scale) if brief.scale is not None else None,
            "tuning": {"name": str(brief.tuning), "strings": list(brief.tuning.strings)},
            "bars": [bar.as_dict() for bar in self.bars],
        }

    def chosen(self, first: int, last: int) -> "Page":
        """Bars ``first`` to ``last``; a note that lasts beyond them is cut there."""
        bars = [bar for bar in self.bars if first <= bar.number <= last]
        rest = sum((bar.length for bar in bars), Fraction(0))
        cut = []
        for bar in bars:
            notes = tuple(replace(note, duration=min(note.duration, rest - note.at)) for note in bar.notes)
            cut.append(replace(bar, notes=notes))
            rest -= bar.length
        return replace(self, bars=tuple(cut))


def starts(bars: tuple[PageBar, ...]) -> list[Fraction]:
    """Where each bar begins, from the start of the first."""
    found, at = [], Fraction(0)
    for bar in bars:
        found.append(at)
        at += bar.length
    return found
