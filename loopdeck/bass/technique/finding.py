"""The whole way: clean raw notes in, written notes with their techniques out."""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.bent import Lived, SteadyPart, add_sway, stepped
from loopdeck.bass.technique.curve import (
    Samples,
    levels_of,
    middle,
    offset_of,
    own_bends,
    sampled,
    still_of,
    tuned,
)
from loopdeck.bass.technique.joined import follows, joined
from loopdeck.bass.technique.level import mark_levels
from loopdeck.bass.technique.moves import moves_of
from loopdeck.bass.technique.reading import PLUCK, Written, lanes
from loopdeck.bass.technique.sway import sways_of
from loopdeck.bass.technique.trills import trilled

#: A note that lasts so long that no more than this is left to the next one was held to it.
HELD_SEC = 0.03

Bends = tuple[NDArray[np.float64], ...]


def technique(notes: NDArray[np.void], bends: Bends, fretless: bool = False) -> list[Written]:
    """The written notes of ``notes`` (NOTE_DTYPE, (n,), in order of onset) and their bend curves,
    in order of onset.

    ``fretless``: without frets a slide is a glide, and no string is bent.
    """
    found: list[Written] = []
    for rows in _read(notes, own_bends(notes, bends), lanes(notes), fretless):
        # What one raw note was read as keeps its reading; the rest is looked at side by side.
        string = trilled(joined(rows, plucked_levels(rows)))
        for note, following in pairwise(string):
            note.held = following.onset_sec - note.end_sec <= HELD_SEC
        found += string
    found.sort(key=lambda note: (note.onset_sec, note.pitch))
    mark_levels(found)
    return found


def _read(notes: NDArray[np.void], bends: Bends, strings: list[list[int]], fretless: bool) -> list[list[Written]]:
    """The written notes of each string, as the bend of each raw note tells them: all of them at
    once, string after string.
    """
    order = [index for string in strings for index in string]
    own, chosen = [bends[index] for index in order], notes[order]
    lasts = chosen["duration_sec"].tolist()
    samples = sampled(own, lasts)
    offset = _offsets(samples, own, lasts, [len(string) for string in strings])
    samples = tuned(samples, offset)
    moves = moves_of(samples, own, offset, fretless)
    raw = [
        Written(onset, onset + length, pitch, string, velocity, raw=[index])
        for index, (onset, length, pitch, velocity, _, string) in zip(order, chosen.tolist(), strict=True)
    ]
    still = still_of(samples).tolist()
    rests = np.rint((samples.lowest + samples.highest) / 2).astype(int).tolist()
    steps: list[list[Written]] = []
    steady: list[tuple[Written, int, SteadyPart]] = []
    begin = samples.first.tolist()
    for row, note in enumerate(raw):
        if still[row]:
            note.pitch += rests[row]
            steps.append([note])
            continue
        levels = samples.semitones[begin[row] : min(begin[row] + 16, begin[row + 1])].tolist()
        lived = Lived(note, levels, moves.get(row, []), begin[row + 1] - begin[row])
        made, stretches = stepped(lived, fretless)
        steps.append(made)
        steady += [(note, begin[row], stretch) for note, stretch in zip(made, stretches, strict=True)]
    _sway(samples, steady)
    found, at = [], 0
    for string in strings:
        found.append([note for made in steps[at : at + len(string)] for note in made])
        at += len(string)
    return found


def _offsets(
    samples: Samples, bends: list[NDArray[np.float64]], durations: list[float], counts: list[int]
) -> NDArray[np.float64]:
    """How far the string of each note is out of tune, shape (n,); ``counts`` notes a string."""
    levels = levels_of(samples, bends, durations)
    ends = np.cumsum(counts)
    each = [offset_of(levels[end - count : end]) for count, end in zip(counts, ends, strict=True)]
    return np.repeat(each, counts)


def _sway(samples: Samples, steady: list[tuple[Written, int, SteadyPart]]) -> None:
    """Mark bends and vibrato in the steady stretches of the notes; each note comes with the first
    sample of its raw one.
    """
    if not steady:
        return
    at = np.array([(begin + one.first, begin + one.last, one.frets) for _, begin, one in steady], np.int64)
    above = samples.semitones.copy()
    for first, last, frets in at[at[:, 2] != 0].tolist():
        above[first:last] -= frets
    for (note, _, _), sway in zip(steady, sways_of(above, at[:, 0], at[:, 1]), strict=True):
        add_sway(note, sway)


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
    around_it = velocity[places].tolist()
    # Between the same two of them the level is the same.
    around = np.searchsorted(places, np.arange(len(rows)))
    levels = np.array([middle(around_it[max(at - 6, 0) : at + 6]) for at in range(len(places) + 1)])
    return np.asarray(levels[around])
