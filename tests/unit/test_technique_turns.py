"""The turns of a vibrato, found at once in many stretches, against a walk along each of them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.bass.technique.curve import middle
from loopdeck.bass.technique.sway import TURN, turns_of

LEVELS = st.lists(st.integers(-12, 12), min_size=1, max_size=30)


def walked(levels: list[float]) -> list[tuple[int, float]]:
    """The turns of one stretch by their meaning: the far end of each way that is at least ``TURN``
    long, before the pitch comes back by as much.
    """
    turns: list[tuple[int, float]] = []
    far, up = {True: 0, False: 0}, None
    for at, level in enumerate(levels):
        for way, beyond in ((True, level > levels[far[True]]), (False, level < levels[far[False]])):
            if beyond:
                far[way] = at
        for way in (True, False):
            if up in (way, None) and abs(level - levels[far[way]]) >= TURN and (level < levels[far[way]]) == way:
                turns.append((far[way], levels[far[way]]))
                up, far[not way] = not way, at
                break
    return turns


@given(st.lists(LEVELS, min_size=1, max_size=4))
def test_turns_are_those_of_a_walk_along_the_curve(stretches: list[list[int]]) -> None:
    # Quarters of a turn: both sides round alike.
    curves = [[one * TURN / 4 for one in stretch] for stretch in stretches]
    begin = np.concatenate([[0], np.cumsum([len(one) for one in curves])])
    found = turns_of(np.concatenate(curves), begin, np.arange(len(curves)))
    assert [found[row] for row in range(len(curves))] == [walked(one) for one in curves]


@given(st.lists(st.floats(-2, 2), min_size=1, max_size=40))
def test_the_middle_is_the_median(values: list[float]) -> None:
    assert middle(values) == pytest.approx(float(np.median(values)), abs=1e-12)
