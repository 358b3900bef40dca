"""Damaged journals: whatever happened to the file, what stands before the damage is read back, and
can be resumed and recovered.
"""

import random
from pathlib import Path

from loopdeck.capture.journal import JournalReader, MidiRecord, read_journal
from loopdeck.errors import UserError
from loopdeck.process.options import Options
from loopdeck.session.opening import open_session
from loopdeck.session.recover import recover
from loopdeck.shelf.store import Shelf
from tests.attack.attack import Attack
from tests.attack.playing import brief, journal


def damage(data: bytes, rng: random.Random) -> bytes:
    """The bytes with one thing done to them: bits flipped, cut, a piece zeroed, doubled, taken out
    or moved, noise at the end.
    """
    kind, at = rng.randrange(7), rng.randrange(len(data))
    size = min(rng.choice((1, 7, 37, 512)), len(data) - at)
    if kind == 0:
        broken = bytearray(data)
        for _ in range(rng.randint(1, 4)):
            broken[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
        return bytes(broken)
    if kind == 1:
        return data[:at]
    if kind == 2:
        return data[:at] + bytes(size) + data[at + size :]
    if kind == 3:
        return data[: at + size] + data[at:]
    if kind == 4:
        return data[:at] + data[at + size :]
    if kind == 5:
        piece, rest = data[at : at + size], data[:at] + data[at + size :]
        to = rng.randrange(len(rest) + 1)
        return rest[:to] + piece + rest[to:]
    return data + rng.randbytes(size)


def resume_options(path: Path, shelf: Path, rng: random.Random) -> Options:
    """What an engine is started with that is to take a journal up again."""
    return Options(
        address="unix:/nowhere", journal=str(path), shelf=str(shelf), brief=brief(rng).to_dict(), resume=True
    )


def damaged(rng: random.Random, folder: Path) -> None:
    """Damage a journal: read, recover and resume it."""
    path = folder / "a.journal"
    journal(path, rng, rng.randint(5, 120))
    whole = read_journal(path)
    path.write_bytes(damage(path.read_bytes(), rng))
    try:
        with JournalReader(path) as reader:
            head, records = reader.header, tuple(reader)
    except UserError as error:
        assert str(error).endswith(".")
        return
    assert head == whole.header
    assert records == whole.records[: len(records)]
    if rng.random() < 0.5:
        session, writer, said = open_session(resume_options(path, folder / "shelf.sqlite", rng), 500.0)
        assert "could not be taken up" not in said[0]
        session.command("start", {}, 501.0)
        writer.close()
        again = read_journal(path)
        assert again.records[: len(records)] == records and again.cut_at is None
        return
    played = any(isinstance(r, MidiRecord) and r.port < 128 and r.data[0] & 0xF0 == 0x90 for r in records)
    try:
        row = recover(path, folder / "shelf.sqlite")
    except UserError as error:
        assert not played and str(error).endswith(".")
        return
    with Shelf(folder / "shelf.sqlite") as shelf:
        events = shelf.get(row.whole["number"]).recording.events
    assert [event.data for event in events] == [r.data for r in records if isinstance(r, MidiRecord) and r.port < 128]


ATTACKS = (
    Attack("journal: damaged", "what stands before the damage is read back, resumed and recovered", damaged, 40, 2000),
)
