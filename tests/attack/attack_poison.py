"""Poisoned journals: whole, with right checksums, and with records that no session ever wrote. None
of them keeps the others from being saved.
"""

import math
import random
from pathlib import Path
from typing import Any

from loopdeck.capture.journal import JournalWriter, MidiRecord, read_journal
from loopdeck.looper.commands import COMMANDS
from loopdeck.session.opening import open_session
from loopdeck.session.recover import recover
from loopdeck.session.session import Session, header
from loopdeck.shelf.store import Shelf
from tests.attack.attack import Attack
from tests.attack.attack_journal import resume_options
from tests.attack.playing import START_SEC, brief, play

NUMBERS = (
    0, -1, 1, 1.5, -0.0, 1e-300, 1e300, math.inf, -math.inf, math.nan, 2_147_483_648, 10**30, 10**400, -(10**18), 16, 128, True,
)  # fmt: skip
TEXTS = (
    "",
    "all",
    "x",
    "4/4",
    "1" * 300,
    "\x00",
    "\x1b[2J",
    "\ud800",
    "٣",
    "NaN",
    "999999999999999999999",
    "layer 1",
    "4/4 " * 90,
)
TIMES = (math.nan, math.inf, -math.inf, 1e300, -1e300, 0.0, -1.0, START_SEC + 1e9, START_SEC + 7e5, 5e-324)


def junk(rng: random.Random, depth: int = 0) -> Any:
    """Any value that JSON can hold."""
    kind = rng.randrange(7 if depth < 3 else 3)
    if kind == 0:
        return rng.choice(NUMBERS)
    if kind == 1:
        return rng.choice(TEXTS)
    if kind == 2:
        return None
    if kind == 3:
        return [junk(rng, depth + 1) for _ in range(rng.randrange(3))]
    return {rng.choice((*TEXTS, *ARGUMENTS)): junk(rng, depth + 1) for _ in range(rng.randrange(3))}


ARGUMENTS = sorted({argument.name for command in COMMANDS.values() for argument in command.arguments})


class Poisoner:
    """A journal that slips records of its own between those it is given."""

    def __init__(self, writer: JournalWriter, rng: random.Random, often: float) -> None:
        self._writer, self._rng, self._often = writer, rng, often

    def midi(self, at_sec: float, stamp_sec: float, arrived_sec: float, port: int, data: bytes) -> None:
        self._slip(at_sec)
        self._writer.midi(at_sec, stamp_sec, arrived_sec, port, data)

    def command(self, at_sec: float, name: str, args: dict[str, Any]) -> None:
        self._slip(at_sec)
        self._writer.command(at_sec, name, args)

    def _slip(self, at_sec: float) -> None:
        rng = self._rng
        if rng.random() > self._often:
            return
        at = at_sec if rng.random() < 0.6 else rng.choice(TIMES)
        kind = rng.randrange(4)
        if kind == 0:
            args = {rng.choice(ARGUMENTS): junk(rng) for _ in range(rng.randint(1, 2))}
            self._writer.command(at, rng.choice((*COMMANDS, "x", "", "_make")), args)
        elif kind == 1:
            # A port of the controls: what it plays is not asked for back.
            port, data = rng.choice((0, 1, 200, 255)), rng.randbytes(rng.randrange(5))
            hostile = not (port < 128 and len(data) == 3 and 0x80 <= data[0] < 0xF0 and max(data[1:]) < 0x80)
            if hostile or not math.isfinite(at):
                self._writer.midi(at, rng.choice((at, *TIMES)), rng.choice((at, *TIMES)), port, data)
        elif kind == 2:
            data = junk(rng)
            self._writer.mark(
                rng.choice(("kept", "sound", "state", "x")), data if isinstance(data, dict) else {"data": data}
            )
        else:
            body = bytes((rng.randrange(256),)) + rng.randbytes(rng.choice((0, 3, 8, 9, 40)))
            if body[:1] not in (b"M", b"E"):
                self._writer._append(body)


def poisoned(rng: random.Random, folder: Path) -> None:
    """Resume and recover a journal with hostile records in it: everything that was played is
    there.
    """
    path, one = folder / "a.journal", brief(rng)
    head = header(one, START_SEC, started="2031-05-06T07:08:09+00:00")
    if rng.random() < 0.1:
        head[rng.choice(("brief", "start_sec", "started", "id", "pid"))] = junk(rng)
    played: list[bytes] = []
    with JournalWriter(path, head) as writer:
        session = Session(one, START_SEC, journal=Poisoner(writer, rng, rng.choice((0.02, 0.3))))
        play(session, rng, rng.randint(10, 80))
    played = [
        record.data
        for record in read_journal(path).records
        if isinstance(record, MidiRecord)
        and record.port < 2
        and abs(record.at_sec - START_SEC) < 1000.0
        and abs(record.stamp_sec - record.at_sec) < 1000.0
        and abs(record.arrived_sec) < 1e300
        and len(record.data) == 3
        and 0x80 <= record.data[0] < 0xF0
        and max(record.data[1:]) < 0x80
    ]
    if rng.random() < 0.5:
        _opened, resumed, said = open_session(resume_options(path, folder / "shelf.sqlite", rng), 500.0)
        resumed.close()
        assert (
            "could not be taken up" not in said[0]
            or not isinstance(head["start_sec"], float)
            or head["brief"] != one.to_dict()
        )
    if not any(data[0] & 0xF0 == 0x90 and data[2] for data in played):
        return
    found = recover(path, folder / "shelf.sqlite")
    with Shelf(folder / "shelf.sqlite") as shelf:
        events = [event.data for event in shelf.get(found.whole["number"]).recording.events if len(event.data) == 3]
    missing = [data for data in played if data not in events]
    assert not missing and len(events) >= len(played)


ATTACKS = (
    Attack(
        "journal: poisoned", "records that are of no use are left out; all that was played is saved", poisoned, 40, 2000
    ),
)
