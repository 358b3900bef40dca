"""On which strings a layer lies: where a hand would play it, so that lanes, neck and tab show one
fingering.

A string that the pickup named stays (see ``bass.fingering``, whose search this is). A layer of more
than ``MOST`` notes is left to the simple choice of ``position``: the search would hold up the
picture.
"""

from collections.abc import Sequence
from functools import lru_cache

from loopdeck.brief.brief import Brief
from loopdeck.theory.tuning import Tuning
from loopdeck.window.note_view import NoteView

MOST = 200
_Row = tuple[float, float, int, int]


def strings_of(marks: Sequence[NoteView], brief: Brief | None, qpm: float) -> tuple[int, ...]:
    """The string of each mark of a layer, from 1; 0 where the search has none for it."""
    known = [mark.string for mark in marks]
    if brief is None or not marks or len(marks) > MOST or all(known):
        return tuple(known)
    sec = 60.0 / qpm
    rows = tuple((mark.slot_q * sec, (mark.length_q or 0.0) * sec, mark.pitch, mark.string) for mark in marks)
    return _searched(rows, brief.tuning)


@lru_cache(maxsize=64)
def _searched(rows: tuple[_Row, ...], tuning: Tuning) -> tuple[int, ...]:
    # The search is loaded with the first layer and not with the window.
    import numpy as np

    from loopdeck.bass.fingering import finger
    from loopdeck.capture.notes import NOTE_DTYPE

    order = sorted(range(len(rows)), key=lambda index: (rows[index][0], rows[index][2]))
    notes = np.zeros(len(rows), NOTE_DTYPE)
    for row, index in enumerate(order):
        onset_sec, duration_sec, pitch, string = rows[index]
        notes[row] = (onset_sec, duration_sec, pitch, 90, max(string - 1, 0), string)
    found = finger(notes, tuning).string.tolist()
    strings = [0] * len(rows)
    for row, index in enumerate(order):
        strings[index] = found[row]
    return tuple(strings)
