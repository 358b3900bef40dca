"""Fit the tables of ``loopdeck.analysis.scale_finder``, and say how good they are on melodies that were held out.

Model
    A conditional logit over every root (12) and scale (all but the chromatic one): the score of a scale is linear in the features of its root
    (``analysis.scale_features``), and the probabilities are the softmax of the scores. The weights of a scale are put together from few numbers:
    a row that all scales share (how a root behaves), for each of the seven church modes a profile of its own, what a note outside costs, what a
    degree that never sounds costs, and a constant for each scale. All of them are fitted together by the likelihood of the labels, with a
    quadratic penalty.

Data
    Tunes: two labelled folk collections (``tests.fitting.tunes``), and fragments of them without their ends for loops. Riffs: our own
    grammar (``tests.fitting.scale_riffs``). Held out means by family of near-duplicate tunes.

Run
    ``python -m tests.fitting.fit_scales --cache DIR`` prints the held-out figures; ``--write`` also fits on all but one tune in forty (and its family) and writes
    ``loopdeck/analysis/scale_tables.py``.
"""

import argparse
import itertools
import json
import sys
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.scale_features import KINDS, features, strength
from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.meter import parse_cycle
from loopdeck.rhythm.quantize import locate, slots
from loopdeck.rhythm.swing import Swing
from loopdeck.theory.formulas import SCALES, semitone_of
from tests.fitting import scale_riffs
from tests.fitting.tunes import Tune, kept_back, load

NAMES = tuple(name for name in SCALES if name != "chromatic")
MODES = NAMES[:7]
MASK = np.array([[step in {semitone_of(d) % 12 for d in SCALES[name]} for step in range(12)] for name in NAMES], float)
#: The kinds for which each church mode has a profile of its own.
OWN = (0, 1, 3)
Floats = NDArray[np.float64]


class Data(NamedTuple):
    """``x`` (n, 12, features), ``y`` (n,) = root * scales + scale, ``weight`` (n,), ``group`` (n,) for splitting, and what each is."""

    x: Floats
    y: NDArray[np.int64]
    weight: Floats
    group: NDArray[np.int64]
    kind: NDArray[np.int64]

    def rows(self, chosen: NDArray[np.bool_]) -> "Data":
        return Data(*(column[chosen] for column in self))


def strong_places(onset_q: Floats, meter: str) -> Floats:
    """How strong each onset's place is, from the bar lines of the meter."""
    cycle = parse_cycle(meter)
    table = slots(cycle, Grid("1/16"), Swing())
    by_slot = np.array([strength(cycle.meters[0], place) for place in table.written])
    return by_slot[locate(onset_q, table).slot]


def _row(one: Any, ends: bool) -> Floats:
    bar_q = float(parse_cycle(one.meter).quarters)
    strong = strong_places(one.onset_q, one.meter)
    return features(one.pitch, one.onset_q, one.length_q, strong, bar_q, ends).astype(np.float32)


def _label(root: int, mode: str) -> int:
    return root * len(NAMES) + NAMES.index(mode)


def _data(parts: list[tuple[Any, bool, float, int, int]]) -> Data:
    return Data(
        np.stack([_row(one, ends) for one, ends, *_ in parts]),
        np.array([_label(one.root, one.mode) for one, *_ in parts]),
        np.array([weight for *_, weight, _, _ in parts]),
        np.array([group for *_, group, _ in parts]),
        np.array([kind for *_, kind in parts]),
    )


