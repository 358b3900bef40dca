"""Technique: from raw notes to the notes a player would write, each with how it was reached and
what was done to it.

Conventions
    Notes are a structured array in order of onset with a bend curve each (``capture.notes``). A
    written note names the raw ones it is made of. A slide's onset is its arrival. Both ways of a
    pickup are read: a slide as a stepped bend or as a run of quick notes, a hammer-on as a jump of
    the bend or as a new note. What cannot be told is said to be unsure, and not marked.
"""

from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loopdeck.capture.notes import NOTE_DTYPE

PLUCK, HAMMER, PULL, SLIDE = "pluck", "hammer-on", "pull-off", "slide"
#: A note that begins no further than this from the end of another one goes on from it.
GAP_SEC = 0.016
#: A pickup may tell of the end of a note so long after the next one of its string has begun.
OVERLAP_SEC = 0.04


@dataclass
class Written:
    """One written note.

    ``vibrato`` is (hertz, cents peak to peak); ``unsure`` that it may have been reached otherwise.
    """

    onset_sec: float
    end_sec: float
    pitch: int
    string: int
    velocity: int
    reached: str = PLUCK
    marks: list[str] = field(default_factory=list)
    vibrato: tuple[float, float] | None = None
    bend_semitones: float = 0.0
    raw: list[int] = field(default_factory=list)
    channel: int = 0
    unsure: bool = False
    #: The player says so; it was not read.
    by_hand: bool = False
    #: It sounded until the next note of its string.
    held: bool = False
    #: Of a step that a bend told of, the pitch it came from and the one it got to.
    way: tuple[int, int] | None = None

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {
            "onset_sec": round(self.onset_sec, 6),
            "end_sec": round(self.end_sec, 6),
            "pitch": self.pitch,
            "string": self.string,
            "velocity": self.velocity,
            "reached": self.reached,
            "marks": self.marks,
            "vibrato": None
            if self.vibrato is None
            else {"hz": round(self.vibrato[0], 2), "cents": round(self.vibrato[1], 1)},
            "bend_semitones": round(self.bend_semitones, 3),
            "raw": self.raw,
            "unsure": self.unsure,
            **({"by_hand": True} if self.by_hand else {}),
        }

    def mark(self, name: str) -> None:
        """Add a mark once."""
        if name not in self.marks:
            self.marks.append(name)


def lanes(notes: NDArray[np.void]) -> list[list[int]]:
    """The notes of each string: by string where the pickup names it, else by channel; indices in
    order.
    """
    found: dict[tuple[int, int], list[int]] = {}
    for index, (channel, string) in enumerate(zip(notes["channel"].tolist(), notes["string"].tolist(), strict=True)):
        found.setdefault((channel, string), []).append(index)
    return list(found.values())


def meets(note: Written, before: Written) -> bool:
    """True where ``note`` begins as the one ``before`` ends."""
    return -OVERLAP_SEC <= note.onset_sec - before.end_sec <= GAP_SEC


def cut(notes: list[Written]) -> list[Written]:
    """The notes of one string in order, each with its end no later than the next one's beginning,
    where the pickup was late to tell of it; a channel of many strings may sound on.
    """
    for note, following in pairwise(notes):
        over = note.end_sec - following.onset_sec
        if over > 0.0 and (note.string or over <= OVERLAP_SEC) and following.onset_sec > note.onset_sec:
            note.end_sec = following.onset_sec
    return notes


def as_notes(notes: list[Written]) -> NDArray[np.void]:
    """Written notes as the structured array that other rooms read."""
    array = np.zeros(len(notes), NOTE_DTYPE)
    for row, note in enumerate(notes):
        length = note.end_sec - note.onset_sec
        array[row] = (note.onset_sec, length, note.pitch, note.velocity, note.channel, note.string)
    return array
