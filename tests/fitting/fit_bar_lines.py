"""Fit the weights of ``loopdeck.analysis.bar_lines`` on the printed bar lines of labelled tunes
(``tests.fitting.tunes``).

A conditional logit over the places of the first bar, by greatest likelihood with a small quadratic
penalty; tunes whose first whole bar is none of these places are left out.
``tests.fitting.fit_scales`` runs it and writes its table.
"""

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.bar_lines import SIGNS, places, readings, signs
from loopdeck.analysis.scale_features import melody_of
from loopdeck.rhythm.meter import parse_meter
from tests.fitting.tunes import Tune

Floats = NDArray[np.float64]
PENALTY = 0.5


def fit(tunes: list[Tune]) -> Floats:
    """The weights of the SIGNS."""
    from scipy.optimize import minimize

    rows, truth, used = [], [], []
    for tune in tunes:
        meter = parse_meter(tune.meter)
        at = np.flatnonzero(np.abs(places(meter) - tune.pickup_q) < 0.02)
        if len(at):
            rows.append(signs(melody_of(tune.pitch, tune.onset_q, tune.length_q), meter))
            truth.append(int(at[0]))
            used.append(len(rows[-1]))
    most, count = max(used), len(rows)
    x, closed = np.zeros((count, most, len(SIGNS))), np.full((count, most), -1e9)
    for index, one in enumerate(rows):
        x[index, : used[index]], closed[index, : used[index]] = one, 0.0
    spread = np.concatenate(rows).std(axis=0) + 1e-6
    x /= spread
    one_each = np.arange(count)

    def loss(weights: Floats) -> tuple[float, Floats]:
        scored = x @ weights + closed
        scored -= scored.max(axis=1, keepdims=True)
        chance = np.exp(scored)
        chance /= chance.sum(axis=1, keepdims=True)
        cost = -np.log(chance[one_each, truth] + 1e-300).sum() + PENALTY / 2 * (weights**2).sum()
        chance[one_each, truth] -= 1.0
        return cost, np.einsum("np,npk->k", chance, x) + PENALTY * weights

    return np.asarray(minimize(loss, np.zeros(len(SIGNS)), jac=True, method="L-BFGS-B").x / spread)


def found(tunes: list[Tune], weights: Floats) -> float:
    """How often the likeliest place is the printed one, all tunes counted."""
    right = 0
    for tune in tunes:
        read = readings(melody_of(tune.pitch, tune.onset_q, tune.length_q), parse_meter(tune.meter), weights)
        right += abs(max(read, key=lambda one: one.chance).start_q - tune.pickup_q) < 0.02
    return round(right / len(tunes), 4)
