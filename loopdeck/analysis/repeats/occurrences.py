"""Where a stretch of the take comes back, exactly or varied.

Method
    The stretch's figures are looked up; those found at one translation (time, height) stand for one
    place. There every note of the stretch is looked for again within the tolerance. A place where
    enough of them are found, and not too many others, is an occurrence.
"""

import bisect
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.repeats.seeds import LASTS, Figures, distances, rows_of
from loopdeck.analysis.repeats.text import Floats, Ints, Text, distinct

#: The least share of notes in common, of those of the longer of the two.
LEAST_ALIKE = 0.7
#: Semitones: a riff moves two octaves at most.
FURTHEST = 24
#: A place is looked at when so many of the figures of an exact return begin there.
_LEAST_BEGUN = 0.3
#: Figures looked up for one stretch, and notes compared at the places found: a take that is one
#: note over and over has millions.
MOST_LOOKED_UP, _MOST_COMPARED = 50_000, 1_000_000
#: Two performances of a riff differ by so much in tempo; at no note by more than a sixteenth.
_DRIFT, _MOST_OFF_Q = 0.015, 0.24


class Hits(NamedTuple):
    """Places that may overlap; arrays of shape (k,): the notes ``first[k]..last[k]``, how many are
    ``matched``, what those have ``told`` (bits), how ``alike`` they are (0 to 1), and how much
    ``higher``. The first one is the stretch itself."""

    first: Ints
    last: Ints
    matched: Ints
    told: Floats
    alike: Floats
    higher: Ints


@dataclass(frozen=True)
class Occurrences:
    """The m occurrences of a stretch in order of place, as in ``Hits``, none overlapping another;
    ``higher`` in semitones. ``model`` is the number of the one that was searched with."""

    first: Ints
    last: Ints
    matched: Ints
    told: Floats
    alike: Floats
    higher: Ints
    model: int

    def __len__(self) -> int:
        return len(self.first)

    def only(self, keep: NDArray[np.bool_]) -> "Occurrences":
        """Those of the mask ``keep``, shape (m,); the model must be among them."""
        return Occurrences(
            first=self.first[keep],
            last=self.last[keep],
            matched=self.matched[keep],
            told=self.told[keep],
            alike=self.alike[keep],
            higher=self.higher[keep],
            model=int(keep[: self.model].sum()),
        )


