"""Moments: the notes of a take as a hand meets them, those that begin together and those that still
sound.

Conventions
    Notes are a structured array in order of onset (``capture.notes.NOTE_DTYPE``). Notes whose
    onsets lie within ``TOGETHER_SEC`` of the first of them are one moment: fingers come down
    together, a pickup names their strings one after the other (common practice, no source). A note
    is held into a later moment when it sounds on for more than ``OVERLAP_SEC`` after it began: a
    shorter overlap is a finger that lifts a little late.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

TOGETHER_SEC = 0.03
OVERLAP_SEC = 0.02


class Moment(NamedTuple):
    """``new`` notes begin at ``at_sec``, ``held`` ones sound on. Both are indices: the new ones in
    order of pitch, from the lowest up, the held ones from the oldest on.
    """

    at_sec: float
    new: tuple[int, ...]
    held: tuple[int, ...]

    @property
    def sounding(self) -> tuple[int, ...]:
        """All that sounds."""
        return self.held + self.new


def moments(notes: NDArray[np.void], playable: NDArray[np.bool_]) -> list[Moment]:
    """The moments of ``notes``, shape (n,); notes that are not ``playable`` are left out."""
    chosen = np.flatnonzero(playable).tolist()
    onset = notes["onset_sec"].tolist()
    end = (notes["onset_sec"] + notes["duration_sec"]).tolist()
    pitch = notes["pitch"].tolist()
    found: list[Moment] = []
    held: list[int] = []
    at = 0
    while at < len(chosen):
        first = onset[chosen[at]]
        until = at + 1
        while until < len(chosen) and onset[chosen[until]] - first <= TOGETHER_SEC:
            until += 1
        new = sorted(chosen[at:until], key=lambda index: (pitch[index], index))
        held = [index for index in held if end[index] > first + OVERLAP_SEC]
        found.append(Moment(first, tuple(new), tuple(held)))
        held += new
        at = until
    return found
