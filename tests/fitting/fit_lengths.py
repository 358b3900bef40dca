"""Make the weights of written durations: ``python -m tests.fitting.fit_lengths CORPUS.npz``.

Played are the corpus pieces and studies of the "fit" part of the split, half of them with another
touch, and lines with rests (``rhythm/lines.py``); all places are the right ones. The weights of a
conditional logit are found by maximum likelihood with a Gaussian prior (L-BFGS), once without the
touch (by these the touch is found), and once with it. ``CORPUS.npz`` is what ``rhythm/corpus.py``
wrote. The weights go to ``loopdeck/analysis/transcription/length_table.json``. ``--check`` fits
nothing and prints how many durations of the "check" part are right.
"""

import argparse
import json
import sys
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from loopdeck.analysis.transcription import durations as lengths
from loopdeck.analysis.transcription.durations import Candidates, Sounding
from tests.fitting.rhythm.corpus import TICKS
from tests.fitting.rhythm.lines import line, touched
from tests.fitting.rhythm.pieces import Piece, corpus_pieces, excerpt, studies
from tests.fitting.rhythm.players import Played, play

#: Notes of an excerpt; the prior's variance of a weight.
NOTES, VARIANCE = 250, 4.0


class Take(NamedTuple):
    """A played take: what its durations are found by, and the written ones in ticks."""

    notes: Sounding
    truth: NDArray[np.int64]


def take(one: Piece, played: Played) -> Take:
    """A take whose places are all right; its ornaments are left out."""
    scale = lengths.TICKS // TICKS
    rows = np.flatnonzero((played.written >= one.beats[0]) & (played.written < one.beats[-1]) & ~played.ornament)
    rows = rows[np.argsort(played.written[rows], kind="stable")]
    written = played.written[rows]
    beat = np.searchsorted(one.beats, written, side="right") - 1
    start, length = one.beats[beat], np.diff(one.beats)[beat]
    parts = np.full(len(one.beats), 1)
    for index in np.unique(beat).tolist():
        inside = np.unique(written[beat == index]) - one.beats[index]
        parts[index] = np.lcm.reduce(
            [Fraction(int(place), int(length[beat == index][0])).denominator for place in inside]
        )
    usual = np.where(one.compound[beat], 6, 4)
    parts = np.where((parts[beat] >= 3) & (parts[beat] <= 9), parts[beat], usual)
    notes = Sounding(
        written * scale,
        played.duration_q[rows],
        played.pitch[rows],
        length * scale // parts,
        start * scale,
        length * scale,
        one.compound[beat],
    )
    return Take(notes, played.written_length[rows] * scale)


def takes(path: str, part: str) -> list[Take]:
    """The takes of a part of the split."""
    base = {"fit": 0, "check": 10_000, "held": 20_000}[part]
    few = part != "fit"
    found = []
    for index, whole in enumerate(corpus_pieces(path, part)[:: 6 if few else 4] + studies(part, 6 if few else 20)):
        rng = np.random.default_rng([51, base + index])
        one = excerpt(whole, NOTES, rng)
        played = play(one.notes, one.beats, rng)
        found.append(take(one, touched(played, rng) if rng.random() < 0.5 else played))
    for seed in range(base, base + (24 if few else 100)):
        rng = np.random.default_rng([52, seed])
        one = line(seed)
        played = play(one.notes, one.beats, rng, care=rng.uniform(0.5, 1.0))
        found.append(take(one, touched(played, rng) if rng.random() < 0.8 else played))
    return found


