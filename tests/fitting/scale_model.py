"""The model of ``loopdeck.analysis.scale_finder`` as it is fitted: a conditional logit over every
root and scale.

Conventions
    ``x`` has shape (n, 12, features), a row of features for every root; ``y`` (n,) is root * scales
    + scale. The first kinds of features are share, root of share and present
    (``analysis.scale_features``), twelve columns each.

How it is fitted
    ``descend``: rounds of stochastic descent (Adam: Kingma & Ba, arXiv 1412.6980) over standardised
    features. For tunes it stops early: with three thousand tunes and two thousand weights, twelve
    rounds regularise better than a quadratic penalty did on the held-out collections. A grammar
    makes as many loops as one likes, and they get more rounds.
"""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.theory.formulas import SCALES, semitone_of

NAMES = tuple(name for name in SCALES if name != "chromatic")
MODES = NAMES[:7]
MASK = np.array([[step in {semitone_of(d) % 12 for d in SCALES[name]} for step in range(12)] for name in NAMES], float)
Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


class Data(NamedTuple):
    """``x`` and ``y`` as above, ``weight`` (n,), ``group`` (n,) for splitting, and of what ``kind``
    each is (n,).
    """

    x: Floats
    y: Integers
    weight: Floats
    group: Integers
    kind: Integers

    def rows(self, chosen: NDArray[np.bool_]) -> "Data":
        return Data(*(column[chosen] for column in self))


class Weights(NamedTuple):
    """``shared`` (kinds * 12,), ``own`` (own columns, 7) of the church modes, ``costs`` (3,):
    outside by share, outside by root of share,
    unused; ``bias`` (scales,). ``columns``: which of the features the modes have a profile of their
    own for."""

    shared: Floats
    own: Floats
    costs: Floats
    bias: Floats
    columns: Integers

    def matrix(self) -> tuple[Floats, Floats]:
        """The weights of each feature for each scale, (12 * kinds, scales), and the constants
        (scales,).
        """
        out = np.repeat(self.shared[:, None], len(NAMES), axis=1)
        out[self.columns, :7] += self.own
        out[0:12] -= self.costs[0] * (1 - MASK.T)
        out[12:24] -= self.costs[1] * (1 - MASK.T)
        out[24:36] += self.costs[2] * MASK.T
        return out, self.bias - self.costs[2] * MASK.sum(axis=1)

    def flat(self) -> Floats:
        return np.concatenate([part.ravel() for part in self[:4]])

    def filled(self, values: Floats) -> "Weights":
        """The same with the numbers of ``flat``."""
        parts = np.split(values, np.cumsum([part.size for part in self[:4]])[:-1])
        return Weights(parts[0], parts[1].reshape(self.own.shape), parts[2], parts[3], self.columns)

    def cooled(self, heat: float) -> "Weights":
        return self.filled(self.flat() / heat)


def empty(kinds: int, own: tuple[int, ...]) -> Weights:
    """Nothing known; ``own``: the numbers of the kinds for which each church mode has a profile of
    its own.
    """
    columns = np.concatenate([np.arange(12 * kind, 12 * kind + 12) for kind in own])
    return Weights(
        np.zeros(kinds * 12), np.zeros((len(columns), 7)), np.array([5.0, 8.0, 1.0]), np.zeros(len(NAMES)), columns
    )


def scores(data: Data, weights: Weights) -> Floats:
    """Shape (n, 12 * scales)."""
    matrix, bias = weights.matrix()
    n = len(data.x)
    flat = data.x.reshape(n * 12, -1) @ matrix.astype(np.float32)
    return (flat.reshape(n, 12, -1) + bias).reshape(n, -1).astype(float)


def _chain(grad: Floats, grad_bias: Floats, columns: Integers) -> Floats:
    costs = np.array([
        -(grad[0:12] * (1 - MASK.T)).sum(),
        -(grad[12:24] * (1 - MASK.T)).sum(),
        (grad[24:36] * MASK.T).sum() - (grad_bias * MASK.sum(axis=1)).sum(),
    ])  # fmt: skip
    return np.concatenate([grad.sum(axis=1), grad[columns, :7].ravel(), costs, grad_bias])


def _loss(data: Data, weights: Weights) -> tuple[float, Floats]:
    """What the labels cost, and its slope as ``flat`` numbers."""
    all_scores = scores(data, weights)
    all_scores -= all_scores.max(axis=1, keepdims=True)
    chance = np.exp(all_scores)
    chance /= chance.sum(axis=1, keepdims=True)
    rows = np.arange(len(data.y))
    cost = -(data.weight * np.log(chance[rows, data.y] + 1e-300)).sum()
    chance[rows, data.y] -= 1.0
    chance *= data.weight[:, None]
    slope = chance.reshape(-1, len(NAMES)).astype(np.float32)
    grad = (data.x.reshape(-1, data.x.shape[-1]).T @ slope).astype(float)
    return cost, _chain(grad, slope.sum(axis=0).astype(float), weights.columns)


