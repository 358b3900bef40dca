"""The riffs of which longer ones are made: two that take turns, or one that a longer stretch holds.

Method
    The choice by description length names AABB AABB as one stretch, since everything in it is then
    told. Who plays it names A and B. So where a stretch goes round, each part of it from a bar line
    to a bar line is held against the take: one that comes at two places of the round at least is a
    riff of its own, if it would be worth a name beside noodling. And where one half of a stretch of
    two parts also comes alone, the other half has a name as well. A stretch whose halves never come
    apart stays one: two riffs that always follow each other cannot be told from one long one.

    Written music has sections and themes, and dozens of turns of four notes inside of them that
    nobody would name: listed is what tells something beside the longest section, and is not a small
    part of another stretch. The longer the sections, the longer a figure inside of them must be;
    one that stands for itself is listed, however short.
"""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.repeats.occurrences import Occurrences
from loopdeck.analysis.repeats.text import FEWEST_NOTES, Floats, Text

#: A part comes so often in each round at least, and its returns are so much alike.
_TWICE, _ALIKE = 1.5, 0.9
#: Halves of a stretch: the longer one has at most so many times the notes of the other.
_HALF = 3.0
#: So many bars of a stretch are looked at, and parts of so many bars.
_MOST_BARS, _LONGEST_PART = 16, 8
#: The riff comes alone so often at least.
_ALONE = 2

#: Of written music: a stretch saves such a share of what the longest one tells; it does not stand
#: mostly (so much of its returns) inside one that it is a small part of. Set on 16 movements of
#: string quartets in music21's corpus, half of those at hand, and on ``form_grammar`` with seeds 0
#: to 24.
_BESIDE_LONGEST, _MOSTLY, _SMALL = 0.1, 0.7, 0.15
#: In a piece made of sections, what mostly stands inside of longer stretches saves this share of
#: what the longest one tells. Set on 13 dances and movements of music21's corpus, half of those at
#: hand.
_BESIDE_INSIDE = 0.25
#: What has fewer notes than this share of the longest one, and than so many, is listed unless this
#: share of its returns lies inside of longer ones. Set on 12 dances and movements of music21's
#: corpus, half of those at hand, with sections, themes and motifs as the truth.
_BRIEF, _BRIEF_NOTES, _HELD = 0.1, 12, 0.5

Search = Callable[[int, int], Occurrences]
Ends = tuple[int, int]


def of_a_round(text: Text, whole: Occurrences, search: Search) -> list[Occurrences]:
    """Parts of a stretch that goes round which come more often than it does, shortest first."""
    begins = _bars(text, whole)
    result = []
    for bars in range(1, min(len(begins) // 2, _LONGEST_PART) + 1):
        for start in range(len(begins) - bars):
            first, last = begins[start], begins[start + bars] - 1
            if last - first + 1 >= FEWEST_NOTES and _figure(text, first, last):
                found = search(first, last)
                rounds = int(_inside(found, whole).sum())
                if rounds >= _TWICE * len(whole) and np.median(found.alike) >= _ALIKE:
                    result.append(found)
    return result


def other_halves(text: Text, whole: Occurrences, named: Sequence[Occurrences], search: Search) -> list[Occurrences]:
    """What a stretch has beside a riff that also comes without it."""
    begins = _bars(text, whole)
    if len(begins) < 3:
        return []
    first, last = begins[0], begins[-1] - 1
    result = []
    for part in named:
        inside = _inside(part, whole)
        if part is whole or (~inside).sum() < _ALONE or inside.sum() < _ALONE:
            continue
        for start, stop in zip(part.first.tolist(), part.last.tolist(), strict=True):
            rest = (stop + 1, last) if start == first else (first, start - 1) if stop == last else None
            if rest is None or rest[0] not in begins or rest[1] + 1 not in begins:
                continue
            if any(((one.first >= rest[0]) & (one.last <= rest[1])).any() for one in named):
                continue  # It has names already.
            sizes = rest[1] - rest[0] + 1, stop - start + 1
            if min(sizes) >= FEWEST_NOTES and max(sizes) <= _HALF * min(sizes):
                result.append(search(*rest))
    return result


def worth_listing(found: Sequence[Occurrences], saved: Sequence[float], bits: Floats) -> list[int]:
    """The numbers of the stretches of written music that are worth a name; ``saved``: what each
    saves in bits, ``bits``: what each note tells, shape (n,)."""
    told, size = _told(found, bits), _sizes(found)
    least = _BESIDE_LONGEST * max(told, default=0.0)
    result = []
    for number, one in enumerate(found):
        within = (
            size[number] < _SMALL * size[other] and _inside(one, found[other]).mean() >= _MOSTLY
            for other in range(len(found))
        )
        if saved[number] >= least and not any(within):
            result.append(number)
    return _without_brief(found, size, result)


def beside_sections(found: Sequence[Occurrences], saved: Sequence[float], bits: Floats) -> list[int]:
    """The numbers of the stretches that are worth a name in a piece made of sections: all but those
    inside of longer ones that save little."""
    told, size = _told(found, bits), _sizes(found)
    least = _BESIDE_INSIDE * max(told, default=0.0)

    def is_inside(number: int) -> bool:
        longer = [other for other, notes in zip(found, size, strict=True) if notes > size[number]]
        return _held(found[number], longer) >= _MOSTLY

    return [number for number in range(len(found)) if saved[number] >= least or not is_inside(number)]


def _told(found: Sequence[Occurrences], bits: Floats) -> list[float]:
    return [float(bits[one.first[one.model] : one.last[one.model] + 1].sum()) for one in found]


def _sizes(found: Sequence[Occurrences]) -> list[float]:
    return [float(np.median(one.last - one.first + 1)) for one in found]


def _without_brief(found: Sequence[Occurrences], size: Sequence[float], listed: Sequence[int]) -> list[int]:
    """The listed stretches but for brief figures that mostly stand inside of the others."""
    least = min(_BRIEF_NOTES, _BRIEF * max((size[number] for number in listed), default=0.0))
    longer = [found[number] for number in listed if size[number] >= least]
    return [number for number in listed if size[number] >= least or _held(found[number], longer) < _HELD]


def _held(found: Occurrences, longer: Sequence[Occurrences]) -> float:
    """The share of its occurrences that lie inside of any of the longer stretches."""
    return float(np.any([_inside(found, other) for other in longer], axis=0).mean()) if longer else 0.0


def is_held(found: Occurrences, named: Occurrences) -> bool:
    """True when a stretch only ever comes inside of a named one, and hardly more often."""
    return len(found) < _TWICE * len(named) and bool(_inside(found, named).all())


def _bars(text: Text, whole: Occurrences) -> list[int]:
    """The notes of a stretch on which bars begin, and the one after its last; none where it does
    not go from a bar line to a bar line.
    """
    first, last = int(whole.first[whole.model]), int(whole.last[whole.model])
    if text.lines is None or not (text.lines.begins[first] and text.lines.begins[last + 1]):
        return []
    begins = (np.flatnonzero(text.lines.begins[first : last + 2]) + first).tolist()
    return begins if len(begins) <= _MOST_BARS + 1 else []


def _inside(found: Occurrences, whole: Occurrences) -> NDArray[np.bool_]:
    """Which occurrences lie inside one of the whole."""
    at = np.searchsorted(whole.first, found.first, side="right") - 1
    return np.asarray((at >= 0) & (whole.last[np.maximum(at, 0)] >= found.last))


def _figure(text: Text, first: int, last: int) -> bool:
    return int(np.ptp(text.pitch[first : last + 1])) > 0