def fit(rows: list[tuple[NDArray[np.int64], NDArray[np.bool_], NDArray[np.int64]]], size: int) -> NDArray[np.float64]:
    """Weights (size,) under which the right candidates are likeliest; ``rows``: for each take the
    indices of the weights of its candidates (n, MANY, tables), which there are, and which is right.
    """
    kinds, there, right = (np.concatenate(column) for column in zip(*rows, strict=True))
    chosen = np.bincount(kinds[np.arange(len(right)), right].reshape(-1), minlength=size)

    def loss(weight: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        worth = np.where(there, weight[kinds].sum(axis=2), -1e9)
        worth -= worth.max(axis=1, keepdims=True)
        share = np.exp(worth)
        total = share.sum(axis=1, keepdims=True)
        share /= total
        slope = np.bincount(kinds.reshape(-1), np.repeat(share.reshape(-1), kinds.shape[2]), size)
        value = -float((worth[np.arange(len(right)), right] - np.log(total[:, 0])).sum())
        return value + 0.5 * float(weight @ weight) / VARIANCE, slope - chosen + weight / VARIANCE

    return np.asarray(minimize(loss, np.zeros(size), jac=True, method="L-BFGS-B", options={"maxiter": 80}).x)


def row(
    found: Candidates, truth: NDArray[np.int64], kinds: list[NDArray[np.int64]], names: list[str]
) -> tuple[NDArray[np.int64], NDArray[np.bool_], NDArray[np.int64]]:
    """A take for ``fit``: those of its notes whose duration is among the candidates."""
    first = np.cumsum([0] + [int(np.prod(lengths.SHAPES[name])) for name in names])
    hit = (found.ticks == truth[:, None]) & (found.ticks > 0)
    some = hit.any(axis=1)
    flat = np.stack([kind[some] + start for kind, start in zip(kinds, first, strict=False)], axis=2)
    return flat, found.ticks[some] > 0, hit[some].argmax(axis=1)


def split(weight: NDArray[np.float64], names: list[str], before: str = "") -> dict[str, NDArray[np.float64]]:
    """The weights of each table."""
    ends = np.cumsum([int(np.prod(lengths.SHAPES[name])) for name in names])
    return {before + name: part for name, part in zip(names, np.split(weight, ends[:-1]), strict=True)}


def score(some: list[Take], tables: dict[str, NDArray[np.float64]]) -> tuple[float, float]:
    """The share of right durations, and of those that are among the candidates."""
    right = there = total = 0
    for one in some:
        found = lengths.candidates(one.notes)
        player = lengths.touch(found, lengths.weighed(found, tables, "first "))
        worth = lengths.weighed(found, tables) + tables["touch"].take(lengths.touched(found, player))
        chosen = found.ticks[np.arange(len(worth)), worth.argmax(axis=1)]
        known = one.truth > 0
        right += int((chosen == one.truth)[known].sum())
        there += int((found.ticks == one.truth[:, None]).any(axis=1)[known].sum())
        total += int(known.sum())
    return right / total, there / total


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("corpus", metavar="CORPUS.npz")
    parser.add_argument("--check", action="store_true", help="fit nothing, print the share of right durations")
    args = parser.parse_args()
    if args.check:
        print("right, among the candidates:", score(takes(args.corpus, "check"), lengths.weights()))
        return 0
    some = takes(args.corpus, "fit")
    all_found = [lengths.candidates(one.notes) for one in some]
    names = [name for name in lengths.SHAPES if name != "touch"]
    size = sum(int(np.prod(lengths.SHAPES[name])) for name in names)
    plain = [
        row(found, one.truth, list(found.kinds.values()), names) for found, one in zip(all_found, some, strict=True)
    ]
    tables = split(fit(plain, size), names, "first ")
    rows = []
    for found, one in zip(all_found, some, strict=True):
        player = lengths.touch(found, lengths.weighed(found, tables, "first "))
        kinds = [*found.kinds.values(), lengths.touched(found, player)]
        rows.append(row(found, one.truth, kinds, [*names, "touch"]))
    size += int(np.prod(lengths.SHAPES["touch"]))
    tables |= split(fit(rows, size), [*names, "touch"])
    print("fit: right, among the candidates:", score(some, tables))
    stored = [f'"{name}": {json.dumps(values.round(3).tolist())}' for name, values in tables.items()]
    lengths.PATH.write_text("{\n" + ",\n".join(stored) + "\n}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
