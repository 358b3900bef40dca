"""How well riffs are found: ``python -m tests.bench riffs [--takes 60] [--json]``.

Planted riffs in humanised noodling (``riff_grammar``) and melodies in written forms
(``form_grammar``), scored with mir_eval 0.8's ``pattern`` module (the measures of the MIREX task
Discovery of Repeated Themes & Sections): establishment, occurrence (threshold .75) and three-layer
F1, as means over the takes. ``whole``: the share of planted riffs of which one listed riff holds a
planting note for note, and every planting but at most one in ten by nine notes of ten. ``trivial``
beside it: all maximal exact repeats (intervals and places on a sixteenth grid) of five notes or
more, longest first, none that overlaps one taken before by more than half. Seeds from 1000 to 2999
were never used to set a figure of the method.
"""

import argparse
import json
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
from mir_eval import pattern as measure

from loopdeck.analysis.repeats.riffs import find_riffs
from loopdeck.analysis.repeats.text import text_of
from tests.bench.form_grammar import piece
from tests.bench.riff_grammar import planted

Pattern = list[list[int]]


def found(onset_sec: Any, duration_sec: Any, pitch: Any, onset_q: Any) -> list[Pattern]:
    """What the method lists."""
    text = text_of(onset_sec, duration_sec, pitch, np.zeros(len(pitch)), onset_q)
    riffs = find_riffs(text, np.ones(len(pitch), int))
    return [[list(one.indices) for one in riff.occurrences] for riff in riffs]


def trivial(pitch: Any, onset_q: Any) -> list[Pattern]:
    """Maximal exact repeats, longest first."""
    steps = list(zip(np.diff(pitch).tolist(), np.round(np.diff(onset_q) * 4).tolist(), strict=True))
    taken: list[Pattern] = []
    for length in range(min(len(steps), 200), 3, -1):
        places: dict[tuple[Any, ...], list[int]] = {}
        for start in range(len(steps) - length + 1):
            places.setdefault(tuple(steps[start : start + length]), []).append(start)
        for starts in places.values():
            if len(starts) < 2:
                continue
            spans = [list(range(start, start + length + 1)) for start in starts]
            if any(_overlap(spans[0], other) > 0.5 for one in taken for other in one):
                continue
            taken.append(spans)
    return taken


def _overlap(one: list[int], other: list[int]) -> float:
    return len(set(one) & set(other)) / min(len(one), len(other))


def scores(truth: list[Pattern], listed: list[Pattern], pitch: Any, onset_q: Any) -> dict[str, float]:
    """mir_eval's three F1, with precision and recall of the first."""
    points = [(float(place), float(height)) for place, height in zip(onset_q, pitch, strict=True)]
    reference, estimate = (
        [[[points[i] for i in one] for one in pattern] for pattern in side] for side in (truth, listed)
    )
    if not estimate:
        return dict.fromkeys(("establishment", "precision", "recall", "occurrence", "three_layer"), 0.0)
    first = measure.establishment_FPR(reference, estimate)
    return {
        "establishment": first[0],
        "precision": first[1],
        "recall": first[2],
        "occurrence": measure.occurrence_FPR(reference, estimate)[0],
        "three_layer": measure.three_layer_FPR(reference, estimate)[0],
    }


def whole(riff: Pattern, listed: list[Pattern]) -> bool:
    """One listed riff has a planting note for note, and nine in ten of all of them nearly so."""

    def near(one: list[int], other: list[int]) -> float:
        return len(set(one) & set(other)) / max(len(one), len(other))

    for pattern in listed:
        best = [max(near(one, other) for other in pattern) for one in riff]
        if max(best) == 1.0 and np.mean(np.array(best) >= 0.9) >= 0.9:
            return True
    return False


def planted_scores(seeds: range, simple: bool = False) -> dict[str, float]:
    """Means over takes with planted riffs."""
    rows, riffs = [], []
    for seed in seeds:
        take = planted(seed)
        onset_q = take.onset_sec * take.bpm / 60.0
        listed = (
            trivial(take.pitch, onset_q) if simple else found(take.onset_sec, take.duration_sec, take.pitch, onset_q)
        )
        rows.append(scores(take.truth, listed, take.pitch, onset_q))
        riffs += [whole(riff, listed) for riff in take.truth]
    return {**_means(rows), "whole": float(np.mean(riffs)), "riffs": len(riffs)}


def form_scores(seeds: range, simple: bool = False) -> dict[str, float]:
    """Means over melodies in written forms."""
    rows = []
    for seed in seeds:
        made = piece(seed)
        onset_q, length_q, pitch = (np.array(column) for column in zip(*made.notes, strict=True))
        listed = trivial(pitch, onset_q) if simple else found(onset_q / 2, length_q / 2, pitch, onset_q)
        rows.append(scores(made.truth, listed, pitch, onset_q))
    return _means(rows)


def _means(rows: list[dict[str, float]]) -> dict[str, float]:
    return {key: round(float(np.mean([row[key] for row in rows])), 4) for key in rows[0]}


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--takes", type=int, default=60)
    parser.add_argument("--pieces", type=int, default=60)
    parser.add_argument("--from", type=int, default=1000, dest="first")
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    takes, pieces = range(args.first, args.first + args.takes), range(args.first, args.first + args.pieces)
    result = {
        "planted": planted_scores(takes),
        "planted, trivial": planted_scores(takes, simple=True),
        "forms": form_scores(pieces),
        "forms, trivial": form_scores(pieces, simple=True),
    }
    if args.json:
        print(json.dumps(result))
        return
    for name, figures in result.items():
        print(f"{name:18}" + "  ".join(f"{key} {value:.3f}" for key, value in figures.items()))


if __name__ == "__main__":
    main()
