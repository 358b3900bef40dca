"""The whole way: clean raw notes in, written notes with their techniques out."""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.bent import written_of
from loopdeck.bass.technique.curve import curve_of, middle, offset_of, own_bends, sampled
from loopdeck.bass.technique.joined import follows, joined
from loopdeck.bass.technique.level import mark_levels
from loopdeck.bass.technique.reading import PLUCK, Written, lanes
from loopdeck.bass.technique.trills import trilled

#: A note that lasts so long that no more than this is left to the next one was held to it.
HELD_SEC = 0.03


def technique(notes: NDArray[np.void], bends: tuple[NDArray[np.float64], ...], fretless: bool = False) -> list[Written]:
    """The written notes of ``notes`` (NOTE_DTYPE, (n,), in order of onset) and their bend curves,
    in order of onset.

    ``fretless``: without frets a slide is a glide, and no string is bent.
    """
    found: list[Written] = []
    bends = own_bends(notes, bends)
    for lane in lanes(notes):
        found += _of_string(notes, bends, lane, fretless)
    found.sort(key=lambda note: (note.onset_sec, note.pitch))
    mark_levels(found)
    return found


def _of_string(
    notes: NDArray[np.void], bends: tuple[NDArray[np.float64], ...], lane: list[int], fretless: bool
) -> list[Written]:
    own = [bends[index] for index in lane]
    columns = {
        name: notes[name][lane].tolist() for name in ("onset_sec", "duration_sec", "pitch", "string", "velocity")
    }
    durations = columns["duration_sec"]
    samples = sampled(own, durations)
    offset = offset_of(samples, own, durations)
    rows: list[Written] = []
    for place, index in enumerate(lane):
        onset = columns["onset_sec"][place]
        rows += written_of(
            index,
            onset,
            onset + durations[place],
            columns["pitch"][place],
            columns["string"][place],
            columns["velocity"][place],
            curve_of(own[place], samples, place, offset, fretless),
        )
    # What one raw note was read as keeps its reading; the rest is looked at side by side.
    found = trilled(joined(rows, plucked_levels(rows)))
    for note, following in pairwise(found):
        note.held = following.onset_sec - note.end_sec <= HELD_SEC
    return found


def plucked_levels(rows: list[Written]) -> NDArray[np.float64]:
    """The level at which notes are plucked around each of ``rows``: of those that begin after a
    gap, which nothing but a pluck can do.
    """
    if not rows:
        return np.zeros(0)
    velocity = np.array([note.velocity for note in rows], float)
    sure = np.array(
        [note.reached == PLUCK and (row == 0 or not follows(note, rows[row - 1])) for row, note in enumerate(rows)]
    )
    places = np.flatnonzero(sure)
    if len(places) < 3:
        return np.full(len(rows), float(np.percentile(velocity, 75)))
    # Between the same two of them the level is the same.
    around = np.searchsorted(places, np.arange(len(rows)))
    levels = np.array([middle(velocity[places[max(at - 6, 0) : at + 6]]) for at in range(len(places) + 1)])
    return np.asarray(levels[around])
