"""A journal with records that nobody should have written: what they say is left out, everything
else is there.
"""

import math
from pathlib import Path
from typing import Any

import pytest

from loopdeck.capture.journal import CommandRecord, JournalWriter, MidiRecord, Record, read_journal
from loopdeck.looper import machine
from loopdeck.session.opening import open_session
from loopdeck.session.recover import keep_of_journal, recover
from loopdeck.session.replay import Replay, replay_records
from loopdeck.session.session import header
from loopdeck.shelf.store import Shelf
from tests.unit.looper_tools import brief
from tests.unit.test_recover import note, options, session

POISON: list[Record] = [
    CommandRecord(101.0, "late", {"port": 0, "sec": math.inf}),
    CommandRecord(101.0, "late", {"port": math.inf, "sec": 0.0}),
    CommandRecord(101.0, "late", {"sec": math.nan}),
    CommandRecord(101.0, "nudge", {"ms": 10**400}),
    CommandRecord(101.0, "follow", {"qpm": math.nan}),
    CommandRecord(101.0, "start", {"bars": 2_147_483_648}),
    CommandRecord(101.0, "brief", {"fields": 0}),
    CommandRecord(101.0, "no-such-command", {}),
    CommandRecord(math.nan, "stop", {}),
    CommandRecord(1e300, "undo", {}),
    MidiRecord(math.inf, 101.0, 101.0, 0, b"\x90\x28\x60"),
    MidiRecord(1e9, 101.0, 101.0, 0, b"\x90\x28\x60"),
    MidiRecord(101.0, math.nan, 101.0, 0, b"\x90\x28\x60"),
    MidiRecord(101.0, 101.0, 101.0, 0, b"\x90"),
    MidiRecord(101.0, 101.0, 101.0, 0, b"\x90\xff\xff"),
    MidiRecord(101.0, 101.0, 101.0, 0, b""),
]


def poisoned(path: Path, records: list[Record]) -> None:
    """A session with one pass looped, the records in the midst of it."""
    one, writer = session(path)
    one.command("start", {}, 100.0)
    note(one, 100.5)
    for record in records:
        if isinstance(record, CommandRecord):
            writer.command(*record)
        elif isinstance(record, MidiRecord):
            writer.midi(*record)
    one.command("loop-that", {}, 102.2)
    note(one, 102.5, 43)
    writer.close()


@pytest.mark.parametrize("record", POISON, ids=str)
def test_one_record_that_is_no_use_is_left_out(tmp_path: Path, record: Record) -> None:
    path = tmp_path / "a.journal"
    poisoned(path, [record])
    back, writer, said = open_session(options(path), 500.0)
    writer.close()
    assert [layer.notes["pitch"].tolist() for layer in back.looper.layers()] == [[40]]
    assert said[1] == "1 record of the journal could not be used and is left out."


def test_a_session_full_of_them_is_recovered(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    poisoned(path, POISON)
    found = recover(path, tmp_path / "shelf.sqlite")
    assert found.skipped == len(POISON)
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        take = shelf.get(found.whole["number"])
    assert [event.data[1] for event in take.recording.events if event.data[0] == 0x90] == [40, 43]
    assert len(take.recording.layers) == 1


def breaking(monkeypatch: pytest.MonkeyPatch, names: tuple[str, ...]) -> None:
    """Commands that kill the looper half way, as a mistake of ours would."""
    do = machine.Looper.command

    def command(self: machine.Looper, at_sec: float, name: str, /, **args: Any) -> str:
        if name in names:
            self.advance(at_sec)
            do(self, at_sec, "clear")
            raise KeyError(name)
        return do(self, at_sec, name, **args)

    monkeypatch.setattr(machine.Looper, "command", command)


def test_a_record_that_kills_the_looper_leaves_no_trace(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.journal"
    one, writer = session(path)
    one.command("start", {}, 100.0)
    note(one, 100.5)
    one.command("loop-that", {}, 102.2)
    one.command("mute", {"layer": 1}, 102.3)
    clean = one.looper.digest()
    one.command("undo", {}, 102.4)
    writer.close()
    breaking(monkeypatch, ("undo",))
    journal = read_journal(path)
    found = replay_records(lambda: Replay(journal.header), lambda: journal.records)
    assert found.session.looper.digest() == clean
    assert found.skipped == 1
    keep = keep_of_journal(path)
    assert keep is not None and len(keep.layers) == 1


def test_more_deadly_records_than_can_be_gone_around(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.journal"
    one, writer = session(path)
    one.command("start", {}, 100.0)
    for number in range(60):
        note(one, 100.5 + number / 8)
        one.command("undo", {}, 100.55 + number / 8)
    writer.close()
    breaking(monkeypatch, ("undo",))
    found = recover(path, tmp_path / "shelf.sqlite")
    assert found.skipped == 60
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        assert len(shelf.get(found.whole["number"]).recording.events) == 120


@pytest.mark.parametrize(
    "damage", [{"brief": {"tempo": "0"}}, {"brief": 7}, {"start_sec": math.nan}, {"start_sec": "x"}]
)
def test_a_header_that_is_no_use_costs_the_brief_and_nothing_played(tmp_path: Path, damage: dict[str, Any]) -> None:
    path = tmp_path / "a.journal"
    with JournalWriter(path, {**header(brief(), 5000.0), **damage}) as writer:
        for number in range(4):
            writer.midi(5000.0 + number, 5000.0 + number, 5000.0 + number, 0, bytes((0x90, 40 + number, 90)))
    found = recover(path, tmp_path / "shelf.sqlite")
    assert found.skipped >= 1
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        events = shelf.get(found.whole["number"]).recording.events
    assert [(event.time_sec, event.data[1]) for event in events] == [(float(n), 40 + n) for n in range(4)]
