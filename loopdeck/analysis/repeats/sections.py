"""Where a repeated section of written music begins.

Method
    In AA BA BA, as dances and songs go, A BA BA is as good a round of AB as of BA. But A has been
    heard alone before, so what is played twice from there on is BA. Where all of AB has been heard
    before, or a third AB follows, it is AB; and where A is played twice in each round, it is AAB.
"""

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.repeats.occurrences import Occurrences
from loopdeck.analysis.repeats.text import FEWEST_NOTES, Text

#: So many notes may lead from one round to the next; a part that returns has so many of its notes.
_LINK, _ALIKE = 1, 0.9


def behind_its_return(text: Text, found: Occurrences) -> tuple[int, int]:
    """The stretch, or the one a part later that returns as well: where its first part alone is
    played once more after two rounds and was played before them, too."""
    whole = set(found.first[found.alike >= _ALIKE].tolist())
    follows = (np.diff(found.first) - (found.last - found.first + 1)[:-1] <= _LINK) & (np.diff(found.higher) == 0)
    for number in np.flatnonzero(follows).tolist():
        first, again = int(found.first[number]), int(found.first[number + 1])
        part = _goes_on(text, first, 2 * again - first, again - first)
        if part < FEWEST_NOTES or _alike(text, first + part, first, min(part, again - first - part)).mean() >= _ALIKE:
            continue
        if _heard_before(text, first, part, whole):
            return first + part, again + part - 1
    return int(found.first[found.model]), int(found.last[found.model])


def _goes_on(text: Text, first: int, other: int, size: int) -> int:
    """For how many notes of a round of ``size`` notes nearly all are the same from ``first`` and
    from ``other`` on; 0 if less than a figure is left of the round, which then is played again."""
    most = min(size, len(text) - other)
    if most < FEWEST_NOTES:
        return 0
    alike = _alike(text, other, first, most)
    share = np.cumsum(alike) / np.arange(1, most + 1)
    part = int(np.max(np.flatnonzero(alike & (share >= _ALIKE)) + 1, initial=0))
    return part if part <= size - FEWEST_NOTES else 0


def _heard_before(text: Text, first: int, count: int, whole: set[int]) -> bool:
    """True when nearly the same ``count`` notes as from ``first`` on come somewhere before, where
    none of the ``whole`` rounds begins."""
    before = text.pitch[: max(first - count + 1, 0)]
    starts = np.flatnonzero((before == text.pitch[first]) & (text.pitch[1 : len(before) + 1] == text.pitch[first + 1]))
    return any(_alike(text, start, first, count).mean() >= _ALIKE for start in starts.tolist() if start not in whole)


def _alike(text: Text, one: int, two: int, count: int) -> NDArray[np.bool_]:
    """Which of ``count`` notes are the same from two places on; shape (count,)."""
    first, second = slice(one, one + count), slice(two, two + count)
    away = (text.place_q[first] - text.place_q[one]) - (text.place_q[second] - text.place_q[two])
    alike = (text.pitch[first] == text.pitch[second]) & (np.abs(away) <= text.tolerance_q)
    return np.asarray(alike & (text.part[first] == text.part[second]))