def _fragment(rng: np.random.Generator, tune: Tune) -> Tune:
    """Some bars of a tune, entered at any note: what a loop of it would hold."""
    size = int(rng.integers(24, max(len(tune.pitch) // 2, 25) + 1))
    at = int(rng.integers(0, max(len(tune.pitch) - size, 1)))
    part = slice(at, at + size)
    return tune._replace(onset_q=tune.onset_q[part], length_q=tune.length_q[part], pitch=tune.pitch[part])


TUNE, RIFF, FRAGMENT, RETUNED = 0, 1, 2, 3
#: The modes tunes are turned into, and how often.
TURNS = {"dorian": 0.3, "mixolydian": 0.25, "aeolian": 0.15, "phrygian": 0.12, "lydian": 0.12, "locrian": 0.06}


def retuned(rng: np.random.Generator, tune: Tune) -> Tune | None:
    """The tune in another mode on the same root, degree by degree; None where it has notes outside its own.

    Major tunes abound and the others are rare; this teaches what the modes have in common.
    """
    steps = [semitone_of(degree) % 12 for degree in SCALES[tune.mode]]
    mode = str(rng.choice(list(TURNS), p=list(TURNS.values())))
    if mode == tune.mode or not set(((tune.pitch - tune.root) % 12).tolist()) <= set(steps):
        return None
    other = [semitone_of(degree) % 12 for degree in SCALES[mode]]
    move = np.zeros(12, np.int64)
    for here, there in zip(steps, other, strict=True):
        move[here] = there - here
    return tune._replace(mode=mode, pitch=tune.pitch + move[(tune.pitch - tune.root) % 12])


def tune_data(tunes: list[Tune], seed: int = 1, riffs: int = 1500) -> Data:
    """Whole tunes with their ends, the same in other modes, and riffs."""
    rng = np.random.default_rng(seed)
    parts: list[Any] = [(tune, True, 1.0, tune.family, TUNE) for tune in tunes]
    turned = [other for tune in tunes if (other := retuned(rng, tune)) is not None]
    parts += [(tune, True, 1.0, tune.family, RETUNED) for tune in turned]
    for index in range(riffs):
        riff = scale_riffs.make(rng)
        parts.append((riff, True, 0.25, -1 - index, RIFF))
    return _balanced(_data(parts))


def _balanced(data: Data) -> Data:
    """Weights by which rare modes count for more: the number of a mode's tunes to the power of -0.35; turned tunes 0.3, riffs 0.25."""
    mode, tune = data.y % len(NAMES), data.kind == TUNE
    counts = np.bincount(mode[tune], minlength=len(NAMES)).astype(float)
    by_mode = (np.maximum(counts, 8) / counts.max()) ** -0.35
    weight = np.select([tune, data.kind == RETUNED, data.kind == RIFF], [by_mode[mode], 0.3, 0.25], data.weight)
    return data._replace(weight=weight / weight[tune].mean())


def loop_data(tunes: list[Tune], seed: int = 2, riffs: int = 4000) -> Data:
    """Riffs that go round, and fragments of tunes."""
    rng = np.random.default_rng(seed)
    parts: list[Any] = [(_fragment(rng, tune), False, 0.3, tune.family, FRAGMENT) for tune in tunes]
    parts += [(scale_riffs.make(rng), False, 1.0, -1 - index, RIFF) for index in range(riffs)]
    return _data(parts)


# ---- the model ----------------------------------------------------------------------------------------------------------------


class Weights(NamedTuple):
    """``shared`` (kinds, 12), ``own`` (7, len(OWN), 12), ``costs`` (3,): outside by share, outside by root of share, unused; ``bias`` (scales,)."""

    shared: Floats
    own: Floats
    costs: Floats
    bias: Floats

    def matrix(self) -> tuple[Floats, Floats]:
        """The weights of each feature for each scale, (12 * kinds, scales), and the constants (scales,)."""
        out = np.repeat(self.shared.reshape(len(KINDS) * 12, 1), len(NAMES), axis=1)
        for place, kind in enumerate(OWN):
            out[kind * 12 : kind * 12 + 12, :7] += self.own[:, place, :].T
        out[0:12] -= self.costs[0] * (1 - MASK.T)
        out[12:24] -= self.costs[1] * (1 - MASK.T)
        out[24:36] += self.costs[2] * MASK.T
        return out, self.bias - self.costs[2] * MASK.sum(axis=1)

    def flat(self) -> Floats:
        return np.concatenate([part.ravel() for part in self])


def _unflat(values: Floats) -> Weights:
    sizes = (len(KINDS) * 12, 7 * len(OWN) * 12, 3, len(NAMES))
    parts = np.split(values, np.cumsum(sizes)[:-1])
    return Weights(parts[0].reshape(len(KINDS), 12), parts[1].reshape(7, len(OWN), 12), parts[2], parts[3])


def _chain(grad: Floats, grad_bias: Floats) -> Floats:
    own = np.stack([grad[kind * 12 : kind * 12 + 12, :7].T for kind in OWN], axis=1)
    costs = np.array([
        -(grad[0:12] * (1 - MASK.T)).sum(),
        -(grad[12:24] * (1 - MASK.T)).sum(),
        (grad[24:36] * MASK.T).sum() - (grad_bias * MASK.sum(axis=1)).sum(),
    ])  # fmt: skip
    return Weights(grad.sum(axis=1).reshape(len(KINDS), 12), own, costs, grad_bias).flat()


def scores(data: Data, weights: Weights) -> Floats:
    """Shape (n, 12 * scales)."""
    matrix, bias = weights.matrix()
    n = len(data.x)
    flat = data.x.reshape(n * 12, -1) @ matrix.astype(np.float32)
    return (flat.reshape(n, 12, -1) + bias).reshape(n, -1).astype(float)


#: Of the shared row, the modes' own profiles, the costs and the constants.
PENALTY = (0.3, 4.0, 0.001, 0.1)


def fit(data: Data, start: Weights | None = None, steps: int = 120) -> Weights:
    """The weights with the greatest penalised likelihood."""
    from scipy.optimize import minimize

    sizes = (len(KINDS) * 12, 7 * len(OWN) * 12, 3, len(NAMES))
    penalty = np.repeat(PENALTY, sizes)
    first = start.flat() if start is not None else np.zeros(sum(sizes))
    rows = np.arange(len(data.y))
    flat_x = data.x.reshape(-1, data.x.shape[-1])

    def loss(values: Floats) -> tuple[float, Floats]:
        weights = _unflat(values)
        all_scores = scores(data, weights)
        all_scores -= all_scores.max(axis=1, keepdims=True)
        chance = np.exp(all_scores)
        chance /= chance.sum(axis=1, keepdims=True)
        cost = -(data.weight * np.log(chance[rows, data.y] + 1e-300)).sum()
        chance[rows, data.y] -= 1.0
        chance *= data.weight[:, None]
        slope = chance.reshape(-1, len(NAMES)).astype(np.float32)
        grad = _chain((flat_x.T @ slope).astype(float), slope.sum(axis=0).astype(float))
        return cost + 0.5 * (penalty * values**2).sum(), grad + penalty * values

    done = minimize(loss, first, jac=True, method="L-BFGS-B", options={"maxiter": steps})
    return _unflat(done.x)


#: The mean over the common modes leaves out those with fewer tunes than this: one tune of four would move it by 5 points.
COMMON = 10


def judged(data: Data, weights: Weights) -> dict[str, Any]:
    """How often root and scale are first, within three, and the root alone; the mean over all modes, and over the common ones."""
    order = np.argsort(-scores(data, weights), axis=1)[:, :3]
    first = order[:, 0] == data.y
    mode = data.y % len(NAMES)
    by_mode = {NAMES[m]: (round(float(first[mode == m].mean()), 3), int((mode == m).sum())) for m in np.unique(mode)}
    return {
        "n": len(data.y),
        "first": round(float(first.mean()), 4),
        "mean_over_modes": round(float(np.mean([rate for rate, _ in by_mode.values()])), 4),
        "mean_over_common_modes": round(float(np.mean([rate for rate, n in by_mode.values() if n >= COMMON])), 4),
        "within_three": round(float((order == data.y[:, None]).any(axis=1).mean()), 4),
        "root": round(float((order[:, 0] // len(NAMES) == data.y // len(NAMES)).mean()), 4),
        "by_mode": by_mode,
    }


# ---- calibration ----------------------------------------------------------------------------------------------------------------


def temperature(all_scores: Floats, y: NDArray[np.int64]) -> float:
    """What to divide the scores by so that held-out labels are as likely as can be."""
    from scipy.optimize import minimize_scalar

    def loss(log_t: float) -> float:
        part = all_scores / np.exp(log_t)
        part = part - part.max(axis=1, keepdims=True)
        return float((np.log(np.exp(part).sum(axis=1)) - part[np.arange(len(y)), y]).mean())

    return float(np.exp(minimize_scalar(loss, bounds=(-2, 3), method="bounded").x))


def calibration(all_scores: Floats, y: NDArray[np.int64], heat: float) -> dict[str, Any]:
    """For the first answers: how often those given with a probability were right; and the mean distance between the two."""
    part = all_scores / heat
    chance = np.exp(part - part.max(axis=1, keepdims=True))
    chance /= chance.sum(axis=1, keepdims=True)
    given, right = chance.max(axis=1), chance.argmax(axis=1) == y
    edges = np.array([0.0, 0.4, 0.6, 0.8, 0.95, 1.01])
    rows = [(given >= low) & (given < high) for low, high in itertools.pairwise(edges)]
    return {
        "mean_gap": round(float(sum(abs(given[r].mean() - right[r].mean()) * r.mean() for r in rows if r.any())), 4),
        "given_and_right": [
            (round(float(given[r].mean()), 3), round(float(right[r].mean()), 3), int(r.sum())) for r in rows if r.any()
        ],
    }


# ---- the program ----------------------------------------------------------------------------------------------------------------


def held_out(tunes: list[Tune]) -> tuple[dict[str, Any], float, float]:
    """Collection against collection for tunes, new riffs for loops; and the two temperatures."""
    figures: dict[str, Any] = {}
    data = tune_data(tunes)
    whose = np.array([tune.collection for tune in tunes] + [""] * (len(data.y) - len(tunes)))
    left, labels = [], []
    for collection in sorted({tune.collection for tune in tunes}):
        test = (data.kind == TUNE) & (whose == collection)
        family = set(data.group[test].tolist())
        weights = fit(data.rows(~np.isin(data.group, list(family))))
        figures[f"tunes of {collection}, fitted without"] = judged(data.rows(test), weights)
        left.append(scores(data.rows(test), weights))
        labels.append(data.y[test])
    tune_heat = temperature(np.concatenate(left), np.concatenate(labels))
    figures["calibration, tunes"] = calibration(np.concatenate(left), np.concatenate(labels), tune_heat)
    rng = np.random.default_rng(99)
    fresh = _data([(scale_riffs.make(rng), False, 1.0, 0, RIFF) for _ in range(800)])
    weights = fit(loop_data(tunes))
    figures["loops of the grammar, other seeds"] = judged(fresh, weights)
    other = _data([(scale_riffs.make_other(rng), False, 1.0, 0, RIFF) for _ in range(800)])
    figures["loops of another grammar"] = judged(other, weights)
    loop_heat = temperature(scores(fresh, weights), fresh.y)
    figures["calibration, loops"] = calibration(scores(fresh, weights), fresh.y, loop_heat)
    return figures, tune_heat, loop_heat


def _rows(values: Floats, names: list[str]) -> str:
    lines = [
        f"{name:<32}| " + " ".join(f"{round(100 * v):5d}" for v in row) for name, row in zip(names, values, strict=True)
    ]
    return "\n".join(line.rstrip() for line in lines)


def table_text(name: str, weights: Weights, heat: float) -> str:
    """One table as it stands in ``scale_tables``: hundredths, the scores divided by the temperature already."""
    cold = Weights(*(part / heat for part in weights))
    own = [f"{mode}: {KINDS[kind]}" for mode in MODES for kind in OWN]
    return (
        f'{name} = """\n{_rows(cold.shared, list(KINDS))}\n'
        f"{_rows(cold.own.reshape(-1, 12), own)}\n"
        f'{_rows(cold.costs[None, :], ["costs"])}\n{_rows(cold.bias[:, None], [f"constant: {n}" for n in NAMES])}\n"""\n'
    )


HEADER = '''"""The fitted weights of ``scale_finder``, in hundredths: one table for tunes, one for loops.

Made by ``python -m tests.fitting.fit_scales --write``; do not edit. A row has one number for each distance above the root, 0 to 11 semitones.
"""

'''


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--cache", default="/tmp/loopdeck-tunes", help="where to keep the tunes once they are read")
    parser.add_argument("--write", action="store_true", help="fit on all but the tunes kept back, and write the tables")
    args = parser.parse_args()
    tunes = load(Path(args.cache))
    figures, tune_heat, loop_heat = held_out(tunes)
    print(json.dumps(figures, indent=1))
    if args.write:
        import loopdeck.analysis

        path = Path(loopdeck.analysis.__path__[0]) / "scale_tables.py"
        apart = {tune.family for tune in tunes if kept_back(tune.name)}
        fitted = [tune for tune in tunes if tune.family not in apart]
        tables = (("TUNES", tune_data(fitted), tune_heat), ("LOOPS", loop_data(fitted), loop_heat))
        path.write_text(HEADER + "\n".join(table_text(name, fit(data), heat) for name, data, heat in tables))
        print(f"written: {path}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
