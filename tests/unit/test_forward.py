"""Stretches of beats walked abreast come to what one walk comes to."""

import numpy as np
import pytest
from numpy.typing import NDArray

from loopdeck.analysis.transcription import forward as module
from loopdeck.analysis.transcription.beats import CUTS
from loopdeck.analysis.transcription.chain import best_way
from loopdeck.analysis.transcription.choices import TOP, Choices

SHAPE = (CUTS, CUTS, TOP)


def choices(count: int, seed: int, grids: int = 6) -> Choices:
    """Random choices, half of them impossible; those of whole beats never are."""
    rng = np.random.default_rng(seed)
    score = rng.normal(0.0, 3.0, (count, *SHAPE)).astype(np.float32)
    score[rng.random(score.shape) < 0.5] = -1e9
    score[:, 0, 0, 0] = rng.normal(0.0, 3.0, count)
    grid = rng.integers(0, grids, score.shape).astype(np.int8)
    nothing = np.zeros(score.shape, np.int64)
    return Choices(
        score=score,
        grid=grid,
        pattern=nothing.astype(np.uint64),
        prior=nothing.astype(np.float32),
        at=nothing,
        slots=np.zeros(0, np.int8),
    )


def both(found: Choices, follows: NDArray[np.float32]) -> list[tuple[NDArray[np.int64], float]]:
    ways = []
    for abreast in (1, 32):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(module, "_ABREAST", abreast)
            ways.append(best_way(found, follows, found.score))
    return ways


@pytest.mark.parametrize("count", [1, 2, 48, 97, 98, 145, 500, 1601])
def test_the_same_way_and_score(count: int) -> None:
    for seed in range(3):
        found = choices(count, seed)
        follows = np.random.default_rng(seed + 50).normal(0.0, 2.0, (6, 6)).astype(np.float32)
        (one, score), (many, score_abreast) = both(found, follows)
        assert np.array_equal(one, many)
        assert score_abreast == pytest.approx(score, rel=1e-4, abs=0.05)


def test_a_stretch_that_depends_on_the_far_past_is_walked_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing but the grid of the beat before is ever followed, so the first beat decides all."""
    found = choices(400, 7, grids=2)
    found.score[:] = np.where(found.score > -1e8, 0.0, -1e9)
    found.score[:, 0, 0, :2] = 0.0
    found.grid[:, 0, 0, :2] = (0, 1)
    found.score[0, 0, 0, 1] = 1.0
    follows = np.array([[0.0, -1e4], [-1e4, 0.0]], np.float32)
    constants = []
    real = module._constant

    def told(*ends: NDArray[np.float32]) -> float | None:
        constants.append(real(*ends))
        return constants[-1]

    monkeypatch.setattr(module, "_constant", told)
    (one, score), (many, score_abreast) = both(found, follows)
    assert None in constants
    assert np.array_equal(one, many) and score_abreast == score == 1.0
