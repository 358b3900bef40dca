"""What a sounding string has to know of how notes were played: which go on without a new pluck,
which belong to a move of the hand, which are dead.

Conventions
    Notes are seconds and MIDI numbers in order of onset, shape (n,), read by the rules of
    ``joined`` and ``level``; a pickup's bend curve tells the rest by itself. ``source[i]`` is the
    note that i goes on from, -1 where i was plucked. ``leader[i]`` is the note whose place decides
    where i belongs: the goal of a slide for the frets on the way, since a slide's onset is its
    arrival; elsewhere i itself.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.finding import plucked_levels
from loopdeck.bass.technique.joined import joined
from loopdeck.bass.technique.legato import soft_share
from loopdeck.bass.technique.level import DEAD_SEC
from loopdeck.bass.technique.reading import PLUCK, Written, cut, lanes

#: A dead note's string is struck and at once muted; what is bent further than this was held.
_STILL = 0.3


class Touch(NamedTuple):
    """``source`` and ``leader`` int64 of shape (n,), ``dead`` bool of shape (n,)."""

    source: NDArray[np.int64]
    leader: NDArray[np.int64]
    dead: NDArray[np.bool_]

    def follower(self, row: int) -> int:
        """The note that goes on from ``row``; -1 where none does."""
        # Asked for each note as it sounds: for the few notes of a pass a list is quicker.
        sources: list[int] = self.source.tolist()
        return sources.index(row) if row in sources else -1


def plain_touch(count: int) -> Touch:
    """Of notes that are all plucked."""
    return Touch(np.full(count, -1, np.int64), np.arange(count), np.zeros(count, bool))


def touch_of(notes: NDArray[np.void], bends: tuple[NDArray[np.float64], ...]) -> Touch:
    """The touch of ``notes`` with the fields of NOTE_DTYPE, in order of onset, and their bend
    curves.
    """
    touch = plain_touch(len(notes))
    strings = [
        [
            Written(
                float(notes["onset_sec"][index]),
                float(notes["onset_sec"][index] + notes["duration_sec"][index]),
                int(notes["pitch"][index]) + round(float(bends[index][-1, 1])),
                int(notes["string"][index]),
                int(notes["velocity"][index]),
                raw=[index],
            )
            for index in lane
        ]
        for lane in lanes(notes)
    ]
    short = {row.raw[0] for rows in strings for row in rows if row.end_sec - row.onset_sec < DEAD_SEC}
    levels = [plucked_levels(cut(rows)) for rows in strings]
    soft = soft_share(strings, levels)
    for rows, usual in zip(strings, levels, strict=True):
        last = -1
        for note in joined(rows, usual, soft):
            leader = note.raw[-1] if note.reached != PLUCK or "slide-from" in note.marks else note.raw[0]
            for place, index in enumerate(note.raw):
                if place or note.reached != PLUCK:
                    touch.source[index] = last
                touch.leader[index] = leader
                last = index
            index = note.raw[0]
            touch.dead[index] = (
                len(note.raw) == 1
                and note.reached == PLUCK
                and index in short
                and float(np.abs(bends[index][:, 1]).max()) < _STILL
            )
    # What another note goes on from is not a dead note, however short it was.
    touch.dead[touch.source[touch.source >= 0]] = False
    return touch
