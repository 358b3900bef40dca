"""Which notes hang together: a hammer-on, pull-off or slide and the note that it is reached
from.
"""

from fractions import Fraction

from loopdeck.page.form import Page, PageNote, starts

JOINS = ("hammer-on", "pull-off", "slide")


def join_of(note: PageNote) -> str:
    """How a note was reached from another: one of ``JOINS``, or nothing."""
    return next((mark for mark in JOINS if mark in note.marks), "")


def following(page: Page) -> dict[int, PageNote]:
    """For each note (by identity) the one that is reached from it: the next on its string,
    beginning where it ends.

    One that is reached from no such note (hammered on from nowhere) is in no entry.
    """
    last: dict[int, tuple[PageNote, Fraction]] = {}
    found: dict[int, PageNote] = {}
    for start, bar in zip(starts(page.bars), page.bars, strict=True):
        for note in bar.notes:
            before = last.get(note.string)
            if before is not None and join_of(note) and before[1] == start + note.at:
                found[id(before[0])] = note
            last[note.string] = (note, start + note.at + note.duration)
    return found
