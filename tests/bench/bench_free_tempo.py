"""How often tempo and meter of playing without a click are guessed right, by seeds that nothing was
chosen on.

``python -m tests.bench free_tempo`` prints the figures, ``--json`` as one object. ``--seeds FIRST
COUNT`` are the players' seeds: those from 0 on were used to choose the weights, those from 10,000
on were not. Right: the meter, and the tempo within 4 %. An octave error is half or twice the tempo
(and 3/2 or 2/3, counted apart); the length of the bar is then often right. ``--brief near`` tells
the tempo of the player's brief, off by a fifth of an octave (one standard deviation), ``--brief
other`` that of a brief that has nothing to do with the playing. ``--planted`` judges the first half
minute of the takes of ``riff_grammar`` in 4/4, 3/4 and 7/8 instead: another grammar, made for
another purpose, which begins with noodling.
"""

import argparse
import json
import time
from collections import Counter
from typing import Any

import numpy as np

from loopdeck.analysis.induction.free_tempo import SURE, free_tempo
from tests.bench.riff_grammar import planted
from tests.simulators.free_player import METERS, phrase

WITHIN = 0.04
HALF_MINUTE = 30.0


def players(first: int, count: int, swing: float = 0.5) -> list[tuple[Any, ...]]:
    """(tempo, meter, onsets, pitches, velocities) of each player."""
    made = [phrase(first + index, list(METERS)[index % 3] if swing == 0.5 else "4/4", swing) for index in range(count)]
    return [(one.qpm, one.meter, one.onset_sec, one.pitch, one.velocity) for one in made]


def planted_takes(first: int, count: int) -> list[tuple[Any, ...]]:
    """The first half minute of takes of the other grammar."""
    found: list[tuple[Any, ...]] = []
    while len(found) < count:
        take = planted(first, minutes=1.0)
        first += 1
        if take.cycle in METERS:
            mine = take.onset_sec < take.onset_sec[0] + HALF_MINUTE
            found.append((take.bpm, take.cycle, take.onset_sec[mine], take.pitch[mine], np.full(mine.sum(), 90.0)))
    return found


def brief_of(rng: np.random.Generator, kind: str, qpm: float) -> float | None:
    """The tempo of the brief of a player who plays at ``qpm``."""
    near, other = qpm * 2.0 ** rng.normal(0.0, 0.2), rng.uniform(60.0, 180.0)
    return {"near": float(near), "other": float(other)}.get(kind)


def judge(material: list[tuple[Any, ...]], brief: str = "none") -> dict[str, Any]:
    """Shares of all players, and of those to whom something would be offered."""
    rng = np.random.default_rng(7)
    counts: Counter[str] = Counter()
    took = []
    for qpm, meter, *notes in material:
        known = brief_of(rng, brief, qpm)
        began = time.perf_counter()
        found = free_tempo(*notes, known_qpm=known)
        took.append(time.perf_counter() - began)
        if found is None:
            counts["nothing"] += 1
            continue
        ratio = found.qpm / qpm
        kind = next((name for name, wanted in RATIOS.items() if abs(ratio / wanted - 1.0) < WITHIN), "other")
        words = [
            kind,
            f"meter {found.meter == meter}",
            f"both {kind == 'right' and found.meter == meter}",
            f"{meter} {kind == 'right' and found.meter == meter}",
        ]
        offered = [f"offered {word}" for word in ("all", *words)] if found.sure >= SURE else []
        counts.update([*words, *offered])
    total = len(material)
    offers = counts["offered all"]
    return {
        "players": total,
        "tempo_right": counts["right"] / total,
        "octave": (counts["half"] + counts["twice"]) / total,
        "threes": (counts["two thirds"] + counts["three halves"]) / total,
        "other": counts["other"] / total,
        "nothing": counts["nothing"] / total,
        "meter_right": counts["meter True"] / total,
        "both_right": counts["both True"] / total,
        **{
            f"both_{meter}": counts[f"{meter} True"] / max(counts[f"{meter} True"] + counts[f"{meter} False"], 1)
            for meter in METERS
        },
        "offered": offers / total,
        "offered_both_right": counts["offered both True"] / max(offers, 1),
        "offered_tempo_right": counts["offered right"] / max(offers, 1),
        "offered_octave": (counts["offered half"] + counts["offered twice"]) / max(offers, 1),
        "ms": 1000 * float(np.median(took)),
    }


RATIOS = {"right": 1.0, "half": 0.5, "twice": 2.0, "two thirds": 2 / 3, "three halves": 1.5}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", nargs=2, type=int, default=(10_000, 300), metavar=("FIRST", "COUNT"))
    parser.add_argument("--planted", action="store_true")
    parser.add_argument("--swing", type=float, default=0.5)
    parser.add_argument("--brief", choices=("none", "near", "other"), default="none")
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    first, count = args.seeds
    found = judge(planted_takes(first, count) if args.planted else players(first, count, args.swing), args.brief)
    if args.json:
        print(json.dumps(found))
        return
    for name, value in found.items():
        print(f"{name:22} {value:.3f}" if isinstance(value, float) else f"{name:22} {value}")


if __name__ == "__main__":
    main()
