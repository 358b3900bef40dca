"""A line of notes with what it was played in: the form in which a riff is varied."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.brief.brief import Brief
from loopdeck.rhythm.quantize import locate

LINE_DTYPE = np.dtype(
    [
        ("onset_q", "f8"),
        ("duration_q", "f8"),
        ("pitch", "i2"),
        ("velocity", "i2"),
        ("string", "i1"),
        ("fret", "i1"),
        ("channel", "i1"),
    ]
)

#: A riff that is moved by no more semitones keeps its strings: the hand moves along the neck. By
#: more, and other strings are nearer (a fourth lies between two of them; common practice).
SAME_STRING = 5


@dataclass(frozen=True)
class Line:
    """``notes`` (LINE_DTYPE, in order of onset), a bend curve each ((k, 2): quarters after the
    onset, semitones), and the brief.

    ``string`` and ``fret`` are 0 where no fingering is known. ``channel`` is the one a note was
    played on: a pickup has a channel for each string, and a bend is of one channel alone.
    """

    notes: NDArray[np.void]
    bends: tuple[NDArray[np.float64], ...]
    brief: Brief

    def __len__(self) -> int:
        return len(self.notes)

    def chosen(self, rows: ArrayLike) -> "Line":
        """Only the notes in ``rows`` (indices or a mask), in their order."""
        kept = np.arange(len(self.notes))[np.asarray(rows)]
        return replace(self, notes=self.notes[kept], bends=tuple(self.bends[row] for row in kept.tolist()))

    def with_pitches(self, pitches: ArrayLike) -> "Line":
        """Other pitches. All notes stay on the strings they are known to be on, if each has its
        pitch there within ``SAME_STRING`` frets; otherwise strings are no longer known. Notes out
        of MIDI's range are left out.
        """
        notes = self.notes.copy()
        wanted = np.asarray(pitches, np.int64)
        if not self._stays(wanted):
            notes["string"] = 0
        notes["fret"] = 0
        notes["pitch"] = np.clip(wanted, 0, 127)
        return replace(self, notes=notes).chosen((wanted >= 0) & (wanted <= 127))

    def _stays(self, pitches: NDArray[np.int64]) -> bool:
        """Whether a hand would play other pitches on the strings of the old ones."""
        tuning, strings = self.brief.tuning, self.notes["string"].astype(np.int64)
        known = (strings > 0) & (strings <= len(tuning.strings))
        frets = (pitches - np.array((0, *tuning.strings))[np.where(known, strings, 0)])[known]
        moved = np.abs(pitches - self.notes["pitch"])[known]
        return bool(((frets >= 0) & (frets <= tuning.frets) & (moved <= SAME_STRING)).all())

    def off_neck(self) -> int:
        """How many notes the tuning of the brief has no place for."""
        tuning, pitches = self.brief.tuning, self.notes["pitch"].astype(np.int64)
        frets = pitches[:, None] - np.array(tuning.strings)
        return int((~((frets >= 0) & (frets <= tuning.frets)).any(1)).sum())

    def with_onsets(self, onset_q: ArrayLike) -> "Line":
        """Other places; in order of onset again."""
        notes = self.notes.copy()
        notes["onset_q"] = onset_q
        line = replace(self, notes=notes)
        return line.chosen(np.lexsort((notes["pitch"], notes["onset_q"])))


@dataclass(frozen=True)
class Varied:
    """What came of it: the riff, a second voice beside it or None, and a sentence."""

    riff: Line
    layer: Line | None
    says: str
    #: What the second voice is played on, as General MIDI counts from 1; None: what the riff is.
    program: int | None = None


def line_of(rows: list[tuple[float, float, int, int]], brief: Brief) -> Line:
    """A line of (onset_q, duration_q, pitch, velocity), unbent, in order of onset."""
    notes = np.zeros(len(rows), LINE_DTYPE)
    for index, row in enumerate(sorted(rows, key=lambda one: (one[0], one[2]))):
        notes[index] = (*row, 0, 0, 0)
    return Line(notes, tuple(np.zeros((1, 2)) for _ in rows), brief)


def weights(line: Line) -> NDArray[np.int64]:
    """How strong each note's place is, from 5 (start of a bar) to 0; shape (n,).

    5 start of a bar, 4 of a group, 3 a unit of the meter, 2 half of a unit, 1 a quarter of it, 0
    anything else (common practice, no source).
    """
    cycle = line.brief.cycle
    found = locate(line.notes["onset_q"], line.brief.slots)
    used, slot = np.unique(found.slot, return_inverse=True)
    strong = [strength(cycle, line.brief.slots.written[one]) for one in used.tolist()]
    return np.array(strong, np.int64)[slot]


def strength(cycle: Any, place: Any) -> int:
    """The strength of a written place in the cycle, 5 to 0."""
    if place in cycle.bar_starts:
        return 5
    group = max((one for one in cycle.groups if one.start <= place), key=lambda one: one.start)
    if place == group.start:
        return 4
    parts = (place - group.start) / group.unit
    return {1: 3, 2: 2, 4: 1}.get(parts.denominator, 0)
