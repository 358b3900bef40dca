"""What starting up costs: ``python tests/bench/bench_startup.py [--json] [--runs N]``.

``loopdeck check`` on a small file, from start to exit, against a bare interpreter that imports numpy and mido: the median of each,
run in turn so that a busy machine slows both, and their ratio. Aim: at most 1.5. Both find their modules compiled, as those of an
installed program are: the compiled ones lie in a folder of their own, filled by one run of each beforehand.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import mido

ROOT = Path(__file__).resolve().parents[2]
RUNS = 15
AIM = 1.5


def seconds(command: list[str], compiled: str) -> float:
    """How long a process takes, from its start to its end. ``compiled``: the folder of compiled modules."""
    env = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    env["PYTHONPYCACHEPREFIX"] = compiled
    begun = time.perf_counter()
    subprocess.run(command, cwd=ROOT, env=env, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - begun


def small_file(path: Path) -> None:
    """Eight bars of eighths."""
    track = mido.MidiTrack()
    for index in range(64):
        track.append(mido.Message("note_on", note=40 + (index * 5) % 13, velocity=90))
        track.append(mido.Message("note_off", note=40 + (index * 5) % 13, time=240))
    mido.MidiFile(type=0, ticks_per_beat=480, tracks=[track]).save(path)


def measure(runs: int) -> dict[str, float]:
    """Medians in seconds, and the ratio of the first to the second; ``met`` says whether that is within the aim."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "small.mid"
        small_file(path)
        check = [sys.executable, "-m", "loopdeck", "check", str(path), "--scale", "E dorian"]
        bare = [sys.executable, "-c", "import numpy, mido"]
        seconds(check, folder)
        seconds(bare, folder)
        pairs = [(seconds(check, folder), seconds(bare, folder)) for _ in range(runs)]
    check_sec, bare_sec = (statistics.median(column) for column in zip(*pairs, strict=True))
    ratio = check_sec / bare_sec
    return {
        "check_sec": check_sec,
        "bare_sec": bare_sec,
        "ratio": ratio,
        "aim": AIM,
        "met": ratio <= AIM,
        "runs": runs,
    }


def main() -> int:
    """Measure and print, whether or not the aim is met."""
    parser = argparse.ArgumentParser(description="What loopdeck check costs to start.")
    parser.add_argument("--json", action="store_true", help="print JSON and nothing else")
    parser.add_argument("--runs", type=int, default=RUNS, metavar="N", help=f"pairs of runs (default {RUNS})")
    args = parser.parse_args()
    found = measure(max(args.runs, 1))
    if args.json:
        print(json.dumps(found))
    else:
        print(f"loopdeck check   {found['check_sec']:.3f} s")
        print(f"numpy and mido   {found['bare_sec']:.3f} s")
        print(f"ratio            {found['ratio']:.2f}    (aim: at most {AIM}, {'met' if found['met'] else 'MISSED'})")
    return 0


if __name__ == "__main__":
    sys.exit(main())
