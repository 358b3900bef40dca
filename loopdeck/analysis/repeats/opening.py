"""The opening phrase of written music that is made of sections.

Method
    Where sections come back whole, nothing but convention sets the theme that opens the first one
    apart from it: dictionaries of themes name openings. So if sections cover nearly all of a single
    written line and one of them begins it, its first phrase is listed beside them, with each place
    where it returns, moved as well. The phrase ends where the local boundary detection model
    (Cambouropoulos, "The Local Boundary Detection Model (LBDM) and its application in the study of
    expressive timing", ICMC 2001) finds the strongest boundary, with a small preference for some
    fourteen notes. What is played by hand has no such level.
"""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.repeats.occurrences import Occurrences
from loopdeck.analysis.repeats.text import Floats, Ints, Text

#: A section has so many notes at least, the one that begins the piece so many; together the
#: listed stretches cover such a share of it, and the piece has so few chords.
_SECTION, _FIRST, _COVERED, _LINE = 20, 24, 0.8, 0.95
#: The first section begins on one of so many notes.
_AT_ONCE = 5
#: A phrase has so many notes, and no more than this share of its section. Preferred are about
#: ``_USUAL``; twice or half as many count as ``_UNUSUAL`` of the strongest boundary less. Set on 13
#: dances and movements of music21's corpus, half of those at hand.
_FEWEST, _MOST, _SHARE = 7, 28, 0.6
_USUAL, _UNUSUAL = 14.0, 0.2
#: It is listed already if a listed stretch shares so much with it.
_SAME = 0.5
#: How much intervals, times between onsets, and rests tell about a boundary, as published.
_WEIGHTS = (0.25, 0.5, 0.25)

Search = Callable[[int, int], Occurrences]


def opening_phrase(text: Text, listed: Sequence[Occurrences], search: Search) -> Occurrences | None:
    """The phrase that opens the first section, where it comes back; None if the text is no single
    line in sections, or if something like that phrase is listed."""
    ends = first_section(text, listed)
    if ends is None:
        return None
    found = search(ends[0], phrase_end(text, *ends))
    is_new = not any(_shares(found, other) for other in listed)
    return found if len(found) > 1 and is_new else None


def first_section(text: Text, listed: Sequence[Occurrences]) -> tuple[int, int] | None:
    """The first and last note of the section that begins the text, if it is made of sections."""
    long = [one for one in listed if one.last[0] - one.first[0] + 1 >= _SECTION]
    if len(long) < 2 or np.mean(np.diff(text.place_q) > 0.0) < _LINE:
        return None
    covered = np.zeros(len(text), bool)
    for one in listed:
        for first, last in zip(one.first.tolist(), one.last.tolist(), strict=True):
            covered[first : last + 1] = True
    first, last = min((int(one.first[0]), int(one.last[0])) for one in listed)
    is_long = last - first + 1 >= _FIRST
    return (first, last) if covered.mean() >= _COVERED and first < _AT_ONCE and is_long else None


def phrase_end(text: Text, first: int, last: int) -> int:
    """The last note of the phrase with which the section ``first..last`` begins."""
    most = min(_MOST, int(_SHARE * (last - first + 1)))
    ends = np.arange(first + _FEWEST - 1, first + most)
    strength = boundaries(text)[ends]
    size = (ends - first + 1) / _USUAL
    return int(ends[np.argmax(strength / max(strength.max(), 1e-9) - _UNUSUAL * np.abs(np.log2(size)))])


def boundaries(text: Text) -> Floats:
    """How much of a boundary follows each note but the last; shape (n - 1,), 0 to 1."""
    between = np.diff(text.place_q)
    lengths = (text.end_sec - text.onset_sec) * text.quarters_per_sec
    rests = np.maximum(between - lengths[:-1], 0.0)
    profiles = (np.abs(np.diff(text.pitch)) + 1.0, between, rests)
    parts = [weight * _profile(one) for weight, one in zip(_WEIGHTS, profiles, strict=True)]
    return np.asarray(np.sum(parts, axis=0))


def _profile(values: Floats) -> Floats:
    """Each value times how much it differs from its neighbours, scaled to 1."""
    change = np.abs(np.diff(values)) / np.maximum(values[1:] + values[:-1], 1e-9)
    sides = np.concatenate(([0.0], change, [0.0]))
    strength = values * (sides[:-1] + sides[1:])
    return np.asarray(strength / max(float(strength.max()), 1e-9))


def _shares(found: Occurrences, other: Occurrences) -> bool:
    """True if a return of the other shares half or more with the stretch itself."""
    first, last = int(found.first[found.model]), int(found.last[found.model])
    common: Ints = np.minimum(other.last, last) - np.maximum(other.first, first) + 1
    longer: Ints = np.maximum(other.last - other.first, last - first) + 1
    alike: NDArray[np.bool_] = common >= _SAME * longer
    return bool(alike.any())
