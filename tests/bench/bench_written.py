"""How well the sections and themes of written music are found: ``python -m tests.bench written``.

The pieces and what is annotated in them are in ``written_music``; the scores are those of
``bench_riffs``: establishment and three-layer F1 as means over the pieces of each half. Beside the
method ``trivial``: exact repeats of eight notes or more (intervals and places on a sixteenth grid),
longest first, none that shares more than half with one taken before.
"""

import argparse
import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np

from tests.bench.bench_riffs import found, scores, trivial
from tests.bench.written_music import Written, pieces

KINDS = {
    "sections": ("sections",),
    "sections and themes": ("sections", "themes"),
    "sections, themes and motifs": ("sections", "themes", "motifs"),
}
LEAST_TRIVIAL = 8


def rows(one: Written) -> dict[tuple[str, str], dict[str, float]]:
    """The scores of a piece by kind of annotation and by method."""
    onset_q, length_q, pitch = (np.array(column) for column in zip(*one.notes, strict=True))
    exact = [pattern for pattern in trivial(pitch, onset_q) if len(pattern[0]) >= LEAST_TRIVIAL]
    listed = {"loopdeck": found(onset_q / 2, length_q / 2, pitch, onset_q), "trivial": exact}
    result = {}
    for kind, names in KINDS.items():
        truth = [pattern for name in names for pattern in getattr(one, name)]
        for method, patterns in listed.items():
            result[kind, method] = scores(truth, patterns, pitch, onset_q) if truth else {}
    return result


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    scored: dict[str, list[dict[str, float]]] = {}
    for one in pieces():
        for (kind, method), row in rows(one).items():
            if row:
                scored.setdefault(f"half {one.half}, {kind}, {method}", []).append(row)
    result = {
        name: {key: round(float(np.mean([row[key] for row in each])), 3) for key in each[0]}
        for name, each in scored.items()
    }
    if args.json:
        print(json.dumps(result))
        return
    for name, figures in result.items():
        print(f"{name:48}" + "  ".join(f"{key} {value:.2f}" for key, value in figures.items()))


if __name__ == "__main__":
    main()
