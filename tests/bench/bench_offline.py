"""What the reports cost without a player: ``python -m tests.bench offline [--json]``.

- A million notes quantized (2:1 sixteenths in ``4/4 4+3/8``) and scale-checked (G dorian): seconds,
  the best of five; aim: under 0.5.
- The same 10,000 notes quantized by us and by music21's ``Stream.quantize`` in the same run, as a
  ratio (ours over theirs; below 1 is faster). music21 moves them inside their stream (in place);
  building the stream is not counted.
"""

import argparse
import json
import sys
import time
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np

from loopdeck.analysis.scale_report import judge
from loopdeck.analysis.timing import Feel, report
from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.rhythm.grid import parse_grid
from loopdeck.rhythm.meter import parse_cycle
from loopdeck.rhythm.quantize import locate, quantize, slots
from loopdeck.rhythm.swing import parse_swing
from loopdeck.rhythm.tempo import TempoMap, parse_tempo
from loopdeck.theory.scale import parse_scale

NOTES = 1_000_000
COMPARED = 10_000
AIM_SEC = 0.5


def best_of(times: int, job: Callable[[], Any]) -> float:
    """The shortest of some runs, in seconds: what the job costs when the machine does nothing
    else.
    """
    shortest = float("inf")
    for _ in range(times):
        begun = time.perf_counter()
        job()
        shortest = min(shortest, time.perf_counter() - begun)
    return shortest


def million() -> dict[str, float]:
    """Seconds for a million notes."""
    rng = np.random.default_rng(96)
    tempo = TempoMap.steady(parse_tempo("96"))
    onset_sec = np.sort(rng.uniform(0, 8 * 3600, NOTES))
    pitch = rng.integers(23, 68, NOTES).astype(np.int16)
    table = slots(parse_cycle("4/4 4+3/8"), parse_grid("1/16"), parse_swing("2:1"))
    scale = parse_scale("G dorian")

    def both() -> None:
        tempo.seconds(quantize(tempo.quarters(onset_sec), table, 0.8, 0.9))
        judge(pitch, scale)

    return {
        "quantize_sec": best_of(5, lambda: tempo.seconds(quantize(tempo.quarters(onset_sec), table, 0.8, 0.9))),
        "locate_sec": best_of(5, lambda: locate(tempo.quarters(onset_sec), table)),
        "scale_check_sec": best_of(5, lambda: judge(pitch, scale)),
        "both_sec": best_of(5, both),
    }


def against_music21() -> dict[str, Any]:
    """Seconds of both for the same notes, and the ratio; the places must agree, else the comparison
    means nothing.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import music21
    rng = np.random.default_rng(10)
    onset_q = np.sort(rng.uniform(0, 4000, COMPARED))
    steps = onset_q * 4
    onset_q = np.where(np.abs(steps - np.floor(steps) - 0.5) < 0.01, np.floor(steps) / 4, onset_q)
    cycle, grid, swing = parse_cycle("4/4"), parse_grid("1/16"), parse_swing("straight")
    stream = music21.stream.Stream()
    for place in onset_q:
        stream.insert(float(place), music21.note.Note(40, quarterLength=0.25))
    begun = time.perf_counter()
    stream.quantize((4,), processOffsets=True, processDurations=False, inPlace=True)
    theirs = time.perf_counter() - begun
    ours = best_of(5, lambda: quantize(onset_q, slots(cycle, grid, swing)))
    agree = np.abs(quantize(onset_q, slots(cycle, grid, swing)) - [float(note.offset) for note in stream.notes]) < 1e-6
    # The whole report, with a dictionary a note, is what a command computes: the fairer comparison
    # with a library of objects.
    course = TempoMap.steady(parse_tempo("60"))
    feel, pitch = Feel(grid, swing), np.full(COMPARED, 40)
    told = best_of(3, lambda: report(onset_q, pitch, course, [Stretch(cycle.bar_starts[0], cycle)], feel))
    return {
        "version": music21.__version__,
        "notes": COMPARED,
        "same_places": int(agree.sum()),
        "theirs_sec": theirs,
        "ours_sec": ours,
        "ratio": ours / theirs,
        "our_report_sec": told,
        "report_ratio": told / theirs,
    }


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true", help="print JSON and nothing else")
    args = parser.parse_args()
    figures: dict[str, Any] = {"notes": NOTES, **million()}
    try:
        figures["music21"] = against_music21()
    except ImportError:
        figures["music21"] = None
    figures["aim_sec"] = AIM_SEC
    figures["met"] = figures["both_sec"] < AIM_SEC
    if args.json:
        print(json.dumps(figures))
        return 0
    print(f"{NOTES:,} notes, best of five:")
    for name in ("quantize", "locate", "scale_check", "both"):
        print(f"  {name:<14}{figures[name + '_sec'] * 1000:9.1f} ms")
    print(f"  aim for both: under {AIM_SEC * 1000:.0f} ms, {'met' if figures['met'] else 'MISSED'}")
    other = figures["music21"]
    if other is None:
        print("music21 is not installed; no comparison.")
        return 0
    print(f"{COMPARED:,} notes against music21 {other['version']} (same places: {other['same_places']:,}):")
    print(f"  music21       {other['theirs_sec'] * 1000:9.1f} ms")
    print(
        f"  quantize      {other['ours_sec'] * 1000:9.1f} ms   ratio {other['ratio']:.6f}, "
        f"{1 / other['ratio']:,.0f} times as fast"
    )
    print(
        f"  whole report  {other['our_report_sec'] * 1000:9.1f} ms   ratio {other['report_ratio']:.6f},"
        f" {1 / other['report_ratio']:,.0f} times as fast"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
