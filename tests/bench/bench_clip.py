"""How much faster than real time a clip is made at 1280x720, by the clock and by the processor.

Usage: ``python -m tests.bench clip [--json] [--seconds 10]``. The music is eighths of a scale at 96
without a repeat; a ratio of 2 is a clip of ten seconds made in five. It needs ``loopdeck[clip]``.
"""

import argparse
import json
import tempfile
from pathlib import Path

from tests.bench.bench_page import make_file, took

KINDS = {
    "mp4": ("clip.mp4",),
    "webm": ("clip.webm",),
    "webm_clear": ("clip.webm", "--background", "clear"),
    "gif": ("clip.gif",),
}


def figures(seconds: int) -> dict[str, dict[str, float]]:
    """The ratios by kind."""
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        music = Path(folder) / "music.mid"
        make_file(music, seconds)
        for kind, (name, *words) in KINDS.items():
            clock, processor = took("clip", str(music), "-o", str(Path(folder) / name), *words, times=1)
            found[kind] = {"by_clock": round(seconds / clock, 2), "by_processor": round(seconds / processor, 2)}
    return found


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--seconds", type=int, default=10)
    args = parser.parse_args()
    found = figures(args.seconds)
    print(json.dumps(found) if args.json else "\n".join(f"{kind:12} {ratios}" for kind, ratios in found.items()))
