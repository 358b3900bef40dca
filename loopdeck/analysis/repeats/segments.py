"""Stretches that come back: pairs of notes with one translation in time and pitch, joined along the
take."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.repeats.text import Floats, Ints, Text

#: The next matched note is at most so many notes further on.
FURTHEST_NOTES = 5


class Segments(NamedTuple):
    """Each stretch ``first[k]..last[k]`` comes back at ``other_first[k]..other_last[k]`` (note
    numbers, both ends included); ``told`` is what its matched notes tell, in bits."""

    first: Ints
    last: Ints
    other_first: Ints
    other_last: Ints
    told: Floats


def segments(text: Text, height: Ints, one: Ints, two: Ints) -> Segments:
    """The stretches that the matched notes ``one[k]`` and ``two[k]`` make."""
    if not len(one):
        empty = np.zeros(0, np.int64)
        return Segments(empty, empty, empty, empty, np.zeros(0))
    higher = height[two] - height[one]
    later = text.place_q[two] - text.place_q[one]
    order = np.lexsort((later, higher))
    one, two = one[order], two[order]
    band = _numbers((np.diff(higher[order]) != 0) | (np.diff(later[order]) > text.tolerance_q / 2))
    order = np.lexsort((two, one, band))
    one, two, band = one[order], two[order], band[order]
    split = (np.diff(band) != 0) | (np.diff(one) > FURTHEST_NOTES) | (np.abs(np.diff(two)) > FURTHEST_NOTES)
    starts = np.flatnonzero(np.concatenate(([True], split)))
    lasts = np.concatenate((starts[1:], [len(one)])) - 1
    told = np.add.reduceat(np.where(np.diff(one, prepend=-1) != 0, text.bits[one], 0.0), starts)
    return Segments(one[starts], one[lasts], np.minimum.reduceat(two, starts), np.maximum.reduceat(two, starts), told)


def one_time_round(found: Segments) -> Segments:
    """A stretch that runs into its own return goes round and round: in its place, one time round
    and the next."""
    round_ = (found.other_first <= found.last) & (found.other_first > found.first)
    period = found.other_first - found.first
    length = np.maximum(found.last - found.first + 1, 1)
    return Segments(
        first=found.first,
        last=np.where(round_, found.other_first - 1, found.last),
        other_first=found.other_first,
        other_last=np.where(round_, found.other_first + period - 1, found.other_last),
        told=np.where(round_, found.told * np.maximum(period / length, 0.0), found.told),
    )


def _numbers(split: NDArray[np.bool_]) -> Ints:
    """The number of the run that each of k elements belongs to; ``split``, shape (k - 1,), tells
    where a new one begins."""
    return np.concatenate(([0], np.cumsum(split))).astype(np.int64)
