"""Which stretches are the same riff: found among many as one by one."""

import random

import pytest

from loopdeck.analysis.repeats.naming import Span, _known


def same(one: Span, other: Span) -> bool:
    """The rule itself: an overlap of at least half of the longer one."""
    shared = min(one[1], other[1]) - max(one[0], other[0])
    return shared >= 0.0 and shared >= 0.5 * max(one[1] - one[0], other[1] - other[0])


def spans(rng: random.Random, count: int) -> list[Span]:
    """Of all lengths, some of none, in any order, many of them beginning together."""
    starts = [rng.choice((rng.uniform(0, 60), rng.randrange(60))) for _ in range(count)]
    return [(start, start + rng.choice((0.0, rng.uniform(0, 1), rng.uniform(0, 20)))) for start in starts]


@pytest.mark.parametrize("seed", range(20))
def test_those_known_are_those_that_share_half(seed: int) -> None:
    rng = random.Random(seed)
    some, others = spans(rng, rng.randrange(1, 40)), spans(rng, rng.randrange(1, 40))
    assert _known(some, others).tolist() == [any(same(one, other) for other in others) for one in some]
    assert not _known(some, []).any() and len(_known([], others)) == 0