#: Of the shared row, the modes' own profiles, the costs and the constants.
PENALTY = (0.3, 4.0, 0.001, 0.1)
#: Rows to a step, and what a standardised feature is multiplied by.
BATCH, SPREAD = 128, 0.3


def descend(data: Data, start: Weights, seed: int = 0, rounds: int = 12, first_step: float = 2e-3) -> Weights:
    """The weights after some rounds of descent over standardised features, in units of the features
    themselves; the steps shrink from ``first_step`` on.
    """
    width = data.x.shape[-1]
    scale = SPREAD / (data.x.reshape(-1, width).std(axis=0) + 1e-4)
    mean = data.x.reshape(-1, width).mean(axis=0)
    # The costs look at the features as they are: their share of the slope is taken in these units.
    units = np.concatenate([scale, np.repeat(scale[start.columns], 7), np.ones(3 + len(NAMES))])
    values = start.flat() / units
    penalty = np.repeat(PENALTY, [part.size for part in start[:4]])
    adam = _Adam(values)
    rng = np.random.default_rng(seed)
    steps = rounds * -(-len(data.y) // BATCH)
    orders = (rng.permutation(len(data.y)) for _ in range(rounds))
    for part in (order[at : at + BATCH] for order in orders for at in range(0, len(data.y), BATCH)):
        weights = _centred(start.filled(adam.values * units), mean)
        _, grad = _loss(data.rows(part), weights)
        grad = _slope_of_centred(grad, weights, mean)
        size = first_step * (1 - adam.count / steps) + 1e-5
        adam.step(grad * units + penalty * adam.values * (len(part) / len(data.y)), size)
    return _centred(start.filled(adam.values * units), mean)


def _centred(weights: Weights, mean: Floats) -> Weights:
    """The same profiles for features less their mean: what the modes' own profiles say of the mean
    leaves their constants.
    """
    bias = weights.bias.copy()
    bias[:7] -= mean[weights.columns] @ weights.own
    return weights._replace(bias=bias)


def _slope_of_centred(grad: Floats, weights: Weights, mean: Floats) -> Floats:
    parts = weights.filled(grad)
    return parts._replace(own=parts.own - np.outer(mean[weights.columns], parts.bias[:7])).flat()


class _Adam:
    """Kingma & Ba's moments, with 0.9 and 0.99."""

    def __init__(self, values: Floats) -> None:
        self.values, self.count = values, 0
        self._mean, self._square = np.zeros_like(values), np.zeros_like(values)

    def step(self, slope: Floats, size: float) -> None:
        self.count += 1
        self._mean = 0.9 * self._mean + 0.1 * slope
        self._square = 0.99 * self._square + 0.01 * slope**2
        mean, square = self._mean / (1 - 0.9**self.count), self._square / (1 - 0.99**self.count)
        self.values = self.values - size * mean / (np.sqrt(square) + 1e-6)


# ---- judging -------------------------------------------------------------------------------------

#: The mean over the common modes leaves out those with fewer tunes than this: one tune of four
#: would move it by 5 points.
COMMON = 10


def judged(data: Data, weights: Weights) -> dict[str, Any]:
    """How often root and scale are first, within three, and the root alone; the mean over all
    modes, and over the common ones.
    """
    return judged_scores(data.y, scores(data, weights))


def judged_scores(y: Integers, all_scores: Floats) -> dict[str, Any]:
    """The same of scores, (n, 12 * scales)."""
    order = np.argsort(-all_scores, axis=1)[:, :3]
    first = order[:, 0] == y
    mode = y % len(NAMES)
    by_mode = {NAMES[m]: (round(float(first[mode == m].mean()), 3), int((mode == m).sum())) for m in np.unique(mode)}
    common = [first[mode == m] for m in np.unique(mode) if (mode == m).sum() >= COMMON]
    return {
        "n": len(y),
        "first": round(float(first.mean()), 4),
        "mean_over_modes": round(float(np.mean([rate for rate, _ in by_mode.values()])), 4),
        "mean_over_common_modes": round(float(np.mean([one.mean() for one in common])), 4),
        "its_interval": interval(common),
        "within_three": round(float((order == y[:, None]).any(axis=1).mean()), 4),
        "root": round(float((order[:, 0] // len(NAMES) == y // len(NAMES)).mean()), 4),
        "by_mode": by_mode,
    }


def interval(by_mode: list[NDArray[np.bool_]]) -> tuple[float, float]:
    """The middle 95 % of the mean over modes when the tunes of each mode are drawn anew (bootstrap,
    2,000 times): how much of it is chance.
    """
    rng = np.random.default_rng(7)
    drawn = np.mean([rng.binomial(len(one), one.mean(), 2000) / len(one) for one in by_mode], axis=0)
    low, high = np.quantile(drawn, [0.025, 0.975]).tolist()
    return round(low, 3), round(high, 3)
