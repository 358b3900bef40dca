"""Fit the tables of the scale finder, and say how good they are on melodies that were held out.

Model
    A conditional logit over every root (12) and scale (all but the chromatic one): the score of a
    scale is linear in the features of its root (``analysis.scale_features``), and the probabilities
    are the softmax of the scores. The weights of a scale are put together from few numbers: a row
    that all scales share (how a root behaves), for each of the seven church modes a profile of its
    own, what a note outside costs, what a degree that never sounds costs, and a constant for each
    scale. All of them are fitted together by the likelihood of the labels
    (``tests.fitting.scale_model``).

Data
    Tunes: two labelled folk collections (``tests.fitting.tunes``), and fragments of them without
    their ends for loops. Riffs: two grammars of our own (``tests.fitting.scale_riffs`` and
    ``scale_phrases``). Held out means by family of near-duplicate tunes.

Run
    ``python -m tests.fitting.fit_scales --cache DIR`` prints the held-out figures; ``--write`` also
    fits on all but one tune in forty (and its family) and writes
    ``loopdeck/analysis/scale_tables.py``.
"""

import argparse
import itertools
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.bar_lines import SIGNS
from loopdeck.analysis.scale_features import LOOP_KINDS, TUNE_KINDS, strength
from loopdeck.analysis.scale_finder import features_of, playing_of
from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.meter import parse_cycle
from loopdeck.rhythm.quantize import locate, slots
from loopdeck.rhythm.swing import Swing
from loopdeck.theory.formulas import SCALES, semitone_of
from tests.bench import riffs_by_hand
from tests.fitting import fit_bar_lines, scale_phrases, scale_riffs
from tests.fitting.scale_model import MODES, NAMES, Data, Weights, descend, empty, judged, judged_scores, scores
from tests.fitting.tunes import Tune, kept_back, load

#: The kinds for which each church mode has a profile of its own.
LOOP_OWN = tuple(range(len(LOOP_KINDS)))
TUNE_OWN = tuple(range(len(TUNE_KINDS)))
Floats = NDArray[np.float64]


def strong_places(onset_q: Floats, meter: str) -> Floats:
    """How strong each onset's place is, from the bar lines of the meter."""
    cycle = parse_cycle(meter)
    table = slots(cycle, Grid("1/16"), Swing())
    by_slot = np.array([strength(cycle.meters[0], place) for place in table.written])
    return by_slot[locate(onset_q, table).slot]


def _row(one: Any, loop: bool, lines: Floats | None) -> Floats:
    meter = parse_cycle(one.meter).meters[0]
    strong = strong_places(one.onset_q, one.meter)
    playing = playing_of(one.pitch, one.onset_q, one.length_q, strong, float(meter.quarters), True, meter)
    return features_of(playing, loop, lines).astype(np.float32)


def _label(root: int, mode: str) -> int:
    return root * len(NAMES) + NAMES.index(mode)


def _data(parts: list[tuple[Any, float, int, int]], loop: bool, lines: Floats | None = None) -> Data:
    return Data(
        np.stack([_row(one, loop, lines) for one, *_ in parts]),
        np.array([_label(one.root, one.mode) for one, *_ in parts]),
        np.array([weight for _, weight, _, _ in parts]),
        np.array([group for *_, group, _ in parts]),
        np.array([kind for *_, kind in parts]),
    )


