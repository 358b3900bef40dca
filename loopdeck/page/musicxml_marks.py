"""Technique in MusicXML, as the library music21 reads it."""

from collections.abc import Iterable, Iterator
from typing import Any

#: What leads from one note to the next: the second one has the mark.
_LEADS = {"HammerOn": "hammer-on", "PullOff": "pull-off", "Glissando": "slide"}
_ARTICULATIONS = {"Accent": "accent", "StrongAccent": "accent", "Staccato": "staccato", "Staccatissimo": "staccato", "Scoop": "slide-from",
                  "Falloff": "slide-to"}  # fmt: skip
_EXPRESSIONS = {"Trill": "trill", "Tremolo": "trill"}


_KEY = "loopdeck marks"


def note_down(part: Any, others: Iterable[Any]) -> None:
    """Write its marks beside every note of ``part``, where they outlive the writing out of repeats;
    with those of ``others`` that have the very same notes (the staff beside a tab).
    """
    notes = list(part.recurse().notes)
    twins = [list(other.recurse().notes) for other in others]
    twins = [twin for twin in twins if [one.pitches for one in twin] == [one.pitches for one in notes]]
    for index, element in enumerate(notes):
        rows = [_of_members(element), *(_of_members(twin[index]) for twin in twins)]
        element.editorial[_KEY] = [
            tuple(dict.fromkeys(mark for row in column for mark in row)) for column in zip(*rows, strict=True)
        ]


def noted(element: Any) -> list[tuple[str, ...]]:
    """The marks that were written beside an element, one row a pitch."""
    return list(element.editorial.get(_KEY, [()] * len(element.pitches)))


def _of_members(element: Any) -> list[tuple[str, ...]]:
    members = list(element.notes) if hasattr(element, "notes") else [element]
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
        yield from (_EXPRESSIONS[name] for name in _names(one.expressions) if name in _EXPRESSIONS)
    if getattr(note, "notehead", "normal") in ("x", "cross"):
        yield "dead"
    elif getattr(note, "noteheadParenthesis", False):
        yield "ghost"


def _names(found: Any) -> list[str]:
    return [type(one).__name__ for one in found]
