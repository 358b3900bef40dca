"""Small figures of four notes that come back, and the index that finds them.

Method
    For each note and each choice of three of the four notes after it, the intervals from the first
    note make a key: four notes of five, so that one note changed, added or left out does not hide a
    figure. Two figures of one key are the same when their places agree as well. This is the seeding
    of sequence search, with gaps in the seeds as Ma, Tromp & Li introduced them ("PatternHunter:
    faster and more sensitive homology search", Bioinformatics 18(3), 2002), over the (time, pitch)
    points of Meredith, Lemström & Wiggins ("Algorithms for discovering repeated patterns in
    multidimensional representations of polyphonic music", Journal of New Music Research 31(4),
    2002): what repeats with one translation in time and pitch belongs together.

Conventions
    ``height`` is what is compared, one integer a note: semitones, or steps of the scale.
"""

from dataclasses import dataclass

import numpy as np

from loopdeck.analysis.repeats.text import Floats, Ints, Text, distinct

#: The notes of a figure, counted from its first one.
CHOICES = ((1, 2, 3), (1, 2, 4), (1, 3, 4), (2, 3, 4))
LASTS = tuple(choice[-1] for choice in CHOICES)
#: Quarters: a figure is no longer than two bars of four.
LONGEST_Q = 8.0
#: Each figure is compared with so many of its kind, those that follow next in the take, and with
#: fewer where there are more figures than an hour of playing has. One that comes more often is
#: found over its neighbours.
PARTNERS, FEWEST_PARTNERS = 12, 2
_COMPARED = 1_200_000
#: Values of two keys lie further apart than any two spans.
_KEY_ROOM = 16.0
_WIDEST, _BASE = 48, 100


@dataclass(frozen=True)
class Figures:
    """All f figures in order of ``value`` (key and span in one number). ``notes``: shape (f, 4),
    the notes each is made of."""

    value: Floats
    notes: Ints


def figures(text: Text, height: Ints) -> Figures:
    """The figures of a text; notes of two parts never make one."""
    notes = _choices(text)
    value = _values(text, height, notes)
    order = np.lexsort((notes[:, 0], value))
    return Figures(value[order], notes[order])


def _choices(text: Text) -> Ints:
    """The notes of all figures, shape (f, 4)."""
    rows = []
    for choice in CHOICES:
        start = np.arange(max(len(text) - choice[-1], 0))
        rows.append(np.stack([start, *(start + step for step in choice)], axis=1))
    notes = np.concatenate(rows)
    span = text.place_q[notes[:, 3]] - text.place_q[notes[:, 0]]
    # Four notes of one chord are not a figure.
    found: Ints = notes[(span > 0.0) & (span <= LONGEST_Q) & (text.part[notes[:, 0]] == text.part[notes[:, 3]])]
    return found


def _values(text: Text, height: Ints, notes: Ints) -> Floats:
    """One number a figure: its intervals, and within equal ones its span in quarters."""
    heights = height[notes]
    steps = np.clip(heights[:, 1:] - heights[:, :1], -_WIDEST, _WIDEST) + _WIDEST + 1
    key = (steps[:, 0] * _BASE + steps[:, 1]) * _BASE + steps[:, 2]
    return np.asarray(key * _KEY_ROOM + (text.place_q[notes[:, 3]] - text.place_q[notes[:, 0]]))


def rows_of(found: Figures, count: int) -> Ints:
    """Where each figure of ``count`` notes stands among those found, shape (choices, count): by its
    choice and its first note; -1 where there is none."""
    rows = np.full((len(CHOICES), count), -1, np.int64)
    # The choices differ in the sum of their steps.
    steps = (found.notes[:, 1:] - found.notes[:, :1]).sum(axis=1)
    choice = np.searchsorted([sum(one) for one in CHOICES], steps)
    rows[choice, found.notes[:, 0]] = np.arange(len(found.notes))
    return rows


def pairs(text: Text, found: Figures) -> tuple[Ints, Ints]:
    """Pairs of notes (i, j), i before j, that stand at the same place in two figures of one kind;
    each pair once."""
    count = np.int64(max(len(text), 1))
    codes = [np.zeros(0, np.int64)]
    partners = int(np.clip(_COMPARED // max(len(found.notes), 1), FEWEST_PARTNERS, PARTNERS))
    away = distances(text, found.notes)
    # Spans that lie on both sides of an edge between two blocks are neighbours in the blocks moved
    # by half.
    for shift in (0.0, 0.5):
        block = np.floor(found.value / text.tolerance_q + shift)
        order = np.lexsort((found.notes[:, 0], block))
        block, notes, distance = block[order], found.notes[order], away[order]
        for step in range(1, partners + 1):
            one = np.flatnonzero(block[:-step] == block[step:])
            keep = (np.abs(distance[one] - distance[one + step]) <= text.tolerance_q).all(axis=1)
            one = one[keep & (notes[one, 0] < notes[one + step, 0])]
            codes.append((notes[one] * count + notes[one + step]).ravel())
    code = distinct(np.concatenate(codes))
    return code // count, code % count


def distances(text: Text, notes: Ints) -> Floats:
    """From the first note of each figure to the others, in quarters; shape (f, 3)."""
    return np.asarray(text.place_q[notes[:, 1:]] - text.place_q[notes[:, :1]])
