"""A large shelf looked through page by page: how long each step takes until its answer is there.

``python -m tests.bench shelf [--takes 100000] [--shelf FILE] [--json]``. The takes are built once
(with ``--shelf`` they stay for the next run); the steps go through the same process and pipes as
those of the window. "first" is a page asked of a process that has just been started and has read
nothing; the process's own start is not counted, nor does the window wait for it.
"""

import argparse
import json
import os
import random
import statistics
import sys
import tempfile
import time
from pathlib import Path
from queue import SimpleQueue
from typing import Any

from loopdeck.brief.brief import Brief
from loopdeck.capture.events import Event
from loopdeck.looper.recording import Recording
from loopdeck.process.shelf_client import ShelfAnswer, ShelfClient
from loopdeck.process.shelf_server import ShelfServer
from loopdeck.protocol.messages import BriefChanged
from loopdeck.shelf.migrations import VERSION
from loopdeck.shelf.rows import row_of_take
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import Take
from loopdeck.window.pages.shelf_rows import ROOM

WORDS = (
    "tide",
    "gate",
    "quay",
    "steps",
    "rain",
    "slate",
    "ember",
    "lantern",
    "harbour",
    "moss",
    "gravel",
    "pier",
    "ferry",
    "dune",
    "kelp",
)


def build(path: Path, takes: int) -> None:
    """So many takes with four passes of twelve notes each, in one transaction."""
    rng = random.Random(7)
    with Shelf(path) as shelf:
        db = shelf._db
        (there,) = db.execute("SELECT count(*) FROM take").fetchone()
        db.execute("PRAGMA synchronous = OFF")
        db.execute("BEGIN")
        for number in range(there, takes):
            row = row_of_take(_take(rng, number), "")
            names = ", ".join(row)
            db.execute(f"INSERT INTO take ({names}) VALUES ({', '.join(f':{name}' for name in row)})", row)
            if number % 3 == 0:
                db.execute("INSERT INTO tag VALUES (?, ?)", (number + 1, rng.choice(WORDS)))
        db.execute("COMMIT")
    assert VERSION >= 4


_BRIEFS = [
    Brief.default().replace(tempo=str(tempo), scale=scale, cycle=cycle, mood=mood)
    for tempo in (72, 96, 104, 132) for scale in ("E dorian", "G blues", "") for cycle in ("4/4", "4/4 4+3/8") for mood in ("dark", "light")
]  # fmt: skip


def _take(rng: random.Random, number: int) -> Take:
    brief = rng.choice(_BRIEFS)
    cycle_sec = float(brief.cycle.quarters) * 60.0 / brief.tempo.quarters_per_minute
    events = []
    for index in range(4):
        for place in range(12):
            sec = (index + place / 12) * cycle_sec + rng.uniform(-0.01, 0.02)
            pitch = rng.choice((28, 31, 33, 35, 38, 40))
            events += [Event(sec, 0, bytes((0x90, pitch, 90))), Event(sec + 0.1, 0, bytes((0x80, pitch, 0)))]
    return Take(
        name=f"{rng.choice(WORDS)} {rng.choice(WORDS)} {number}",
        kept_at="2031-05-06T07:08:09+00:00",
        rating=rng.randrange(6),
        note=rng.choice(("", "second layer could be shorter", "for the bridge")),
        recording=Recording(brief=brief, events=tuple(events), passes=4, end_sec=4 * cycle_sec),
    )


class Asker:
    """Asks and waits for the answer, as nobody else does."""

    def __init__(self, path: Path) -> None:
        self._answers: SimpleQueue[ShelfAnswer] = SimpleQueue()
        self.client = ShelfClient(path, self._answers.put)

    def ask(self, ask: str, **args: Any) -> tuple[Any, float]:
        """The answer, and how long it took in ms."""
        began = time.perf_counter()
        number = self.client.ask(ask, **args)
        while (answer := self._answers.get(timeout=120)).id != number:
            pass
        assert not answer.wrong, answer.wrong
        return answer.found, (time.perf_counter() - began) * 1000.0


