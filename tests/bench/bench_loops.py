"""How well root and scale are told of loops that are not the same each time, and of one round
alone: ``python -m tests.bench loops [--riffs 300] [--json]``.

Riffs of ``tests.fitting.scale_riffs``, of the grammar the tables were fitted on (other seeds) and
of the other one, as a file would hold them: whether they go round is for the finder to tell.
"""

import argparse
import json
import sys
from collections.abc import Callable

import numpy as np

from loopdeck.analysis.scale_features import is_loop
from loopdeck.analysis.scale_finder import goes_round, playing_of, rank
from loopdeck.rhythm.meter import parse_cycle
from tests.fitting import scale_riffs
from tests.fitting.fit_scales import strong_places
from tests.fitting.scale_riffs import Riff

WHAT = ("as it is", "a note changed", "a note left out", "one round")


def varied(rng: np.random.Generator, riff: Riff, what: str) -> Riff:
    """The riff with one mishap, or its first round."""
    at = int(rng.integers(1, len(riff.pitch)))
    if what == "a note changed":
        pitch = riff.pitch.copy()
        pitch[at] += int(rng.choice([-12, 12, -5, 5, -1, 1]))
        return riff._replace(pitch=pitch)
    kept = np.arange(len(riff.pitch))
    if what == "a note left out":
        kept = np.delete(kept, at)
    elif what == "one round":
        round_q = is_loop(riff.pitch, riff.onset_q) or 8.0
        kept = kept[: max(int(np.searchsorted(riff.onset_q, riff.onset_q[0] + round_q - 0.01)), 4)]
    return riff._replace(onset_q=riff.onset_q[kept], length_q=riff.length_q[kept], pitch=riff.pitch[kept])


def told(make: Callable[[np.random.Generator], Riff], what: str, riffs: int) -> dict[str, float]:
    """The shares of riffs whose root and scale are first, within three, whose root is, and of those
    that are heard to go round."""
    rng = np.random.default_rng(77)
    rows = []
    for _ in range(riffs):
        riff = varied(rng, make(rng), what)
        meter = parse_cycle(riff.meter).meters[0]
        strong = strong_places(riff.onset_q, riff.meter)
        playing = playing_of(
            riff.pitch, riff.onset_q, riff.length_q, strong, float(meter.quarters), ends=True, meter=meter
        )
        found = [(one.scale.root.pitch_class, one.scale.name) for one in rank(playing, 3)]
        truth = (riff.root % 12, riff.mode)
        rows.append([found[0] == truth, truth in found, found[0][0] == truth[0], goes_round(playing)])
    means = np.mean(rows, axis=0).round(4).tolist()
    return dict(zip(("first", "within_three", "root", "goes_round"), means, strict=True))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--riffs", type=int, default=300)
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    grammars = {"the grammar": scale_riffs.make, "another grammar": scale_riffs.make_other}
    figures = {f"{name}, {what}": told(make, what, args.riffs) for name, make in grammars.items() for what in WHAT}
    if args.json:
        print(json.dumps(figures))
    else:
        for name, row in figures.items():
            print(f"{name:34} " + "  ".join(f"{key} {100 * share:.1f} %" for key, share in row.items()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
