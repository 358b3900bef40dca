"""Roles: what a note outside the scale does between the notes around it.

Conventions
    A role is one of ``ROLES``, or None for a note inside the scale. Notes that sound together
    (onsets within ``TOGETHER_Q``) are one event; a note's neighbours are the notes nearest in pitch
    of the events before and after, of the same source (the playing, a layer), if they follow within
    ``FOLLOWS_Q``.

Roles, tried in this order (the trade's names for non-chord tones, applied to a scale; common
practice, no source)
    bend        the pitch is bent, and where the bend leads or comes from is in the scale
    neighbour   between twice the same note of the scale, a step away
    passing     between two notes of the scale, by steps in one direction; several outside notes in
                a row pass together, and so does one that is repeated
    approach    it leads by a semitone into a note of the scale, wherever it comes from; several in
                a row approach together, and so do two that lie a semitone on either side of it
    outside     none of these, or held longer than what passes is: a quarter or more, and twice as
                long as the notes around it
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

ROLES = ("passing", "neighbour", "approach", "bend", "outside")
TOGETHER_Q = 0.06
FOLLOWS_Q = 2.0
#: The widest step, in semitones, and the least bend that leads anywhere.
STEP, LEAST_BEND = 2, 0.6
_HELD_Q = 1.0


def roles(
    pitch: ArrayLike,
    onset_q: ArrayLike,
    duration_q: ArrayLike,
    inside: ArrayLike,
    mask: ArrayLike,
    bends: Sequence[NDArray[np.float64]] | None = None,
    source: ArrayLike | None = None,
) -> list[str | None]:
    """The role of each of k notes in order of onset; all arrays (k,), but ``mask`` (12,): the scale
    by pitch class.

    ``bends``: a curve a note as ``capture.notes`` describes it, with semitones in its second
    column.
    """
    heard, onsets = np.asarray(pitch, np.int64), np.asarray(onset_q, float)
    lengths, within = np.asarray(duration_q, float), np.asarray(inside, bool)
    classes = np.asarray(mask, bool)
    where = np.zeros(len(heard), np.int64) if source is None else np.asarray(source, np.int64)
    found: list[str | None] = [None if held else "outside" for held in within.tolist()]
    for part in np.unique(where[~within]).tolist() if len(heard) else []:
        rows = np.flatnonzero(where == part)
        line = _Line(heard[rows], onsets[rows], lengths[rows], within[rows])
        for at in np.flatnonzero(~within[rows]).tolist():
            row = int(rows[at])
            if bends is not None and _bent(int(heard[row]), bends[row], classes):
                found[row] = "bend"
            else:
                found[row] = line.role(at)
    return found


def _bent(pitch: int, curve: NDArray[np.float64], mask: NDArray[np.bool_]) -> bool:
    if len(curve) < 2 or float(np.abs(curve[:, 1]).max()) < LEAST_BEND:
        return False
    ends = pitch + np.array([curve[0, 1], curve[-1, 1], curve[np.argmax(np.abs(curve[:, 1])), 1]])
    near = np.round(ends)
    return bool((mask[near.astype(np.int64) % 12] & (np.abs(ends - near) < 0.3) & (near != pitch)).any())


class _Line:
    """The notes of one source as events, each the row of notes that sound together."""

    def __init__(
        self,
        pitch: NDArray[np.int64],
        onset_q: NDArray[np.float64],
        length_q: NDArray[np.float64],
        inside: NDArray[np.bool_],
    ) -> None:
        self.pitch, self.onset_q, self.length_q, self.inside = pitch, onset_q, length_q, inside
        self.event = np.cumsum(np.concatenate([[False], np.diff(onset_q) > TOGETHER_Q]))
        self.start = np.searchsorted(self.event, np.arange(int(self.event[-1]) + 2))
        #: Where the outside notes that begin with a note end, in each direction.
        self._ends: dict[tuple[int, int], tuple[int | None, int, int]] = {}

    def beside(self, at: int, way: int) -> int | None:
        """The nearest note of the event before (-1) or after (1) the note ``at``; None where
        nothing is near in time.
        """
        event = int(self.event[at]) + way
        if not 0 <= event < len(self.start) - 1:
            return None
        rows = np.arange(self.start[event], self.start[event + 1])
        near = int(rows[np.argmin(np.abs(self.pitch[rows] - self.pitch[at]))])
        return near if abs(self.onset_q[near] - self.onset_q[at]) <= FOLLOWS_Q else None

    def _end(self, at: int, way: int) -> tuple[int | None, int, int]:
        """Along outside notes that are repeated or move by semitones in one direction: the inside
        note where they end, the direction, the last outside one.
        """
        # Repeats of a note end where it ends; each of a long row is asked for, and looked at once.
        row = []
        while (at, way) not in self._ends:
            row.append(at)
            other = self.beside(at, way)
            if other is None or self.inside[other] or self.pitch[other] != self.pitch[at]:
                self._ends[at, way] = self._beyond(at, way)
            else:
                at = other
        for one in row:
            self._ends[one, way] = self._ends[at, way]
        return self._ends[at, way]

    def _beyond(self, at: int, way: int) -> tuple[int | None, int, int]:
        """The same from the last of a row of repeats on."""
        turn = 0
        while True:
            other = self.beside(at, way)
            if other is None:
                return None, turn, at
            move = int(np.sign(self.pitch[other] - self.pitch[at])) * way
            if self.inside[other]:
                return other, turn, at
            if abs(int(self.pitch[other] - self.pitch[at])) > 1 or (turn and move and move != turn):
                return None, turn, at
            turn, at = turn or move, other

    def _encloses(self, at: int) -> bool:
        """Whether a note and the next one, both outside, lie a semitone on either side of the
        inside note they lead to.
        """
        other = self.beside(at, 1)
        target = None if other is None else self.beside(other, 1)
        if other is None or target is None or self.inside[other] or not self.inside[target]:
            return False
        sides = self.pitch[[at, other]] - self.pitch[target]
        return sorted(sides.tolist()) == [-1, 1]

    def role(self, at: int) -> str:
        """What the outside note ``at`` does."""
        before, _, first = self._end(at, -1)
        after, turn, last = self._end(at, 1)
        if after is None and self._encloses(at):
            return "approach"
        if after is None or self._held(at, before, after):
            return "outside"
        out = int(self.pitch[after] - self.pitch[last])
        if before is not None:
            into = int(self.pitch[first] - self.pitch[before])
            steps = 0 < abs(into) <= STEP and 0 < abs(out) <= STEP
            if steps and self.pitch[first] == self.pitch[last] and into == -out:
                return "neighbour"
            same_way = into * out > 0 and (turn == 0 or turn * out > 0)
            if steps and same_way:
                return "passing"
        return "approach" if abs(out) == 1 and (turn == 0 or turn * out > 0) else "outside"

    def _held(self, at: int, before: int | None, after: int) -> bool:
        around = [float(self.length_q[one]) for one in (before, after) if one is not None]
        return bool(self.length_q[at] >= _HELD_Q and self.length_q[at] >= 2 * max(around, default=0.0))
