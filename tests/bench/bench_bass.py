"""What the bass costs: ``python -m tests.bench bass [--json] [--notes N]``.

- Fingering and technique of a long take: notes a second, of the processor and by the clock, the
  best of three (aim: 20,000 a second). The take is a simulated pickup's (``tests/simulators``),
  with bends, slides and hammer-ons, repeated until it is long enough.
- Live technique: what one pass of the loop costs when all that was played in it is read again, in
  milliseconds (aim: under 2); and what one note costs the window, which reads the newest notes of
  its string again.
- A baseline of the same run (sorting and adding small arrays, as all of these do), in operations a
  second: on a machine that does other work as well the ratios to it tell more than the figures
  themselves (``notes_per_thousand_baseline``).
"""

import argparse
import json
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from loopdeck.bass.fingering import finger
from loopdeck.bass.pickup.cleaning import clean
from loopdeck.bass.pickup.profile import Cleaning
from loopdeck.bass.technique.finding import technique
from loopdeck.capture.bulk_pairing import pair
from loopdeck.capture.events import Event
from loopdeck.capture.notes import Notes
from loopdeck.theory.tuning import FOUR_STRING
from loopdeck.window.note_view import NoteView
from loopdeck.window.technique import WINDOW, how_played
from tests.simulators.pickup import Pickup, stream

#: Notes of one pass: four bars of sixteenths would be 64; players leave gaps.
_PASS_NOTES = 32


def _take(mode: str, count: int) -> Notes:
    """About ``count`` notes as a pickup sends them."""
    one = stream(5, Pickup(mode), 400, 110.0)
    played = pair([Event(sec, 0, data) for sec, data in one.events])
    times = max(round(count / len(played.array)), 1)
    rows = np.concatenate([played.array] * times)
    length = float(played.array["onset_sec"][-1]) + 2.0
    rows["onset_sec"] += np.repeat(np.arange(times) * length, len(played.array))
    return Notes(rows, played.bends * times)


def _best(job: Callable[[], Any], count: int, times: int = 3) -> dict[str, float]:
    """The best of some runs: seconds of the processor and by the clock, and notes a second."""
    found = []
    for _ in range(times):
        begun, used = time.perf_counter(), time.process_time()
        job()
        found.append((time.process_time() - used, time.perf_counter() - begun))
    cpu, wall = min(one[0] for one in found), min(one[1] for one in found)
    return {"cpu_sec": cpu, "wall_sec": wall, "notes_per_cpu_sec": count / cpu, "notes_per_sec": count / wall}


def _baseline() -> float:
    """Small array operations a second of the processor, now."""
    values, begun = np.random.default_rng(1).random(64), time.process_time()
    for _ in range(20_000):
        np.add(values, values).sort()
    return 20_000 / (time.process_time() - begun)


def _window_note_ms() -> float:
    """What one note costs the window: ``WINDOW`` notes of a string read again."""
    take = _take("bend", 400)
    rows = [index for index in range(len(take.array)) if take.array["channel"][index] == 1][:WINDOW]
    notes = [
        NoteView(
            id=index, pass_index=0, at_q=0.0, slot_q=0.0, pitch=int(row["pitch"]), velocity=int(row["velocity"]), string=2,
            stamp_sec=float(row["onset_sec"]), length_q=float(row["duration_sec"]) * 2,
            bend=[(float(sec) * 2, float(up)) for sec, up in take.bends[index]],
        )
        for index, row in ((index, take.array[index]) for index in rows)
    ]  # fmt: skip
    begun = time.process_time()
    for _ in range(50):
        how_played(notes, 120.0)
    return (time.process_time() - begun) * 1000 / 50


def measure(count: int) -> dict[str, Any]:
    """All figures."""
    found: dict[str, Any] = {"notes": count}
    rng = np.random.default_rng(3)
    steady = _take("chromatic", count)
    steady.array["pitch"] = np.clip(np.cumsum(rng.integers(-3, 4, len(steady.array))) % 24 + 28, 28, 55)
    steady.array["string"] = 0
    found["fingering"] = _best(lambda: finger(steady.array, FOUR_STRING), len(steady.array))
    for mode in ("bend", "chromatic"):
        take = _take(mode, count)
        found[f"technique_{mode}"] = _best(lambda take=take: technique(take.array, take.bends), len(take.array))
        found[f"cleaning_{mode}"] = _best(lambda take=take: clean(take.array, take.bends, Cleaning()), len(take.array))
        rows, bends = take.array[:_PASS_NOTES], take.bends[:_PASS_NOTES]
        costs = []
        for _ in range(50):
            begun = time.process_time()
            technique(rows, bends)
            costs.append((time.process_time() - begun) * 1000)
        found[f"live_pass_{mode}_ms"] = {"median": float(np.median(costs)), "worst": max(costs)}
    found["window_note_ms"] = _window_note_ms()
    found["baseline_per_sec"] = (baseline := _baseline())
    for one in found.values():
        if isinstance(one, dict) and "notes_per_cpu_sec" in one:
            one["notes_per_thousand_baseline"] = one["notes_per_cpu_sec"] / baseline * 1000
    return found


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--notes", type=int, default=20_000)
    args = parser.parse_args()
    found = measure(args.notes)
    if args.json:
        print(json.dumps(found))
        return
    for name, one in found.items():
        print(name, {key: round(value, 4) for key, value in one.items()} if isinstance(one, dict) else one)


if __name__ == "__main__":
    main()
