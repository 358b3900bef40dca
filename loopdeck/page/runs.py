"""Runs that technique reads as a slide and that paper must not: a chromatic run in which every note
lasts as long as the grid writes it is a run of notes, however fast it is.

Rule
    The notes a slide passes over are written out again where each of them lasts a whole number of
    grid steps, to a tenth of one, or where so many lie between their beginnings (common practice,
    no source): a hand that slides does not wait for the grid at every fret. In a file that was
    written and not played every note is written out.
"""

from collections.abc import Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.reading import SLIDE, Written
from loopdeck.page.axis import WrittenAxis

_NEAR = 0.1
_SLID = ("slide-from", "slide-to")


def written_out(
    notes: Sequence[Written], array: NDArray[np.void], axis: WrittenAxis, step: Fraction | None
) -> list[Written]:
    """``notes`` with the runs among them note by note, in order of onset.

    ``array``: the raw notes (NOTE_DTYPE, (n,)) that ``Written.raw`` counts; ``step`` in quarters,
    None: every run is one of notes.
    """
    found: list[Written] = []
    for note in notes:
        slid = note.reached == SLIDE or any(mark in note.marks for mark in _SLID)
        if len(note.raw) > 1 and slid and (step is None or _in_steps(array[note.raw], axis, step)):
            found += [_plain(array, index, note) for index in note.raw]
        else:
            found.append(note)
    return sorted(found, key=lambda note: (note.onset_sec, note.pitch))


def _in_steps(rows: NDArray[np.void], axis: WrittenAxis, step: Fraction) -> bool:
    begins = axis.written_q(rows["onset_sec"])
    lasts = axis.written_q(rows["onset_sec"] + rows["duration_sec"]) - begins
    # The goal may last as long as it likes.
    return any(_whole(passed / float(step)) for passed in (lasts[:-1], np.diff(begins)))


def _whole(steps: NDArray[np.float64]) -> bool:
    return bool(np.all(np.abs(steps - np.round(steps)) <= _NEAR) and np.all(np.round(steps) >= 1))


def _plain(array: NDArray[np.void], index: int, slide: Written) -> Written:
    row = array[index]
    marks = [mark for mark in slide.marks if mark not in _SLID] if index == slide.raw[-1] else []
    onset = float(row["onset_sec"])
    return Written(
        onset,
        onset + float(row["duration_sec"]),
        int(row["pitch"]),
        int(row["string"]) or slide.string,
        int(row["velocity"]),
        marks=marks,
        raw=[index],
        channel=int(row["channel"]),
    )
