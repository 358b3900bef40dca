"""Which played note is which note of the target, by time and pitch.

Method
    The notes of one pitch that lie within the tolerance of each other make a graph, and as many
    pairs as possible are made (a maximum bipartite matching, as
    ``mir_eval.transcription.match_notes`` defines a hit: Raffel et al., "mir_eval: a transparent
    implementation of common MIR metrics", ISMIR 2014). On a line no two pairs of the best matching
    need to cross, so a walk through both rows finds it; among the largest ones the one with the
    least distance is taken.

Conventions
    Onsets are seconds in rising order. Distances are rounded to 0.1 ms before they are held against
    the tolerance, as mir_eval does.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

Pairs = list[tuple[int, int]]

_DECIMALS = 4
#: A crowd of more pairs than this is matched by a greedy walk, which makes as many pairs and may
#: not make the nearest.
_MOST_CELLS = 250_000


def match(
    onset_sec: ArrayLike, pitch: ArrayLike, target_sec: ArrayLike, target_pitch: ArrayLike, tolerance_sec: float
) -> Pairs:
    """Pairs (note, target note), as many as there can be, in order of notes. Shapes (n,), (n,),
    (m,), (m,)."""
    played = np.asarray(onset_sec, float), np.asarray(pitch, np.int64)
    target = np.asarray(target_sec, float), np.asarray(target_pitch, np.int64)
    onset = np.concatenate((played[0], target[0]))
    height = np.concatenate((played[1], target[1]))
    number = np.concatenate((np.arange(len(played[0])), np.arange(len(target[0]))))
    wanted = np.concatenate((np.zeros(len(played[0]), bool), np.ones(len(target[0]), bool)))
    order = np.lexsort((number, wanted, onset, height))
    onset, height, number, wanted = onset[order], height[order], number[order], wanted[order]
    apart = (np.diff(height) != 0) | ~within(np.diff(onset), tolerance_sec)
    starts = np.concatenate(([0], np.flatnonzero(apart) + 1, [len(order)]))
    pairs: Pairs = []
    for start, stop in pairwise(starts[np.concatenate(([True], np.diff(starts) > 0))].tolist()):
        if stop - start == 1:
            continue
        mine = np.flatnonzero(~wanted[start:stop]) + start
        theirs = np.flatnonzero(wanted[start:stop]) + start
        if len(mine) == 1 and len(theirs) == 1:
            pairs.append((int(number[mine[0]]), int(number[theirs[0]])))
        elif len(mine) and len(theirs):
            found = _crowd(onset[mine], onset[theirs], tolerance_sec)
            pairs += [(int(number[mine[one]]), int(number[theirs[other]])) for one, other in found]
    return sorted(pairs)


def within(distance_sec: NDArray[np.float64], tolerance_sec: float) -> NDArray[np.bool_]:
    """Which distances are within the tolerance."""
    return np.asarray(np.around(np.abs(distance_sec), _DECIMALS) <= tolerance_sec)


def f_measure(matched: int, notes: int, targets: int) -> dict[str, float]:
    """``f1``, ``precision`` (of the notes played) and ``recall`` (of the target's); all 0 when one
    side has no notes."""
    precision = matched / notes if notes and targets else 0.0
    recall = matched / targets if notes and targets else 0.0
    total = precision + recall
    return {"f1": 2 * precision * recall / total if total else 0.0, "precision": precision, "recall": recall}


def _crowd(mine: NDArray[np.float64], theirs: NDArray[np.float64], tolerance_sec: float) -> Pairs:
    """The largest matching of two rising rows of one pitch, of those the nearest."""
    if len(mine) * len(theirs) > _MOST_CELLS:
        return _walk(mine, theirs, tolerance_sec)
    hit = within(mine[:, None] - theirs[None, :], tolerance_sec)
    # A pair is worth more than all distances together; what is left of the worth prefers the nearer
    # ones.
    worth = np.where(
        hit, 1.0 - np.abs(mine[:, None] - theirs[None, :]) / (tolerance_sec + 1e-9) * _small(mine, theirs), 0.0
    )
    best = np.zeros((len(mine) + 1, len(theirs) + 1))
    for one in range(len(mine)):
        row = np.maximum(best[one, 1:], best[one, :-1] + np.where(hit[one], worth[one], -1.0))
        best[one + 1, 1:] = np.maximum.accumulate(row)
    pairs: Pairs = []
    one, other = len(mine), len(theirs)
    while one and other:
        if best[one, other] == best[one - 1, other]:
            one -= 1
        elif best[one, other] == best[one, other - 1]:
            other -= 1
        else:
            one, other = one - 1, other - 1
            pairs.append((one, other))
    return pairs[::-1]


def _small(mine: NDArray[np.float64], theirs: NDArray[np.float64]) -> float:
    return 0.5 / (min(len(mine), len(theirs)) + 1)


def _walk(mine: NDArray[np.float64], theirs: NDArray[np.float64], tolerance_sec: float) -> Pairs:
    """As many pairs as there can be: each takes the first that is free and near enough."""
    pairs: Pairs = []
    one = other = 0
    left, right = mine.tolist(), theirs.tolist()
    while one < len(left) and other < len(right):
        if round(abs(left[one] - right[other]), _DECIMALS) <= tolerance_sec:
            pairs.append((one, other))
            one, other = one + 1, other + 1
        elif left[one] < right[other]:
            one += 1
        else:
            other += 1
    return pairs
