"""One letter for one riff, as long as playing goes on: which of the stretches that came back are
the same riff.

Conventions
    Times are seconds of any clock that runs on. A stretch reaches from the onset of its first note
    to that of its last. A riff that is found again, perhaps a note longer or shorter, shares most
    of its earlier stretches with what was found before: then it keeps its letter. Half of the
    stretches, each overlapped by half, is our own choice. One that goes round and is found entered
    at another note overlaps two of the earlier ones, of its own length, by half together.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.repeats.live import REMEMBERED_SEC, Recurrence
from loopdeck.analysis.repeats.riffs import name_of

Span = tuple[float, float]
#: The same stretch overlaps by so much, and the same riff has so much of its stretches in common.
_OVERLAP, _COMMON = 0.5, 0.5
#: Two are of one length when the shorter one has such a share of the longer one.
_ONE_LENGTH = 0.7


@dataclass
class RiffNames:
    """The riffs so far, by their letters in the order in which they were found."""

    spans: dict[str, list[Span]] = field(default_factory=dict)
    _count: int = 0

    def name(self, riff: Recurrence) -> str:
        """The letter of a riff: the one it had, or the next that is free."""
        new = list(zip(riff.starts_sec, riff.lasts_sec, strict=True))
        common = {letter: _common(new, old) for letter, old in self.spans.items()}
        best = max(common, key=lambda letter: common[letter], default="")
        if not best or common[best] < _COMMON:
            best, self._count = name_of(self._count), self._count + 1
        old = self.spans.get(best, [])
        kept = [one for one, known in zip(old, _known(old, new).tolist(), strict=True) if not known]
        self.spans[best] = sorted([*kept, *new])
        self._forget(new[-1][0] - REMEMBERED_SEC)
        return best

    def _forget(self, before_sec: float) -> None:
        for letter, old in list(self.spans.items()):
            self.spans[letter] = [one for one in old if one[1] >= before_sec]
            if not self.spans[letter]:
                del self.spans[letter]


def _known(spans: Sequence[Span], others: Sequence[Span]) -> NDArray[np.bool_]:
    """Which of the spans are one of the others: the two overlap by at least half of the longer
    one; or several of its own length do together.
    """
    known, together = np.zeros(len(spans), bool), np.zeros(len(spans))
    if not spans or not others:
        return known
    first, last = np.array(spans, float).T
    start, end = np.array(sorted(others), float).T
    # Those that may overlap begin no earlier than the longest of them reaches back.
    at = np.searchsorted(start, first - float((end - start).max()), side="left")
    stop = np.searchsorted(start, last, side="right")
    for step in range(int((stop - at).max())):
        other = np.minimum(at + step, len(start) - 1)
        shared = np.minimum(last, end[other]) - np.maximum(first, start[other])
        sizes = last - first, end[other] - start[other]
        longer, there = np.maximum(*sizes), (at + step < stop) & (shared >= 0.0)
        known |= there & (shared >= _OVERLAP * longer)
        together += np.where(there & (np.minimum(*sizes) >= _ONE_LENGTH * longer), shared, 0.0)
    found: NDArray[np.bool_] = known | ((together > 0.0) & (together >= _OVERLAP * (last - first)))
    return found


def _common(new: Sequence[Span], old: Sequence[Span]) -> float:
    """The share of the earlier stretches of a riff (all but the one just played) that were
    known.
    """
    earlier = new[:-1]
    return float(_known(earlier, old).mean()) if earlier else 0.0
