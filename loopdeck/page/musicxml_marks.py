"""Technique in MusicXML, as the library music21 reads it."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any
from xml.etree.ElementTree import Element

from loopdeck.shelf.hand_marks import bend_of

#: What leads from one note to the next: the second one has the mark.
_LEADS = {"HammerOn": "hammer-on", "PullOff": "pull-off", "Glissando": "slide"}
_ARTICULATIONS = {"Accent": "accent", "StrongAccent": "accent", "Staccato": "staccato", "Staccatissimo": "staccato", "Scoop": "slide-from",
                  "Falloff": "slide-to", "FretTap": "hammer-on"}  # fmt: skip
_EXPRESSIONS = {"Trill": "trill", "Tremolo": "trill"}


_KEY = "loopdeck marks"


def ringing(part: Element) -> list[tuple[str, ...]]:
    """The mark of every note of a part in the document that is let ring, which the library does not
    read; nothing for parts of several voices, whose notes it puts into another order.
    """
    if part.find(".//backup") is not None:
        return []
    found: list[tuple[str, ...]] = []
    begun: dict[tuple[str | None, ...], int] = {}
    for note in part.iter("note"):
        if note.find("rest") is not None:
            continue
        pitch = tuple(note.findtext(f"pitch/{name}") for name in ("step", "alter", "octave"))
        found.append(())
        # Of tied heads the last one says it, and the first one is the note.
        first = begun.pop(pitch, len(found) - 1) if note.find("tie[@type='stop']") is not None else len(found) - 1
        if note.find("tie[@type='start']") is not None:
            begun[pitch] = first
        if note.find("notations/tied[@type='let-ring']") is not None:
            found[first] = ("let-ring",)
    return found


def note_down(part: Any, others: Iterable[Any], rings: Sequence[tuple[str, ...]] = ()) -> None:
    """Write its marks beside every note of ``part``, where they outlive the writing out of repeats;
    with those of ``others`` that have the very same notes (the staff beside a tab), and with
    ``rings``, if there is one for each pitch.
    """
    notes = list(part.recurse().notes)
    following = iter(rings if len(rings) == sum(len(one.pitches) for one in notes) else ())
    twins = [list(other.recurse().notes) for other in others]
    # Numbers are compared: the library takes a printed natural and an unprinted one for two
    # pitches.
    pitches = [_numbers(one) for one in notes]
    twins = [twin for twin in twins if [_numbers(one) for one in twin] == pitches]
    for index, element in enumerate(notes):
        if not element.pitches:
            # A beat of a drum.
            continue
        rows = [_of_members(element), *(_of_members(twin[index]) for twin in twins)]
        rows.append([next(following, ()) for _ in element.pitches])
        element.editorial[_KEY] = [
            tuple(dict.fromkeys(mark for row in column for mark in row)) for column in zip(*rows, strict=True)
        ]


def _numbers(element: Any) -> tuple[int, ...]:
    return tuple(pitch.midi for pitch in element.pitches)


def noted(element: Any) -> list[tuple[str, ...]]:
    """The marks that were written beside an element, one row a pitch."""
    return list(element.editorial.get(_KEY, [()] * len(element.pitches)))


def _of_members(element: Any) -> list[tuple[str, ...]]:
    members = list(element.notes) if hasattr(element, "notes") else [element]
    members = [one for one in members if len(one.pitches) == 1]
    return [marks_of(element, one) for one in members]


def marks_of(element: Any, note: Any) -> tuple[str, ...]:
    """The marks of ``note``, a note of its own or a member of the chord ``element``."""
    return tuple(dict.fromkeys(_marks(element, note)))


def _marks(element: Any, note: Any) -> Iterator[str]:
    both = (element,) if element is note else (element, note)
    for one in both:
        for spanner in one.getSpannerSites():
            name = type(spanner).__name__
            if name in _LEADS and spanner.isLast(one) and not spanner.isFirst(one):
                yield _LEADS[name]
            if name == "TrillExtension" and spanner.isFirst(one):
                yield "vibrato"
        yield from (_ARTICULATIONS[name] for name in _names(one.articulations) if name in _ARTICULATIONS)
        yield from _bends(one.articulations)
        yield from ("pull-off" for sign in one.articulations if getattr(sign, "displayText", "") == "P")
        yield from (_EXPRESSIONS[name] for name in _names(one.expressions) if name in _EXPRESSIONS)
    if getattr(note, "notehead", "normal") in ("x", "cross"):
        yield "dead"
    elif getattr(note, "noteheadParenthesis", False):
        yield "ghost"


def _bends(articulations: Iterable[Any]) -> Iterator[str]:
    """The widest bend with its amount; one by less than nothing lets the string back."""
    amounts = [
        float(one.bendAlter.semitones) for one in articulations if type(one).__name__ == "FretBend" and one.bendAlter
    ]
    if any(amount > 0 for amount in amounts):
        yield bend_of(max(amounts))
        if min(amounts) < 0:
            yield "release"


def _names(found: Any) -> list[str]:
    return [type(one).__name__ for one in found]
