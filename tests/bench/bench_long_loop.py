"""A kept take of thousands of notes comes back as the loop: how long the looper is held up, in ms
of the processor's time.

Usage: ``python -m tests.bench long_loop [--notes 3500] [--json]``. "read" is done by another thread
beforehand; "bring back" and "first note" are the looper's own; "unread" is its first note where
nobody has read the loop before it.
"""

import argparse
import json
import time
from collections.abc import Callable
from typing import Any

from loopdeck.engine.shelf_acts import prepare
from loopdeck.looper import known_touch
from loopdeck.process.shelf_client import ShelfAnswer
from tests.unit.looper_tools import Player

CYCLE = " ".join(["4/4"] * 16)


def took(act: Callable[[], Any]) -> float:
    """Milliseconds of the processor's time."""
    began = time.process_time()
    act()
    return (time.process_time() - began) * 1000.0


def figures(notes: int) -> dict[str, float]:
    """The best of five for each step."""
    rows = [[index * 64.0 / notes, 0.01, 40 + index % 12, 90, 0, 0] for index in range(notes)]
    given = {"notes": rows, "bends": {}, "program": 34, "muted": False, "qpm": 120.0}
    answer = ShelfAnswer(1, "loop", {"loop": {"layers": [given]}, "levels": [0.0]})
    found: dict[str, list[float]] = {name: [] for name in ("read", "bring back", "first note", "unread")}
    for _ in range(5):
        for unread in (False, True):
            known_touch._known.clear()
            if not unread:
                found["read"].append(took(lambda: prepare(answer)))
            player = Player(tempo="120", cycle=CYCLE)
            back = took(lambda one=player: one.command(0.0, "bring-back", layers=[given], beside=False, name="long"))  # type: ignore[misc]
            first = took(lambda one=player: one.command(1.0, "start-now"))  # type: ignore[misc]
            found["unread" if unread else "first note"].append(first)
            found["bring back"].append(back)
    return {name: round(min(values), 1) for name, values in found.items()}


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--notes", type=int, default=3500)
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    made = figures(args.notes)
    print(json.dumps(made) if args.json else "\n".join(f"{name:10} {ms} ms" for name, ms in made.items()))
