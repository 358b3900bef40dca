"""Kills: at every point where something is written, and at any moment. Journal and shelf agree
afterwards, and nothing written is lost.
"""

import os
import random
import sqlite3
import struct
import time
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from loopdeck.brief.brief import brief_from_dict
from loopdeck.capture.events import Event
from loopdeck.capture.journal import JournalReader, JournalWriter, MidiRecord, read_journal
from loopdeck.engine.journal_thread import JournalThread
from loopdeck.errors import UserError
from loopdeck.looper.keep import Keep
from loopdeck.process.priority import raise_priority
from loopdeck.session.keep_identity import keep_identity
from loopdeck.session.recover import recover
from loopdeck.session.session import Session
from loopdeck.shelf.store import Shelf
from tests.attack.attack import Attack
from tests.attack.killing import KillPoint, arm, run_killed
from tests.attack.playing import START_SEC, brief, journal, play
from tests.attack.rig import Rig

WRITER = "loopdeck.capture.journal:JournalWriter"
PLACES = (
    (f"{WRITER}.flush", "before"), (f"{WRITER}.flush", "midway"), (f"{WRITER}.flush", "after"),
    (f"{WRITER}.sync", "before"), (f"{WRITER}.sync", "after"), (f"{WRITER}.end", "after"), (f"{WRITER}.mark", "before"),
    ("loopdeck.shelf.store:Shelf.add", "before"), ("loopdeck.shelf.store:Shelf.add", "after"),
    ("loopdeck.engine.take_saver:TakeSaver._put", "after"), ("loopdeck.engine.take_saver:TakeSaver.save", "before"),
    ("loopdeck.session.replay:Replay.stop", "before"), ("loopdeck.session.replay:Replay.stop", "after"),
    ("loopdeck.capture.journal:UnfinishedJournal._cut", "before"),
    ("loopdeck.capture.journal:UnfinishedJournal._cut", "after"),
)  # fmt: skip
KEEPS = ("keep", {"passes": 1, "name": ""}), ("keep", {"passes": 3, "name": ""})


def shelved(shelf: Path) -> Counter[str]:
    """The sources of the takes on a shelf."""
    if not shelf.exists():
        return Counter()
    db = sqlite3.connect(shelf)
    try:
        return Counter(source for (source,) in db.execute("SELECT source FROM take"))
    finally:
        db.close()


def content(events: Iterable[Event], passes: int) -> tuple[object, ...]:
    """What a keep or a take is, whatever it is called: its passes and the notes begun in them."""
    return passes, tuple(event.data for event in events if event.data[0] & 0xF0 == 0x90 and event.data[2])


def kept_by(path: Path) -> tuple[list[Keep], str]:
    """Every keep that a journal tells of, however often, and the session's id."""
    found = read_journal(path)
    kept: list[Keep] = []
    session = Session(brief_from_dict(found.header["brief"]), float(found.header["start_sec"]), keep=kept.append)
    for record in found.records:
        session.apply(record)
    return kept, str(found.header["id"])


def agree(path: Path, shelf: Path) -> None:
    """Journal and shelf know of the same keeps, each once."""
    kept, session_id = kept_by(path)
    sources = {f"{session_id} keep {keep_identity(keep)}" for keep in kept}
    assert shelved(shelf) == Counter(sources)
    wanted = {content(keep.events, keep.passes) for keep in kept if keep.passes}
    with Shelf(shelf) as opened:
        takes = [opened.get(row["number"]) for row in opened.find()]
    assert {content(take.recording.events, take.recording.passes) for take in takes if take.recording.passes} == wanted


def begun(path: Path) -> bool:
    """True when there is a journal with its header.

    One that was killed before that had not begun; it is removed.
    """
    try:
        JournalReader(path).close()
    except (UserError, OSError):
        path.unlink(missing_ok=True)
        return False
    return True


