"""Marks that come of level and length: accent, ghost, dead, staccato, let ring.

Meanings
    accent: at least ``ACCENT`` times the level around it. ghost: pitched, under ``GHOST`` of the
    usual level. dead: no clear pitch, which a pickup shows as a stroke too short to have one.
    staccato: sounds under ``STACCATO`` of the time to the next onset. let ring: sounds ``RING_SEC``
    or more into later notes.
"""

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.curve import middle
from loopdeck.bass.technique.reading import PLUCK, Written

ACCENT, GHOST, STACCATO, RING_SEC = 1.35, 0.5, 0.45, 0.25
DEAD_SEC = 0.05
#: Shorter than this it is dead however fast notes follow each other; else not if it sounded for
#: this share of the time to the next onset.
SURELY_SEC, FULL = 0.02, 0.6
#: Marks that a stroke without a clear pitch may get.
_NO_FINGER = {"bend", "release"}
#: The level around a note: of so many notes before and after it.
AROUND = 8


def usual_levels(velocity: NDArray[np.int64]) -> NDArray[np.float64]:
    """The middle level of the notes around each one, itself left out, shape (n,)."""
    count = len(velocity)
    if count < 2:
        return velocity.astype(float)
    levels, each = np.empty(count), velocity.tolist()
    around = np.arange(2 * AROUND + 1) != AROUND
    inside = range(AROUND, count - AROUND)
    if inside:
        windows = np.lib.stride_tricks.sliding_window_view(velocity, 2 * AROUND + 1)[:, around]
        ordered = np.sort(windows, axis=1)
        levels[inside.start : inside.stop] = (ordered[:, AROUND - 1] + ordered[:, AROUND]) / 2
    for index in [*range(min(AROUND, count)), *range(max(inside.stop, AROUND), count)]:
        low, high = max(index - AROUND, 0), min(index + AROUND + 1, count)
        levels[index] = middle([*each[low:index], *each[index + 1 : high]])
    return levels


def mark_levels(notes: list[Written], late: list[float]) -> None:
    """Add the marks to notes in order of onset, which came ``late`` by so many seconds each."""
    gaps = _gaps(notes)
    plucked = [row for row in zip(notes, gaps, late, strict=True) if row[0].reached == PLUCK]
    levels = usual_levels(np.array([note.velocity for note, _, _ in plucked], np.int64))
    for (note, gap, by), usual in zip(plucked, levels.tolist(), strict=True):
        if _is_dead(note, gap, by):
            note.marks, note.bend_semitones = ["dead"], 0.0
        elif note.velocity < GHOST * usual:
            note.mark("ghost")
        if len(plucked) > 2 and note.velocity >= ACCENT * usual:
            note.mark("accent")
    for note, gap, by in zip(notes, gaps, late, strict=True):
        length = note.end_sec - note.onset_sec
        # Of a short stroke the delay was not put back (``pickup.delay.take_delay_off``).
        sounds = length if length >= DEAD_SEC else length + by / 2
        if sounds < STACCATO * gap < np.inf and not note.held and "dead" not in note.marks:
            note.mark("staccato")
        if length - gap >= RING_SEC:
            note.mark("let-ring")


def _gaps(notes: list[Written]) -> list[float]:
    """Seconds from each onset to the next one, notes that begin together aside; infinite for the
    last.
    """
    gaps: list[float] = []
    for index, note in enumerate(notes):
        later = index + 1
        while later < len(notes) and notes[later].onset_sec <= note.onset_sec + 0.03:
            later += 1
        gaps.append(notes[later].onset_sec - note.onset_sec if later < len(notes) else np.inf)
    return gaps


def _is_dead(note: Written, gap: float, late: float) -> bool:
    length = note.end_sec - note.onset_sec
    if "dead" in note.marks:
        return True
    # What is bent in so short a time was no finger's bend.
    if length >= DEAD_SEC or note.held or note.vibrato is not None or set(note.marks) - _NO_FINGER:
        return False
    # Where notes follow each other fast, what a slow pickup leaves of a full note is as short.
    return length < SURELY_SEC or length + late < FULL * gap
