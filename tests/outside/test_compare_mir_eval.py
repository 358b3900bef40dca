"""Precision, recall and F1 of ``compare`` against mir_eval 0.8's
``transcription.precision_recall_f1_overlap`` (Raffel et al., ISMIR 2014): onsets within 50 and 25
ms, pitches within 50 cents, offsets ignored, on thousands of random pairs of takes.
"""

import warnings

import numpy as np
import pytest

pytest.importorskip("mir_eval")

from mir_eval.transcription import precision_recall_f1_overlap

from loopdeck.analysis.comparison.comparing import compare
from loopdeck.analysis.comparison.matching import _crowd, _walk, f_measure, match


def theirs(
    onset: np.ndarray, pitch: np.ndarray, target: np.ndarray, target_pitch: np.ndarray, tolerance: float
) -> tuple:
    def hertz(numbers: np.ndarray) -> np.ndarray:
        return 440.0 * 2.0 ** ((numbers - 69) / 12)

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return precision_recall_f1_overlap(
            np.column_stack([target, target + 0.1]), hertz(target_pitch),
            np.column_stack([onset, onset + 0.1]), hertz(pitch),
            onset_tolerance=tolerance, pitch_tolerance=50.0, offset_ratio=None,
        )[:3]  # fmt: skip


def takes(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Two takes: far apart, one played from the other, or crowds of one pitch; now and then on a
    grid of the very tolerances."""
    n, m = rng.integers(0, 14, 2)
    length, pitches = rng.choice([0.2, 0.6, 3.0]), rng.integers(1, 5)
    onset, target = rng.uniform(0, length, n), rng.uniform(0, length, m)
    pitch, target_pitch = rng.integers(0, pitches, n) + 40, rng.integers(0, pitches, m) + 40
    if rng.random() < 0.4:
        onset, target = np.round(onset / 0.025) * 0.025, np.round(target / 0.025) * 0.025
    if rng.random() < 0.3 and m:
        kept = rng.random(m) < 0.8
        onset, pitch = np.abs(target[kept] + rng.normal(0, 0.03, kept.sum())), target_pitch[kept]
    one, other = np.lexsort((pitch, onset)), np.lexsort((target_pitch, target))
    return onset[one], pitch[one], target[other], target_pitch[other]


def test_the_same_figures_on_three_thousand_random_pairs() -> None:
    rng = np.random.default_rng(20)
    for _ in range(3_000):
        case = takes(rng)
        for tolerance in (0.05, 0.025):
            found = match(*case, tolerance)
            assert len({one for one, _ in found}) == len({other for _, other in found}) == len(found)
            ours = f_measure(len(found), len(case[0]), len(case[2]))
            assert (ours["precision"], ours["recall"], ours["f1"]) == pytest.approx(theirs(*case, tolerance), abs=1e-12)


def test_what_compare_says_is_the_same() -> None:
    rng = np.random.default_rng(21)
    for _ in range(300):
        case = takes(rng)
        scores = compare(*case).scores
        assert (scores["precision"], scores["recall"], scores["f1"]) == pytest.approx(theirs(*case, 0.05), abs=1e-12)
        strict = scores["strict"]
        assert (strict["precision"], strict["recall"], strict["f1"]) == pytest.approx(theirs(*case, 0.025), abs=1e-12)


def test_a_crowd_is_matched_as_largely_by_the_walk() -> None:
    rng = np.random.default_rng(22)
    for _ in range(500):
        mine, other = np.sort(rng.uniform(0, 1, rng.integers(1, 40))), np.sort(rng.uniform(0, 1, rng.integers(1, 40)))
        near, first = _crowd(mine, other, 0.05), _walk(mine, other, 0.05)
        assert len(near) == len(first)
        assert sum(abs(mine[i] - other[j]) for i, j in near) <= sum(abs(mine[i] - other[j]) for i, j in first) + 1e-9