def measure(path: Path, takes: int) -> dict[str, Any]:
    """Each step's ms: median and most."""
    asker, found = Asker(path), dict[str, Any](takes=takes)
    # The process is there, and has read nothing of the shelf.
    asker.ask("ready")
    page, found["open_ms"] = asker.ask("page")
    assert page["total"]
    began, steps = time.perf_counter(), []
    chosen = page["rows"][0]["number"]
    while not page["complete"]:
        page, ms = asker.ask("page", chosen=chosen, step=1)
        chosen = page["rows"][page["at"] - page["first"]]["number"]
        steps.append(ms)
        time.sleep(0.02)
    found["read_all_sec"] = time.perf_counter() - began
    found["scroll_while_read_ms"] = _summary(steps)
    found["search_ms"] = _summary([asker.ask("page", asked="lantern rain 4711"[:length])[1] for length in range(1, 18)])
    found["search_nothing_ms"] = _summary([asker.ask("page", asked=f"zz{n}")[1] for n in range(20)])
    rng, steps = random.Random(3), []
    for _ in range(200):
        page, ms = asker.ask("page", chosen=chosen, step=rng.choice((1, 1, 1, -1, 7, -7, 40_000, -40_000)))
        chosen = page["rows"][page["at"] - page["first"]]["number"]
        steps.append(ms)
    found["scroll_ms"] = _summary(steps)
    found["picture_ms"] = _summary([asker.ask("picture", number=number)[1] for number in range(5, 45)])
    found["rate_ms"] = _summary([asker.ask("rate", number=number, rating=3)[1] for number in range(5, 25)])
    asker.client.close()
    return found


def draw(path: Path) -> dict[str, Any]:
    """How long a frame of the window takes whose page has one new row, and one with all rows new,
    each beside one without a change.
    """
    os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    import pygame

    from loopdeck.window.paint import Painter
    from loopdeck.window.theme import PAPER
    from loopdeck.window.ui_state import UiState
    from loopdeck.window.view import View

    server, ui, view = ShelfServer(path), UiState(page="shelf"), View()
    view.receive(BriefChanged(fields=_BRIEFS[0].to_dict()))
    pygame.display.init()
    surface = pygame.display.set_mode((1280, 720))
    painter, rows = Painter(PAPER), ui.pages["shelf"].rows  # type: ignore[attr-defined]
    times: dict[str, list[float]] = {"frame_still_ms": [], "frame_step_ms": [], "frame_page_ms": []}
    chosen: int | None = None
    for index in range(180):
        name, step = (("frame_still_ms", 0), ("frame_step_ms", 1), ("frame_page_ms", 7))[index % 3]
        rows.found = server.answer("page", {"chosen": chosen, "step": step, "room": ROOM})["found"]
        chosen = rows.chosen["number"]
        for row in rows.found["rows"]:
            rows.pictures[row["number"]] = server.answer("picture", {"number": row["number"]})["found"]
        ui.changed += 1
        began = time.perf_counter()
        painter.draw(surface, view, ui, 0.0)
        times[name].append((time.perf_counter() - began) * 1000.0)
    return {name: _summary(values[2:]) for name, values in times.items()}


def _summary(values: list[float]) -> dict[str, float]:
    if not values:
        return {}
    return {"median": round(statistics.median(values), 2), "most": round(max(values), 2), "steps": len(values)}


def main() -> int:
    """Build, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--takes", type=int, default=100_000)
    parser.add_argument("--shelf", type=Path)
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="loopdeck-bench-") as scratch:
        path = args.shelf if args.shelf is not None else Path(scratch) / "shelf.sqlite"
        build(path, args.takes)
        found = measure(path, args.takes) | draw(path)
    print(json.dumps(found) if args.json else "\n".join(f"{name}: {value}" for name, value in found.items()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
