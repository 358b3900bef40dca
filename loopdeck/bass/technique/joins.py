"""What technique asks of a fingering: which notes stay on the string of the note before them."""

from collections.abc import Sequence

from loopdeck.bass.technique.reading import HAMMER, PULL, SLIDE, Written

#: How a note is reached, and how it is joined to the one before it (``fingering.finger``).
JOINS = {SLIDE: "slide", HAMMER: "legato", PULL: "legato"}


def raw_joins(written: Sequence[Written], count: int) -> list[str]:
    """How each of ``count`` raw notes is joined to the one before it; "" where it was plucked.

    A slide takes the frets on its way along, a trill or a bend its turns.
    """
    joins: list[str | None] = [None] * count
    for note in written:
        slid = note.reached == SLIDE or "slide-from" in note.marks or "slide-to" in note.marks
        for place, row in enumerate(note.raw):
            # The bend of one raw note may stand for several written ones.
            if joins[row] is None:
                joins[row] = ("slide" if slid else "legato") if place else JOINS.get(note.reached, "")
    return [join or "" for join in joins]
