"""Technique as the player corrected it: kept with the take, and put over what was read.

Conventions
    A correction is of one written note, named by its onset (seconds) and pitch, and says how it was
    reached and its marks; it finds that note again while no other one of its pitch is nearer, and
    within ``NEAR_SEC`` (another pickup profile moves onsets a little). They lie in the take's
    ``Views``. A bend may have its amount behind it: ``bend 1.5``, in semitones.
"""

import re
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from loopdeck.bass.technique.reading import HAMMER, PLUCK, PULL, SLIDE, Written
from loopdeck.errors import UserError
from loopdeck.looper.heard import Views

REACHED = (PLUCK, HAMMER, PULL, SLIDE)
MARKS = (
    "bend",
    "release",
    "vibrato",
    "trill",
    "dead",
    "ghost",
    "staccato",
    "let-ring",
    "accent",
    "slide-from",
    "slide-to",
)
#: What stands for no marks at all, and for what was read.
PLAIN, AS_READ = "plain", "auto"
NEAR_SEC = 0.08


_BEND = re.compile(r"bend (\d{1,2}(?:\.\d{1,3})?)", re.ASCII)


def bend_of(semitones: float) -> str:
    """The mark of a bend by so many semitones."""
    return f"bend {semitones:.3f}".rstrip("0").rstrip(".")


def amount_of(mark: str) -> float:
    """How many semitones the mark of a bend says; 0 for a mark that says nothing of that."""
    found = _BEND.fullmatch(mark)
    return float(found[1]) if found is not None else 0.0


def plain(marks: Iterable[str]) -> tuple[str, ...]:
    """Marks without amounts, each once."""
    return tuple(dict.fromkeys("bend" if amount_of(mark) else mark for mark in marks))


class HandMark(NamedTuple):
    """One correction."""

    onset_sec: float
    pitch: int
    reached: str
    marks: tuple[str, ...]


def hand_marks_of(views: Views) -> tuple[HandMark, ...]:
    """Those of a take that are corrections at all."""
    found = tuple(HandMark(*one) for one in views.technique)
    return tuple(one for one in found if one.reached in REACHED and set(plain(one.marks)) <= set(MARKS))


def put_over(notes: Sequence[Written], found: Iterable[HandMark]) -> None:
    """Let the notes be as the player says."""
    for one in found:
        note = _meant(notes, one)
        if note is not None:
            note.reached, note.marks, note.by_hand, note.unsure = one.reached, list(plain(one.marks)), True, False
            note.vibrato = note.vibrato if "vibrato" in one.marks else None
            said = max(map(amount_of, one.marks), default=0.0)
            note.bend_semitones = said or (note.bend_semitones if "bend" in one.marks else 0.0)


def _meant(notes: Sequence[Written], one: HandMark) -> Written | None:
    near = [note for note in notes if note.pitch == one.pitch and abs(note.onset_sec - one.onset_sec) <= NEAR_SEC]
    return min(near, key=lambda note: abs(note.onset_sec - one.onset_sec), default=None)


def corrected(found: Sequence[HandMark], notes: Sequence[Written], orders: Iterable[str]) -> tuple[HandMark, ...]:
    """The corrections after orders such as ``3=hammer-on,accent`` (the number of a note, how it was
    reached, its marks), ``3=plain`` or ``3=auto``. Raises UserError.
    """
    kept = list(found)
    for order in orders:
        index, words = _order(order, len(notes))
        note = notes[index]
        kept = [one for one in kept if _meant(notes, one) is not note]
        if words == [AS_READ]:
            continue
        reached = [word for word in words if word in REACHED]
        marks = tuple(word for word in words if word in MARKS)
        kept.append(HandMark(note.onset_sec, note.pitch, reached[-1] if reached else PLUCK, marks))
    return tuple(kept)


def _order(text: str, count: int) -> tuple[int, list[str]]:
    number, sign, words = text.partition("=")
    found = [word.strip().lower() for word in words.split(",") if word.strip()]
    known = {*REACHED, *MARKS, PLAIN, AS_READ}
    if not sign or not number.strip().isdecimal() or not found or not set(found) <= known:
        raise UserError(
            f"{text[:60]!r} corrects nothing; write the number of a note and its marks, such as 3=hammer-on,accent,"
            f" 3=plain, or 3=auto for what was read. There are {', '.join((*REACHED, *MARKS))}."
        )
    if len(found) > 1 and {PLAIN, AS_READ} & set(found):
        raise UserError(f"{text[:60]!r} contradicts itself; {PLAIN} and {AS_READ} stand alone.")
    if len({*found} & {*REACHED}) > 1:
        raise UserError(f"{text[:60]!r} contradicts itself; a note is reached in one way.")
    if len(number.strip()) > 9 or int(number) >= count:
        raise UserError(f"There is no note {number.strip()[:12]}; the written notes count from 0 to {count - 1}.")
    return int(number), found
