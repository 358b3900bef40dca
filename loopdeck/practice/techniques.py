"""What the hand did, held against what the target asks of it: "The slide into bar 2 was plucked."

Conventions
    Notes are written notes (``bass.technique``): each with how it was reached and what was done to
    it. Positions are quarters from the start of the stretch. A note is held against the nearest
    one of its pitch that is no further off than ``NEAR_SEC``. What a pickup cannot tell for sure
    is not held against the player.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.finding import technique
from loopdeck.bass.technique.reading import PLUCK, SLIDE

#: As far as ``analysis.comparison`` takes a note of the right pitch to be that note.
NEAR_SEC = 0.25
#: Marks whose absence is told. Accents, staccato and ringing change with the tempo by themselves.
TOLD = ("slide-from", "slide-to", "bend", "vibrato", "trill", "ghost", "dead")
_NAMES = {"slide-from": "slide before the note", "slide-to": "slide away", "ghost": "ghost note", "dead": "dead note"}
#: Notes nearer to a bar line than this, in quarters, begin the bar.
_AT_BAR_Q = 0.13


class HandNote(NamedTuple):
    """A note as a player would write it. ``bar`` counts from 1; 0 where nobody asks for it."""

    onset_q: float
    pitch: int
    reached: str = PLUCK
    marks: tuple[str, ...] = ()
    unsure: bool = False
    bar: int = 0
    opens_bar: bool = False


def written_notes(array: NDArray[np.void], bends: Sequence[NDArray[np.float64]], quarter_sec: float) -> list[HandNote]:
    """Raw notes (NOTE_DTYPE, shape (n,), seconds from the start of the stretch, with a bend curve
    each) as written ones, at a tempo of ``quarter_sec`` seconds a quarter.
    """
    if not len(array):
        return []
    order = np.argsort(array["onset_sec"], kind="stable")
    found = technique(array[order], tuple(bends[row] for row in order.tolist()))
    return [
        HandNote(one.onset_sec / quarter_sec, int(one.pitch), one.reached, tuple(one.marks), one.unsure)
        for one in found
    ]


def in_bars(notes: Sequence[HandNote], starts_q: Sequence[float], first_bar: int) -> list[HandNote]:
    """The notes with their bars: ``starts_q`` are those of the bars from ``first_bar`` on."""
    rows = []
    for note in notes:
        at = max(sum(start <= note.onset_q + _AT_BAR_Q for start in starts_q) - 1, 0)
        opens = abs(note.onset_q - starts_q[at]) < _AT_BAR_Q
        rows.append(note._replace(bar=first_bar + at, opens_bar=opens))
    return rows


def technique_remarks(wanted: Sequence[HandNote], played: Sequence[HandNote], quarter_sec: float) -> tuple[str, ...]:
    """What was done otherwise, a sentence each, in the order of the notes, nothing twice."""
    free = list(played)
    said: list[str] = []
    for note in wanted:
        near = [one for one in free if one.pitch == note.pitch]
        mine = min(near, key=lambda one: abs(one.onset_q - note.onset_q), default=None)
        if mine is None or abs(mine.onset_q - note.onset_q) * quarter_sec > NEAR_SEC:
            continue
        free.remove(mine)
        said += _remarks(note, mine)
    return tuple(dict.fromkeys(said))


def _remarks(note: HandNote, mine: HandNote) -> list[str]:
    where = f"into bar {note.bar}" if note.opens_bar else f"in bar {note.bar}"
    said = []
    if note.reached != PLUCK and not note.unsure and mine.reached != note.reached and not mine.unsure:
        how = "plucked" if mine.reached == PLUCK else f"played as a {mine.reached}"
        said.append(f"The {note.reached} {where} was {how}.")
    elif note.reached == PLUCK and not note.unsure and mine.reached == SLIDE:
        said.append(f"A note {where} was reached by a slide; the target plucks it.")
    for mark in TOLD:
        if mark in note.marks and mark not in mine.marks:
            said.append(f"The {_NAMES.get(mark, mark)} in bar {note.bar} was left out.")
    return said