def _fragment(rng: np.random.Generator, tune: Tune) -> Tune:
    """Some bars of a tune, entered at any note: what a loop of it would hold."""
    size = int(rng.integers(24, max(len(tune.pitch) // 2, 25) + 1))
    at = int(rng.integers(0, max(len(tune.pitch) - size, 1)))
    part = slice(at, at + size)
    return tune._replace(onset_q=tune.onset_q[part], length_q=tune.length_q[part], pitch=tune.pitch[part])


TUNE, RIFF, FRAGMENT, RETUNED, OPEN = 0, 1, 2, 3, 4
#: The modes tunes are turned into, and how often; how often each tune is.
TURNS = {"dorian": 0.37, "mixolydian": 0.345, "aeolian": 0.2, "phrygian": 0.03, "lydian": 0.04, "locrian": 0.015}
TURNED = 2
#: How many tunes are also shown with an ending on the third or the fifth, and how often on the
#: third.
OPEN_ENDS, ON_THIRD = 0.5, 0.65
#: What is added where the degree sounds by which a mode is known: the collections hold fifty major
#: tunes to a mixolydian one, and what a player writes does not. Where it does not sound, the
#: commoner mode stays ahead. Chosen by cross-validation inside the collections.
LEAN = {"dorian": 0.2, "mixolydian": 0.65, "lydian": 0.1, "aeolian": 0.25}
#: What a riff of ``scale_phrases`` counts beside one of ``scale_riffs``.
PHRASES_COUNT = 0.5
#: Runs of descent whose weights are averaged.
RUNS = 3
#: Rounds of descent for loops.
LOOP_ROUNDS = 30


def retuned(rng: np.random.Generator, tune: Tune) -> Tune | None:
    """The tune in another mode on the same root, degree by degree; None where it has notes outside
    its own, or not all of those (a tune without a seventh would be the same in mixolydian).

    Major tunes abound and the others are rare; this teaches what the modes have in common.
    """
    steps = [semitone_of(degree) % 12 for degree in SCALES[tune.mode]]
    mode = str(rng.choice(list(TURNS), p=list(TURNS.values())))
    if mode == tune.mode or set(((tune.pitch - tune.root) % 12).tolist()) != set(steps):
        return None
    other = [semitone_of(degree) % 12 for degree in SCALES[mode]]
    move = np.zeros(12, np.int64)
    for here, there in zip(steps, other, strict=True):
        move[here] = there - here
    return tune._replace(mode=mode, pitch=tune.pitch + move[(tune.pitch - tune.root) % 12])


def open_ended(rng: np.random.Generator, tune: Tune) -> Tune | None:
    """A major or minor tune that ends on its root, ending on the third or the fifth of the tonic
    chord instead, as songs do whose tune is the upper voice (common practice, no source); else
    None.

    Hardly a tune of the two collections does, and the third would be taken for the root of a
    phrygian one.
    """
    third = {"ionian": 4, "aeolian": 3}.get(tune.mode)
    if third is None or (tune.pitch[-1] - tune.root) % 12:
        return None
    pitch = tune.pitch.copy()
    pitch[-1] += third if rng.random() < ON_THIRD else int(rng.choice([7, -5]))
    return tune._replace(pitch=pitch)


def tune_data(tunes: list[Tune], lines: Floats, seed: int = 1, riffs: int = 1500) -> Data:
    """Whole tunes with their ends, the same in other modes and with other endings, and riffs;
    ``lines``: the weights of the bar lines.
    """
    rng = np.random.default_rng(seed)
    parts: list[Any] = [(tune, 1.0, tune.family, TUNE) for tune in tunes]
    turned = [other for tune in tunes * TURNED if (other := retuned(rng, tune)) is not None]
    parts += [(tune, 1.0, tune.family, RETUNED) for tune in turned]
    parts += [(scale_riffs.make(rng), 1.0, -1 - index, RIFF) for index in range(riffs)]
    ended = [other for tune in tunes if rng.random() < OPEN_ENDS and (other := open_ended(rng, tune)) is not None]
    parts += [(tune, 1.0, tune.family, OPEN) for tune in ended]
    return _balanced(_data(parts, False, lines))


def truthful(tunes: list[Tune], data: Data) -> Data:
    """For fitting: labels that say what the notes are. ``tunes`` are the first rows of ``data``.

    A minor tune whose sixth is always major is dorian: O'Neill's key fields mostly say ``m`` for
    both. A dorian tune without a major sixth and a mixolydian one without a minor seventh teach
    nothing. Judged is by the labels as they are.
    """
    y, weight = data.y.copy(), data.weight.copy()
    for row, tune in enumerate(tunes):
        heard = np.bincount((tune.pitch - tune.root) % 12, minlength=12)
        if tune.mode == "aeolian" and heard[9] > 1 and not heard[8]:
            y[row] = _label(tune.root, "dorian")
        elif (tune.mode == "dorian" and not heard[9]) or (tune.mode == "mixolydian" and not heard[10]):
            weight[row] = 0.0
    return data._replace(y=y, weight=weight)


def _balanced(data: Data) -> Data:
    """Weights by which rare modes count for more: the number of a mode's tunes to the power of
    -0.5; turned tunes 0.6, open endings 0.5, riffs 0.1.
    """
    mode, tune = data.y % len(NAMES), data.kind == TUNE
    counts = np.bincount(mode[tune], minlength=len(NAMES)).astype(float)
    by_mode = (np.maximum(counts, 8) / counts.max()) ** -0.5
    kinds = [tune, data.kind == RETUNED, data.kind == OPEN, data.kind == RIFF]
    weight = np.select(kinds, [by_mode[mode], 0.6, 0.5, 0.1], data.weight)
    return data._replace(weight=weight / weight[tune].mean())


def loop_data(tunes: list[Tune], seed: int = 2, riffs: int = 14000, phrases: int = 9000) -> Data:
    """Riffs that go round, of both grammars, and fragments of tunes."""
    rng = np.random.default_rng(seed)
    parts: list[Any] = [(_fragment(rng, tune), 0.3, tune.family, FRAGMENT) for tune in tunes]
    parts += [(scale_riffs.make(rng, rests=scale_riffs.LOOPS_REST), 1.0, -1 - index, RIFF) for index in range(riffs)]
    parts += [(scale_phrases.make(rng), PHRASES_COUNT, -1 - riffs - index, RIFF) for index in range(phrases)]
    return _data(parts, True)


def fit_tunes(data: Data) -> Weights:
    """The mean of some runs, leaning to the rarer modes."""
    start = empty(len(TUNE_KINDS), TUNE_OWN)
    runs = [descend(data, start, seed).flat() for seed in range(RUNS)]
    weights = start.filled(np.mean(runs, axis=0))
    for mode, lean in LEAN.items():
        step = semitone_of(scale_riffs.KNOWN_BY[mode]) % 12
        weights.own[12 * TUNE_KINDS.index("present") + step, MODES.index(mode)] += lean
    return weights


def fit_loops(data: Data) -> Weights:
    return descend(data, empty(len(LOOP_KINDS), LOOP_OWN), rounds=LOOP_ROUNDS, first_step=3e-3)


# ---- calibration ---------------------------------------------------------------------------------


def temperature(all_scores: Floats, y: NDArray[np.int64]) -> float:
    """What to divide the scores by so that held-out labels are as likely as can be."""
    from scipy.optimize import minimize_scalar

    def loss(log_t: float) -> float:
        part = all_scores / np.exp(log_t)
        part = part - part.max(axis=1, keepdims=True)
        return float((np.log(np.exp(part).sum(axis=1)) - part[np.arange(len(y)), y]).mean())

    return float(np.exp(minimize_scalar(loss, bounds=(-2, 3), method="bounded").x))


def calibration(all_scores: Floats, y: NDArray[np.int64], heat: float) -> dict[str, Any]:
    """For the first answers: how often those given with a probability were right; and the mean
    distance between the two.
    """
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


# ---- the program ---------------------------------------------------------------------------------


def held_out_tunes(tunes: list[Tune]) -> tuple[dict[str, Any], float]:
    """Collection against collection, the bar lines too; and the temperature."""
    figures: dict[str, Any] = {}
    whose = np.array([tune.collection for tune in tunes])
    left, labels = [], []
    for collection in sorted(set(whose)):
        lines = fit_bar_lines.fit([tune for tune in tunes if tune.collection != collection])
        own = [tune for tune in tunes if tune.collection == collection]
        figures[f"bar lines of {collection} found"] = fit_bar_lines.found(own, lines)
        data = tune_data(tunes, lines)
        test = np.zeros(len(data.y), bool)
        test[: len(tunes)] = whose == collection
        apart = np.isin(data.group, np.unique(data.group[test]))
        weights = fit_tunes(truthful(tunes, data).rows(~apart))
        figures[f"tunes of {collection}, fitted without"] = judged(data.rows(test), weights)
        left.append(scores(data.rows(test), weights))
        labels.append(data.y[test])
    heat = temperature(np.concatenate(left), np.concatenate(labels))
    figures["calibration, tunes"] = calibration(np.concatenate(left), np.concatenate(labels), heat)
    return figures, heat


def held_out_families(tunes: list[Tune], folds: int = 4) -> dict[str, Any]:
    """Both collections together, each fold of families by weights of the others (the bar lines by
    those of all tunes): nearest to what the written tables are.
    """
    data = tune_data(tunes, fit_bar_lines.fit(tunes))
    families = np.unique(data.group[data.group >= 0])
    fold = np.full(len(data.y), -1)
    drawn = np.random.default_rng(5).integers(0, folds, len(families))
    fold[data.group >= 0] = drawn[np.searchsorted(families, data.group[data.group >= 0])]
    whole = np.zeros((len(tunes), 12 * len(NAMES)))
    first = np.arange(len(data.y)) < len(tunes)
    for number in range(folds):
        weights = fit_tunes(truthful(tunes, data).rows(fold != number))
        whole[fold[: len(tunes)] == number] = scores(data.rows((fold == number) & first), weights)
    return {"tunes of both, four folds of families": judged_scores(data.y[: len(tunes)], whole)}


def held_out_loops(weights: Weights) -> tuple[dict[str, Any], float]:
    """New riffs, and those of another grammar; and the temperature."""
    rng = np.random.default_rng(99)
    fresh = _data([(scale_riffs.make(rng), 1.0, 0, RIFF) for _ in range(800)], True)
    other = _data([(scale_riffs.make_other(rng), 1.0, 0, RIFF) for _ in range(800)], True)
    phrases = _data([(scale_phrases.make(rng), 1.0, 0, RIFF) for _ in range(800)], True)
    by_hand = {
        f"loops by hand, {'begun at zero' if at_zero else 'in their place'}": judged(
            _data([(riff, 1.0, 0, RIFF) for row in riffs_by_hand.entered(at_zero) for riff in row], True), weights
        )
        for at_zero in (False, True)
    }
    heat = temperature(scores(fresh, weights), fresh.y)
    return {
        "loops of the grammar, other seeds": judged(fresh, weights),
        "loops of another grammar": judged(other, weights),
        "loops of phrases, other seeds": judged(phrases, weights),
        **by_hand,
        "calibration, loops": calibration(scores(fresh, weights), fresh.y, heat),
    }, heat


def fitted_on(tunes: list[Tune]) -> list[Tune]:
    """All but the tunes kept back and their families."""
    apart = {tune.family for tune in tunes if kept_back(tune.name)}
    return [tune for tune in tunes if tune.family not in apart]


def held_out(tunes: list[Tune]) -> tuple[dict[str, Any], float, Weights]:
    """All held-out figures, the temperature of the tunes, and the weights of the loops, cooled."""
    loops = fit_loops(loop_data(fitted_on(tunes)))
    of_loops, loop_heat = held_out_loops(loops)
    of_tunes, tune_heat = held_out_tunes(tunes)
    return {**of_tunes, **held_out_families(tunes), **of_loops}, tune_heat, loops.cooled(loop_heat)


def _rows(values: Floats, names: list[str]) -> str:
    lines = [
        f"{name:<32}| " + " ".join(f"{round(100 * v):5d}" for v in row) for name, row in zip(names, values, strict=True)
    ]
    return "\n".join(line.rstrip() for line in lines)


def table_text(name: str, kinds: tuple[str, ...], weights: Weights) -> str:
    """One table as it stands in ``scale_tables``, in hundredths."""
    own_kinds = [kinds[column // 12] for column in weights.columns[::12].tolist()]
    own = [f"{mode}: {kind}" for mode in MODES for kind in own_kinds]
    rows = weights.own.T.reshape(-1, 12)
    kept = [index for index, row in enumerate(rows) if (np.round(100 * row) != 0).any()]
    return (
        f'{name} = """\n{_rows(weights.shared.reshape(-1, 12), list(kinds))}\n'
        f"{_rows(rows[kept], [own[index] for index in kept])}\n"
        f'{_rows(weights.costs[None, :], ["costs"])}\n{_rows(weights.bias[:, None], [f"constant: {n}" for n in NAMES])}\n"""\n'
    )


HEADER = '''"""The fitted weights of ``scale_finder``, in hundredths: one table for tunes, one for loops; and of
``bar_lines``.

Made by ``python -m tests.fitting.fit_scales --write``; do not edit. A row has one number for each
distance above the root, 0 to 11 semitones; the scores are divided by their temperature already.
"""

'''


def tables_text(fitted: list[Tune], tune_heat: float, loops: Weights) -> str:
    """The whole module ``scale_tables``; ``loops`` cooled already."""
    lines = fit_bar_lines.fit(fitted)
    rounded = np.round(100 * lines) / 100
    return HEADER + "\n".join([
        table_text("TUNES", TUNE_KINDS, fit_tunes(truthful(fitted, tune_data(fitted, rounded))).cooled(tune_heat)),
        table_text("LOOPS", LOOP_KINDS, loops),
        f'BAR_LINES = """\n{_rows(lines[:, None], list(SIGNS))}\n"""\n',
    ])  # fmt: skip


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--cache", default="/tmp/loopdeck-tunes", help="where to keep the tunes once they are read")
    parser.add_argument("--write", action="store_true", help="fit on all but the tunes kept back, and write the tables")
    args = parser.parse_args()
    tunes = load(Path(args.cache))
    figures, tune_heat, loops = held_out(tunes)
    print(json.dumps(figures, indent=1))
    if args.write:
        import loopdeck.analysis

        path = Path(loopdeck.analysis.__path__[0]) / "scale_tables.py"
        path.write_text(tables_text(fitted_on(tunes), tune_heat, loops))
        print(f"written: {path}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
