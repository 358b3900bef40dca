"""How exactly another machine's MIDI clock is followed: the looper's phase against a source that
jitters, on a simulated clock.

    python -m tests.bench clock [--minutes 5] [--json]

The jitter of each clock is independent, uniform within 2 ms either way. Measured from the fourth
beat on, at every clock; milliseconds.
"""

import argparse
import json
from typing import Any

import numpy as np

from tests.unit.test_clock_sync import follow

AIM_P99_MS = 1.0
TEMPI = (60.0, 90.0, 120.0, 160.0, 200.0)
JITTER_MS = 2.0


def run(minutes: float) -> dict[str, Any]:
    """The error of the followed phase at some tempi."""
    found: dict[str, Any] = {"minutes": minutes, "jitter_ms": JITTER_MS}
    for qpm in TEMPI:
        _, errors = follow(qpm, JITTER_MS, minutes * 60)
        found[f"phase_p99_ms_at_{qpm:g}"] = float(np.percentile(np.abs(errors), 99))
    return found


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=5.0)
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    found = run(args.minutes)
    if args.json:
        print(json.dumps(found))
        return
    for name, value in found.items():
        print(f"{name:24} {value:8.3f}" + (f"   aim < {AIM_P99_MS:g}" if name.startswith("phase") else ""))


if __name__ == "__main__":
    main()
