"""Random sessions to attack: a player with two inputs who starts, stops, layers, undoes and keeps,
on a clock that does not exist.
"""

import random
from collections.abc import Callable
from pathlib import Path

from loopdeck.brief.brief import Brief
from loopdeck.capture.journal import JournalWriter
from loopdeck.looper.keep import Keep
from loopdeck.looper.machine import Out
from loopdeck.session.session import Session, header

START_SEC = 100.0
CYCLES = ("4/4", "4/4 4+3/8", "6/8", "3/4")
COMMANDS = (
    ("start", {}), ("stop", {}), ("start-stop", {}), ("layer", {}), ("layer-on", {}), ("layer-off", {}), ("loop-that", {}),
    ("undo", {}), ("redo", {}), ("mute-toggle", {"layer": "all"}), ("clear", {}), ("keep", {"passes": 2, "name": "kept"}),
    ("tempo", {"tempo": "132"}), ("brief", {"swing": "60%"}), ("groove", {"groove": "sparse"}), ("nudge", {"ms": 4.0}),
    ("thru", {"port": 1, "on": True}), ("late", {"port": 0, "sec": 0.004}), ("silence", {}),
)  # fmt: skip


def brief(rng: random.Random) -> Brief:
    """A fast brief with a random cycle."""
    texts = {"tempo": "180", "cycle": rng.choice(CYCLES), "count_in": str(rng.randint(0, 1)), "strength": "80"}
    return Brief.default().replace(**texts)


def play(
    session: Session, rng: random.Random, steps: int, hear: Callable[[list[Out]], None] = lambda outs: None
) -> float:
    """Perform so many random steps; ``hear`` gets what each one sent. Returns the time of the
    last.
    """
    now = session.looper.now_sec
    held: dict[tuple[int, int], int] = {}
    for step in range(steps):
        now += rng.expovariate(8.0)
        session.advance(now)
        kind = rng.random()
        if step == 0 or kind < 0.12:
            name, args = ("start", {}) if step == 0 else rng.choice(COMMANDS)
            session.command(name, args, now)
        elif kind < 0.55:
            port, pitch = rng.randint(0, 1), rng.randint(28, 50)
            held[port, pitch] = pitch
            session.midi(port, bytes((0x90, pitch, rng.randint(1, 127))), now - 0.001, now)
        elif kind < 0.9 and held:
            port, pitch = rng.choice(sorted(held))
            del held[port, pitch]
            session.midi(port, bytes((0x80, pitch, 0)), now - 0.001, now)
        elif kind < 0.95:
            session.midi(0, bytes((0xE0, rng.randint(0, 127), rng.randint(0, 127))), now, now)
        else:
            session.control(1, bytes((0xB0, 20, 127)), now, now)
        hear(session.take_outs())
        session.take_messages()
    return now


def journal(path: Path, rng: random.Random, steps: int, keep: Callable[[Keep], None] | None = None) -> None:
    """The journal of a random session that ended without warning."""
    one = brief(rng)
    with JournalWriter(path, header(one, START_SEC, started="2031-05-06T07:08:09+00:00")) as writer:
        play(Session(one, START_SEC, journal=writer, keep=keep), rng, steps)
