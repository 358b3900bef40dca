"""Which stretches are the same riff: found among many as one by one."""

import random

import pytest

from loopdeck.analysis.repeats.live import Recurrence
from loopdeck.analysis.repeats.naming import RiffNames, Span, _known


def same(one: Span, other: Span) -> bool:
    """The rule itself: an overlap of at least half of the longer one."""
    return shared(one, other) >= 0.5 * max(one[1] - one[0], other[1] - other[0])


def shared(one: Span, other: Span) -> float:
    both = min(one[1], other[1]) - max(one[0], other[0])
    return both if both >= 0.0 else -1.0


def together(one: Span, others: list[Span]) -> bool:
    """The rule for a riff entered at another note: those of its length share half of it."""
    size = one[1] - one[0]
    alike = [other for other in others if min(size, other[1] - other[0]) >= 0.7 * max(size, other[1] - other[0])]
    most = sum(max(shared(one, other), 0.0) for other in alike)
    return most > 0.0 and most >= 0.5 * size


def spans(rng: random.Random, count: int) -> list[Span]:
    """Of all lengths, some of none, in any order, many of them beginning together."""
    starts = [rng.choice((rng.uniform(0, 60), rng.randrange(60))) for _ in range(count)]
    return [(start, start + rng.choice((0.0, rng.uniform(0, 1), rng.uniform(0, 20)))) for start in starts]


@pytest.mark.parametrize("seed", range(20))
def test_those_known_are_those_that_share_half(seed: int) -> None:
    rng = random.Random(seed)
    some, others = spans(rng, rng.randrange(1, 40)), spans(rng, rng.randrange(1, 40))
    rule = [any(same(one, other) for other in others) or together(one, others) for one in some]
    assert _known(some, others).tolist() == rule
    assert not _known(some, []).any() and len(_known([], others)) == 0


def test_a_loop_entered_at_another_note_keeps_its_letter() -> None:
    names = RiffNames()
    letters = [names.name(riff([start, start + 8.0, start + 16.0], 7.0)) for start in (0.0, 4.0, 8.0, 12.0)]
    assert letters == ["A"] * 4
    assert names.name(riff([0.0, 3.0, 6.0], 1.0)) == "B"


def riff(starts: list[float], length: float) -> Recurrence:
    return Recurrence(tuple(starts), tuple(start + length for start in starts), (1.0,) * len(starts), 50.0)