def _session(path: Path, shelf: Path, seed: int, resume: bool, point: KillPoint | None) -> Callable[[Any], None]:
    def run(tell: Callable[[Any], None]) -> None:
        rng = random.Random(seed)
        if point is not None:
            arm(point)
        rig = Rig(path, shelf, brief(random.Random(0)), resume, START_SEC)

        def hear(outs: object) -> None:
            rig.turn()
            if rng.random() < 0.08:
                name, args = rng.choice(KEEPS)
                rig.session.command(name, args, rig.session.looper.now_sec)
            if rng.random() < 0.05:
                time.sleep(rng.random() * 0.02)

        play(rig.session, rng, rng.randint(20, 60), hear)
        tell(rig.end())

    return run


def keeps(rng: random.Random, folder: Path) -> None:
    """A session killed up to three times at chosen points, each time taken up again, and ended in
    order.
    """
    path, shelf = folder / "a.journal", folder / "shelf.sqlite"
    for life in range(rng.randint(1, 3)):
        point = KillPoint(*rng.choice(PLACES), rng.choice((1, 1, 2, 3, 5, 9)))
        run_killed(_session(path, shelf, rng.randrange(1 << 30), life > 0 and begun(path), point))
        if begun(path) and read_journal(path).complete:
            break
    else:
        told, killed = run_killed(_session(path, shelf, rng.randrange(1 << 30), begun(path), None))
        assert not killed and told == [[]], told
    assert read_journal(path).complete and read_journal(path).cut_at is None
    agree(path, shelf)


def lost(rng: random.Random, folder: Path) -> None:
    """A lost session whose recovery is killed at a chosen point, and done again."""
    path, shelf = folder / "a.journal", folder / "shelf.sqlite"
    journal(path, rng, rng.randint(30, 100))
    records = read_journal(path).records
    if not any(isinstance(r, MidiRecord) and r.port < 128 and r.data[0] & 0xF0 == 0x90 for r in records):
        return
    places = [one for one in PLACES if "take_saver" not in one[0]]
    for _ in range(rng.randint(1, 2)):
        point = KillPoint(*rng.choice(places), rng.choice((1, 1, 2, 3)))

        def run(tell: Callable[[Any], None], point: KillPoint = point) -> None:
            arm(point)
            recover(path, shelf)

        run_killed(run)
        if read_journal(path).complete:
            break
    else:
        recover(path, shelf)
    journal_now = read_journal(path)
    assert journal_now.complete and journal_now.records[: len(records)] == records
    count = Counter(one.rpartition(" ")[2] == "session" for one in shelved(shelf).elements())
    assert count[True] == 1
    assert max(shelved(shelf).values()) == 1
    try:
        recover(path, shelf)
    except UserError as error:
        assert "ended in order" in str(error)


def loss(rng: random.Random, folder: Path) -> float:
    """Kill -9 at any moment of playing a message a millisecond; returns the milliseconds that were
    handed over and not in the file.
    """
    path = folder / "a.journal"

    def run(tell: Callable[[Any], None]) -> None:
        # As the engine does.
        raise_priority()
        thread = JournalThread(JournalWriter(path, {}), lambda text, wrong: None)
        clock = os.open(folder / "clock", os.O_CREAT | os.O_WRONLY)
        for number in range(100_000):
            now = time.perf_counter()
            thread.midi(now, now, now, 0, bytes((0x90, number % 128, 1)))
            os.pwrite(clock, struct.pack("<d", now), 0)
            time.sleep(0.001)

    run_killed(run, after_sec=0.15 + rng.random() * 0.5)
    (handed_over,) = struct.unpack("<d", (folder / "clock").read_bytes())
    records = read_journal(path).records
    written = records[-1].at_sec if records and isinstance(records[-1], MidiRecord) else handed_over
    return max(handed_over - written, 0.0) * 1000.0


ATTACKS = (
    Attack(
        "kill: keeps",
        "journal and shelf both know of a keep or neither, and none is there twice",
        keeps,
        25,
        1500,
        30.0,
    ),
    Attack(
        "kill: recovery", "a recovery that is killed is done again, and makes one take of each", lost, 15, 600, 30.0
    ),
    Attack(
        "kill: loss", "a kill loses only what was played in the last instants", loss, 3, 200, 20.0, figure="ms lost"
    ),
)
