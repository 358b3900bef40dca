"""What the performances of a riff agree on: its notes, and which note of each performance is which.

Method
    Every performance is laid over the one the riff was found by, at the shift in time at which most
    notes meet. A note that most of the others have and that one has not (it was left out there, or
    changed) is added, and all are laid over that shape again; a note that fewer than half have is
    no part of the riff.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.repeats.occurrences import Occurrences
from loopdeck.analysis.repeats.text import Floats, Ints, Text

#: A note is part of the riff when it stands in this share of the occurrences.
_CONSENSUS = 0.5
#: Hands drift over a riff: its outer notes may be so many tolerances off.
_DRIFTED = 1.5


@dataclass(frozen=True)
class Shape:
    """n notes in order of place, then pitch: quarters, semitones, steps of the scale."""

    place_q: Floats
    pitch: Ints
    step: Ints

    def __len__(self) -> int:
        return len(self.pitch)


@dataclass(frozen=True)
class Consensus:
    """The n notes on which m occurrences agree. ``at_q``, ``length_q``, ``pitch`` (as the model has
    it): shape (n,); ``off_q``: how far off each note is, (m, n), nan where it is missing;
    ``alike``: (m,), 0 to 1."""

    at_q: Floats
    length_q: Floats
    pitch: Ints
    off_q: Floats
    alike: Floats


def consensus_of(text: Text, found: Occurrences) -> Consensus:
    """The notes on which the occurrences of a stretch agree."""
    model = np.arange(found.first[found.model], found.last[found.model] + 1)
    shape = Shape(text.place_q[model], text.pitch[model], text.step[model])
    match, shift = _laid_over(text, shape, found)
    fuller = _with_missing(text, shape, match, shift, found)
    if len(fuller) > len(shape):
        shape = fuller
        match, shift = _laid_over(text, shape, found)
    there = match >= 0
    kept = there.mean(axis=0) >= _CONSENSUS
    offsets = np.where(there, text.place_q[np.maximum(match, 0)] - shift[:, None], np.nan)[:, kept]
    at_q = np.nanmedian(offsets, axis=0)
    alike = there[:, kept].sum(axis=1) / np.maximum(found.last - found.first + 1, kept.sum())
    return Consensus(at_q, _lengths_q(text, match[:, kept]), shape.pitch[kept], offsets - at_q, alike)


def _laid_over(text: Text, shape: Shape, found: Occurrences) -> tuple[Ints, Floats]:
    """The number of each note of the shape in each occurrence, (m, n), -1 where it is missing; and
    the shifts in quarters, (m,)."""
    rows = [
        _matched(text, shape, int(first), int(last), int(higher))
        for first, last, higher in zip(found.first, found.last, found.higher, strict=True)
    ]
    return np.stack([row for row, _ in rows]), np.array([moved for _, moved in rows])


def _with_missing(text: Text, shape: Shape, match: Ints, shift: Floats, found: Occurrences) -> Shape:
    """The shape with the notes that most occurrences have and it has not."""
    number, which = _unmatched(match, found)
    if not len(number):
        return shape
    higher = found.higher[which]
    place, pitch = text.place_q[number] - shift[which], text.pitch[number] - higher
    order = np.lexsort((place, pitch))
    place, pitch, higher = place[order], pitch[order], higher[order]
    number, which = number[order], which[order]
    begins = np.concatenate(([True], (np.diff(pitch) != 0) | (np.diff(place) > text.tolerance_q / 2)))
    starts = np.flatnonzero(begins)
    cluster = np.cumsum(begins) - 1
    once = np.unique(cluster * np.int64(len(found)) + which) // len(found)
    many = np.flatnonzero(np.bincount(once, minlength=len(starts)) > _CONSENSUS * len(found))
    new = [np.flatnonzero(cluster == one) for one in many.tolist()]
    places = np.array([*shape.place_q, *(float(np.median(place[rows])) for rows in new)])
    pitches = np.array([*shape.pitch, *(int(pitch[rows[0]]) for rows in new)], np.int64)
    # Its step is that of a note played at the riff's own height, where there is one.
    own = [rows[int(np.argmin(np.abs(higher[rows])))] for rows in new]
    steps = np.array([*shape.step, *(text.step[number[row]] - round(higher[row] * 7 / 12) for row in own)], np.int64)
    order = np.lexsort((pitches, places))
    return Shape(places[order], pitches[order], steps[order])


def _unmatched(match: Ints, found: Occurrences) -> tuple[Ints, Ints]:
    """The notes of occurrences that the shape lacks, and whose they are; shape (k,)."""
    notes, whose = [], []
    for which, (first, last) in enumerate(zip(found.first, found.last, strict=True)):
        alone = np.setdiff1d(np.arange(first, last + 1), match[which])
        notes.append(alone)
        whose.append(np.full(len(alone), which, np.int64))
    return np.concatenate(notes), np.concatenate(whose)


def _matched(text: Text, shape: Shape, first: int, last: int, higher: int) -> tuple[Ints, float]:
    """For each note of the shape its number in the occurrence ``first..last`` (-1: not there), and
    the shift between them in quarters."""
    there = np.arange(first, last + 1)
    best = _at_one_shift(text, (text.pitch, shape.pitch), shape.place_q, there, higher)
    if (best[0] >= 0).mean() < 1.0:
        # What moved inside of its scale has its steps moved alike.
        steps = np.median(text.step[there]) - np.median(shape.step)
        for up in {int(np.floor(steps)), int(np.ceil(steps))} if higher else set():
            other = _at_one_shift(text, (text.step, shape.step), shape.place_q, there, up)
            if (other[0] >= 0).sum() > (best[0] >= 0).sum():
                best = other
    return best


def _at_one_shift(
    text: Text, heights: tuple[Ints, Ints], place_q: Floats, there: Ints, higher: int
) -> tuple[Ints, float]:
    """``heights``: of all notes, and of the shape at ``place_q``."""
    one, two = np.nonzero(heights[1][:, None] + higher == heights[0][there][None, :])
    row = np.full(len(place_q), -1, np.int64)
    if not len(one):
        return row, float(text.place_q[there[0]] - place_q[0])
    later = text.place_q[there[two]] - place_q[one]
    order = np.sort(later)
    many = np.searchsorted(order, order + text.tolerance_q, side="right") - np.arange(len(order))
    start = order[int(np.argmax(many))]
    near: NDArray[np.bool_] = (later >= start) & (later <= start + text.tolerance_q)
    shift = float(np.median(later[near]))
    distance = np.abs(later - shift)
    reach = text.tolerance_q * (1.0 if text.exact else _DRIFTED)
    within = np.flatnonzero(distance <= reach)
    row[one[within]] = there[two[within]]
    if len(set(one[within].tolist())) == len(set(two[within].tolist())) == len(within):
        return row, shift
    # Where a note could be one or another, the nearest are taken first.
    row[:] = -1
    for pair in within[np.argsort(distance[within], kind="stable")].tolist():
        if row[one[pair]] < 0 and there[two[pair]] not in row:
            row[one[pair]] = there[two[pair]]
    return row, shift


def _lengths_q(text: Text, match: Ints) -> Floats:
    numbers = np.maximum(match, 0)
    # In the take's own proportion of quarters to seconds, which holds over a riff.
    seconds = text.end_sec[numbers] - text.onset_sec[numbers]
    return np.asarray(np.nanmedian(np.where(match >= 0, seconds * text.quarters_per_sec, np.nan), axis=0))
