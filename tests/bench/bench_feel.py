"""How near the swing estimate comes, how often its interval covers the truth, how right the scale
finder is on held-out tunes and loops, and how fast.

``python -m tests.bench feel`` prints the figures, ``--json`` as one object; ``--players N`` players
of each kind, ``--tunes DIR`` also judges the scale finder collection against collection
(``tests.fitting.fit_scales``; a minute), and prints it beside music21's key finder on the same
tunes.
"""

import argparse
import json
import sys
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from loopdeck.analysis.feel import measure
from loopdeck.analysis.feel_sentences import says
from loopdeck.analysis.live import worst
from loopdeck.analysis.scale_finder import playing_of
from loopdeck.analysis.scale_report import report
from loopdeck.analysis.swing_estimate import estimate
from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.meter import parse_cycle
from loopdeck.rhythm.swing import Swing
from loopdeck.rhythm.tempo import TempoMap, parse_tempo
from loopdeck.theory.scale import parse_scale
from tests.bench.feel_players import play

UNITS = {"1/8": Fraction(1, 2), "1/16": Fraction(1, 4)}
CYCLES = ("4/4", "4+3/8", "2+2+3/8", "3+3+2/8", "5/4")
#: Notes of five minutes at 96: eighths and sixteenths.
FIVE_MINUTES = 480


def swing_figures(players: int, bars: int, density: float, seed: int = 11) -> dict[str, Any]:
    """Half straight, half of any share; Gaussian timing of 10 ms at 96, a constant part of -20 to
    40 ms, both subdivisions, all the cycles.
    """
    rng = np.random.default_rng(seed)
    near, covered, straight_called, nothing, worst = [], [], [], 0, 0.0
    for index in range(players):
        unit = ("1/8", "1/16")[index % 2]
        cycle = parse_cycle(CYCLES[index // 2 % len(CYCLES)])
        share = 0.5 if rng.random() < 0.5 else float(rng.uniform(0.5, 0.75))
        swing = Swing(Fraction(share / (1 - share)).limit_denominator(10**6), UNITS[unit])
        played = play(rng, cycle, bars, swing, unit, density, constant_ms=float(rng.uniform(-20, 40)))
        found = estimate(played.onset_q, cycle, 96).found[unit]  # type: ignore[index]
        if found is None:
            nothing += 1
            continue
        near.append(abs(found.share - share) <= 0.02)
        covered.append(found.low <= share / (1 - share) <= found.high)
        worst = max(worst, abs(found.share - share))
        if share == 0.5:
            straight_called.append(found.is_swung)
    return {
        "players": players,
        "bars": bars,
        "density": density,
        "too_few_pairs": nothing,
        "within_2_points": round(float(np.mean(near)), 4),
        "interval_covers": round(float(np.mean(covered)), 4),
        "straight_called_swung": round(float(np.mean(straight_called)), 4),
        "worst_points": round(100 * worst, 2),
    }


def _best(call: Callable[[], Any], times: int = 3) -> float:
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        taken.append(time.perf_counter() - start)
    return round(min(taken), 4)


def speed_figures() -> dict[str, Any]:
    """A take of five minutes at 96, and what is said after a pass."""
    rng = np.random.default_rng(3)
    cycle, tempo = parse_cycle("4/4"), TempoMap.steady(parse_tempo("96"))
    swing = Swing(Fraction(3, 2), Fraction(1, 4))
    onset_q = play(rng, cycle, FIVE_MINUTES // 4, swing, "1/16", 0.8).onset_q
    count = len(onset_q)
    pitch, velocity = rng.choice([28, 30, 31, 33, 35, 37, 38, 40], count), rng.integers(60, 110, count)
    seconds, stretches = tempo.seconds(onset_q), (Stretch(Fraction(0), cycle),)
    grid, scale = Grid("1/16"), parse_scale("E dorian")
    playing = playing_of(pitch, onset_q, np.full(count, 0.2), rng.random(count), 4.0, True)
    last = slice(count - 120, count)
    part = playing_of(pitch[last], onset_q[last], np.full(120, 0.2), rng.random(120), 4.0, False)
    return {
        "notes": count,
        "feel_sec": _best(lambda: says(measure(seconds, pitch, velocity, tempo, stretches, grid, swing))),
        "check_sec": _best(lambda: report(playing, seconds, np.ones(count, int), scale)),
        "after_a_pass_sec": _best(
            lambda: worst(
                measure(seconds[last], pitch[last], velocity[last], tempo, stretches, grid, swing), part, scale
            )
        ),
    }


def tune_figures(cache: Path) -> dict[str, Any]:
    """The scale finder on tunes of one collection, fitted without it; music21's key finder and the
    last note beside it.
    """
    from tests.fitting.fit_scales import held_out
    from tests.fitting.tunes import load

    tunes = load(cache)
    figures, _, _ = held_out(tunes)
    figures["the last note is the root"] = round(
        float(np.mean([tune.pitch[-1] % 12 == tune.root for tune in tunes])), 4
    )
    return figures


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--json", action="store_true", help="print JSON and nothing else")
    parser.add_argument("--players", type=int, default=1000, help="players of each kind")
    parser.add_argument("--tunes", help="also judge the scale finder; where to keep the tunes")
    args = parser.parse_args()
    figures: dict[str, Any] = {
        "swing": [swing_figures(args.players, bars, density) for bars in (2, 4) for density in (1.0, 0.75)],
        "speed": speed_figures(),
    }
    if args.tunes:
        figures["scale"] = tune_figures(Path(args.tunes))
    print(json.dumps(figures, indent=None if args.json else 1))
    return 0


if __name__ == "__main__":
    sys.exit(main())
