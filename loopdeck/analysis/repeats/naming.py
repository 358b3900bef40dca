"""One letter for one riff, as long as playing goes on: which of the stretches that came back are
the same riff.

Conventions
    Times are seconds of any clock that runs on. A stretch reaches from the onset of its first note
    to that of its last. A riff that is found again, perhaps a note longer or shorter, shares most
    of its earlier stretches with what was found before: then it keeps its letter. Half of the
    stretches, each overlapped by half, is our own choice.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from loopdeck.analysis.repeats.live import REMEMBERED_SEC, Recurrence
from loopdeck.analysis.repeats.riffs import name_of

Span = tuple[float, float]
#: The same stretch overlaps by so much, and the same riff has so much of its stretches in common.
_OVERLAP, _COMMON = 0.5, 0.5


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
        kept = [one for one in self.spans.get(best, ()) if not any(_same(one, other) for other in new)]
        self.spans[best] = sorted([*kept, *new])
        self._forget(new[-1][0] - REMEMBERED_SEC)
        return best

    def _forget(self, before_sec: float) -> None:
        for letter, old in list(self.spans.items()):
            self.spans[letter] = [one for one in old if one[1] >= before_sec]
            if not self.spans[letter]:
                del self.spans[letter]


def _same(one: Span, other: Span) -> bool:
    """Two stretches that overlap by at least half of the longer one."""
    shared = min(one[1], other[1]) - max(one[0], other[0])
    return shared >= _OVERLAP * max(one[1] - one[0], other[1] - other[0]) and shared >= 0.0


def _common(new: Sequence[Span], old: Sequence[Span]) -> float:
    """The share of the earlier stretches of a riff (all but the one just played) that were known."""
    earlier = new[:-1]
    return sum(any(_same(one, other) for other in old) for one in earlier) / len(earlier) if earlier else 0.0