class Searcher:
    """Finds stretches in one text by one kind of height. ``furthest``: how far up or down one may
    be moved; ``most_looked_up``: the figures looked up for one stretch; ``compared``: how many
    notes have been compared so far."""

    def __init__(
        self, text: Text, height: Ints, index: Figures, furthest: int, most_looked_up: int = MOST_LOOKED_UP
    ) -> None:
        self.text = text
        self.index = index
        self.height = height
        self.furthest = furthest
        self.most_looked_up = most_looked_up
        self.compared = 0
        # Where each figure stands in the index, -1 where there is none, and those like it.
        self._row = rows_of(index, len(text))
        self._low = np.searchsorted(index.value, index.value - text.tolerance_q, side="left")
        self._count = np.searchsorted(index.value, index.value + text.tolerance_q, side="right") - self._low
        self._distance = distances(text, index.notes)
        self._first_height = height[index.notes[:, 0]]
        self._by_height = np.lexsort((text.place_q, height))
        self._room = float(text.place_q[-1] + 100.0) if len(text) else 1.0
        self._line = height[self._by_height] * self._room + text.place_q[self._by_height]

    def search(self, first: int, last: int) -> Hits:
        """All places where enough of the notes ``first..last`` comes back; the first one is the
        stretch itself."""
        higher, later = self._translations(first, last)
        return self._verified(first, last, np.concatenate(([0], higher)), np.concatenate(([0.0], later)))

    def pairs_from(self, first: int) -> tuple[Ints, Ints]:
        """Pairs of notes (i, j) that stand at the same place in two figures of one kind, i from
        ``first`` on and j before; each pair once."""
        one, two = self._alike(first, len(self.text) - 1)
        before = two[:, 3] < first
        count = np.int64(max(len(self.text), 1))
        code = distinct((one[before] * count + two[before]).ravel())
        return code // count, code % count

    def _alike(self, first: int, last: int) -> tuple[Ints, Ints]:
        """Each figure of the notes ``first..last`` beside each figure of the text that is like
        it."""
        stops = [max(last + 1 - most, first) for most in LASTS]
        row = np.concatenate([line[first:stop] for line, stop in zip(self._row, stops, strict=True)])
        row = row[row >= 0]
        row, low, count = _rarest(row, self._low[row], self._count[row], self.most_looked_up)
        mine = np.repeat(row, count)
        theirs = np.arange(len(mine)) - np.repeat(np.cumsum(count) - count - low, count)
        keep = np.abs(self._first_height[theirs] - self._first_height[mine]) <= self.furthest
        keep &= (np.abs(self._distance[mine] - self._distance[theirs]) <= self.text.tolerance_q).all(axis=1)
        return self.index.notes[mine[keep]], self.index.notes[theirs[keep]]

    def _translations(self, first: int, last: int) -> tuple[Ints, Floats]:
        """The translations by which enough of a stretch comes back: up in height, and later in
        quarters."""
        text = self.text
        one, two = self._alike(first, last)
        higher = self.height[two[:, 0]] - self.height[one[:, 0]]
        if not len(higher):
            return higher, np.zeros(0)
        later = (text.place_q[two] - text.place_q[one]).mean(axis=1)
        order = np.lexsort((later, higher))
        higher, later, note = higher[order], later[order], one[order, 0]
        split = (np.diff(higher) != 0) | (np.diff(later) > text.tolerance_q / 2)
        starts = np.flatnonzero(np.concatenate(([True], split)))
        run = np.concatenate(([0], np.cumsum(split)))
        begun = np.bincount(distinct(run * np.int64(len(text)) + note) // len(text), minlength=len(starts))
        enough = begun >= max(1, int(len(distinct(note)) * _LEAST_BEGUN))
        if enough.sum() * (last - first + 1) > _MOST_COMPARED:
            enough &= begun >= np.sort(begun[enough])[-max(_MOST_COMPARED // (last - first + 1), 1)]
        means = np.add.reduceat(later, starts) / np.diff(np.concatenate((starts, [len(later)])))
        return higher[starts][enough], means[enough]

    def _verified(self, first: int, last: int, higher: Ints, later: Floats) -> Hits:
        text = self.text
        stretch = np.arange(first, last + 1)
        width = _widths(text, stretch)
        self.compared += len(later) * len(stretch)
        place = text.place_q[stretch][None, :] + later[:, None]
        wanted = (self.height[stretch][None, :] + higher[:, None]) * self._room + place
        low = np.searchsorted(self._line, wanted - width, side="left")
        hit = np.searchsorted(self._line, wanted + width, side="right") > low
        where = self._by_height[np.minimum(low, len(text) - 1)]
        # A first or last note that is not there as it was may be there changed: the place then
        # reaches as far as it would.
        begin = np.where(hit[:, 0], where[:, 0], np.searchsorted(text.place_q, place[:, 0] - width[0], side="left"))
        end = np.where(
            hit[:, -1], where[:, -1], np.searchsorted(text.place_q, place[:, -1] + width[-1], side="right") - 1
        )
        begin = np.minimum(begin, len(text) - 1)
        size = np.maximum(end - begin + 1, 0)
        matched = np.minimum(hit.sum(axis=1), size)
        alike = matched / np.maximum(size, len(stretch)) * (text.part[begin] == text.part[end])
        told = (hit * text.bits[stretch][None, :]).sum(axis=1)
        good = alike >= LEAST_ALIKE
        good[0] = True
        return Hits(begin[good], end[good], matched[good], told[good], alike[good], higher[good])


def _widths(text: Text, stretch: Ints) -> Floats:
    """How far each note may be off its place: hands also drift, the more the further from the
    middle."""
    place = text.place_q[stretch]
    if text.exact:
        return np.full(len(stretch), text.tolerance_q)
    off: Floats = np.minimum(text.tolerance_q + _DRIFT * np.abs(place - (place[0] + place[-1]) / 2), _MOST_OFF_Q)
    return off


def _rarest(row: Ints, low: Ints, count: Ints, most: int) -> tuple[Ints, Ints, Ints]:
    """The rarest figures of a stretch, as many as can be looked up."""
    if count.sum() <= most:
        return row, low, count
    order = np.argsort(count, kind="stable")
    kept = np.sort(order[: max(int(np.searchsorted(np.cumsum(count[order]), most)), 1)])
    return row[kept], low[kept], count[kept]


def apart(hits: Hits) -> Occurrences:
    """The best of the hits that do not overlap; the stretch itself is always among them."""
    free = _alone(hits)
    order = np.lexsort((hits.first, hits.higher != 0, -hits.alike))
    chosen: list[int] = []
    starts: list[int] = []
    ends: list[int] = []
    for one in [0, *order[(order != 0) & ~free[order]].tolist()]:
        begin, end = int(hits.first[one]), int(hits.last[one])
        at = bisect.bisect_left(starts, begin)
        if (at > 0 and ends[at - 1] >= begin) or (at < len(starts) and starts[at] <= end):
            continue
        starts.insert(at, begin)
        ends.insert(at, end)
        chosen.insert(at, one)
    free[0] = False
    every = np.concatenate((np.array(chosen), np.flatnonzero(free)))
    every = every[np.argsort(hits.first[every], kind="stable")]
    picked = Hits(*(column[every] for column in hits))
    return Occurrences(**picked._asdict(), model=int(np.flatnonzero(every == 0)[0]))


def _alone(hits: Hits) -> NDArray[np.bool_]:
    """Which hits overlap no other."""
    order = np.argsort(hits.first, kind="stable")
    first, last = hits.first[order], np.maximum.accumulate(hits.last[order])
    clear = first[1:] > last[:-1]
    free = np.empty(len(order), bool)
    free[order] = np.concatenate(([True], clear)) & np.concatenate((clear, [True]))
    return free
