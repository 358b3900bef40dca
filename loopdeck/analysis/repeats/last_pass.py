"""Where a riff of the last pass could be, for the search after every pass.

Method
    The bars of the pass first, each kind once, and all of them as one stretch. One that goes round
    from bar line to bar line is the riff; so are two or four times as many bars, if those do. Else
    the figures of the pass are looked up as well, and what they make joins the bars.
"""

from itertools import pairwise

import numpy as np

from loopdeck.analysis.repeats.grammar import MOST_NOTES, Chooser, Pattern, ends_of
from loopdeck.analysis.repeats.segments import segments
from loopdeck.analysis.repeats.text import FEWEST_NOTES

#: So many bars of the pass are looked at, and so many of the stretches that its figures make.
_MOST_LIVE = 6
#: A round that is longer than the last pass has two or four times its bars; while little of it has
#: come all else is weighed against it.
_LONGER_ROUNDS, _LEAST_LONGER = 2, 8


def best_since(chooser: Chooser, first: int) -> Pattern | None:
    """The stretch among the notes from ``first`` on that saves most, if it has come before and
    is worth a name."""
    bars = _bars_since(chooser, first)
    # What goes round from bar line to bar line is found; another search would find its turns.
    settled = [one for one in bars if chooser.is_settled(*one)] or _longer_round(chooser, bars)
    candidates = settled or [*bars, *_coming_back(chooser, first)]
    return chooser.best_of(candidates)


def _bars_since(chooser: Chooser, first: int) -> list[tuple[int, int]]:
    """The bars from the note ``first`` on, each kind once, and all of them as one stretch; as
    far as the work allowed for goes."""
    if chooser.text.lines is None:
        return []
    begins = (np.flatnonzero(chooser.text.lines.begins[first:]) + first).tolist()
    bars: list[tuple[int, int]] = []
    told: set[tuple[int, int]] = set()
    every, whole = [(begin, end - 1) for begin, end in pairwise(begins)], (begins[0], begins[-1] - 1)
    for one in [*every[:_MOST_LIVE], whole]:
        size = one[1] - one[0] + 1
        # A pass of one bar over and over is that bar.
        said = one in told or (one == whole and len(bars) == 1 and told.issuperset(every))
        if FEWEST_NOTES <= size <= MOST_NOTES and not said and not chooser.is_tired():
            found = chooser.search(*one)
            told.update(ends_of(found, found.alike >= 1.0))
            bars.append(one)
    return bars


def _longer_round(chooser: Chooser, bars: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """The last of these stretches with as many bars before it, or three times as many, where
    that goes round; else none."""
    if chooser.text.lines is None or not bars:
        return []
    first, last = bars[-1]
    begins = np.flatnonzero(chooser.text.lines.begins)
    for _ in range(_LONGER_ROUNDS):
        low, high = np.searchsorted(begins, (first, last + 1)).tolist()
        if 2 * low < high or len(chooser.search(first, last)) < _LEAST_LONGER or chooser.is_tired():
            return []
        first = int(begins[2 * low - high])
        if last - first < MOST_NOTES and chooser.is_settled(first, last):
            return [(first, last)] if len(chooser.search(first, last)) >= _LEAST_LONGER else []
    return []


def _coming_back(chooser: Chooser, first: int) -> list[tuple[int, int]]:
    """Stretches among the notes from ``first`` on that have come before; those that tell most
    first."""
    one, two = chooser.searchers[0].pairs_from(first)
    found = segments(chooser.text, chooser.searchers[0].height, one, two)
    good = np.flatnonzero((found.told >= chooser.pointer) & (found.last - found.first < MOST_NOTES))
    best = good[np.argsort(-found.told[good], kind="stable")]
    return list(dict.fromkeys(zip(found.first[best].tolist(), found.last[best].tolist(), strict=True)))[:_MOST_LIVE]
