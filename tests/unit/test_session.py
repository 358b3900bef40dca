"""The session: what goes in is written down before it takes effect, a journal replayed gives the
same state, a late window learns all.
"""

import random
from pathlib import Path
from typing import Any

import pytest

from loopdeck.brief.brief import brief_from_dict
from loopdeck.capture.journal import JournalWriter, read_journal
from loopdeck.errors import UserError
from loopdeck.looper.keep import Keep
from loopdeck.looper.recorder import REMEMBERED
from loopdeck.protocol.messages import BriefChanged, ClockChanged, LayerNotes, LayersChanged, NoteStarted, TakeKept
from loopdeck.protocol.wire import encode
from loopdeck.session.keep_identity import keep_identity
from loopdeck.session.replay import replay
from loopdeck.session.session import CONTROL, Session, header
from tests.unit.looper_tools import brief

NOTE = bytes((0x90, 40, 90))
OFF = bytes((0x80, 40, 0))


class Book:
    """A journal in memory that also sees whether the looper had been touched before the writing."""

    def __init__(self) -> None:
        self.rows: list[tuple[Any, ...]] = []
        self.session: Session | None = None
        self.states: list[str] = []

    def midi(self, *row: Any) -> None:
        self.rows.append(("midi", *row))

    def command(self, at_sec: float, name: str, args: dict[str, Any]) -> None:
        if self.session is not None:
            self.states.append(self.session.looper.state)
        self.rows.append(("command", at_sec, name, args))


def kinds(session: Session) -> list[str]:
    return [type(one).__name__ for one in session.take_messages()]


def test_an_input_is_written_down_before_it_takes_effect() -> None:
    book = Book()
    session = Session(brief(), 10.0, journal=book)
    book.session = session
    session.command("start", None, 10.5)
    assert book.states == ["STOPPED"]
    assert session.looper.state == "LISTENING"
    session.midi(0, NOTE, 10.9, 11.0)
    assert book.rows == [("command", 10.5, "start", {}), ("midi", 11.0, 10.9, 11.0, 0, NOTE)]


def test_an_input_that_comes_while_the_looper_is_ahead_takes_effect_there() -> None:
    book = Book()
    session = Session(brief(), 0.0, journal=book)
    session.command("start", {}, 0.0)
    session.advance(1.012)
    session.midi(0, NOTE, 1.001, 1.002)
    session.command("stop", {}, 1.003)
    assert [row[1] for row in book.rows] == [0.0, 1.012, 1.012]
    assert book.rows[1][2:4] == (1.001, 1.002)


def test_a_control_is_written_down_and_not_played() -> None:
    book = Book()
    session = Session(brief(), 0.0, journal=book)
    session.control(1, NOTE, 0.5, 0.5)
    assert book.rows == [("midi", 0.5, 0.5, 0.5, 1 + CONTROL, NOTE)]
    assert session.take_messages() == []


def test_a_device_that_goes_takes_its_held_notes_along() -> None:
    session = Session(brief(), 0.0)
    session.command("thru", {"port": 0}, 0.0)
    session.midi(0, NOTE, 0.1, 0.1)
    session.midi(1, bytes((0x91, 50, 90)), 0.1, 0.1)
    session.release(0, 1.0)
    assert [out.data for out in session.take_outs()] == [bytes((0x90, 40, 90)), bytes((0x80, 40, 0))]
    session.release(0, 2.0)
    assert session.take_outs() == []


def busy(session: Session, seed: int) -> None:
    """Some playing and many commands, drawn from a seed."""
    rng = random.Random(seed)
    now = session.looper.now_sec
    names: list[tuple[str, dict[str, Any]]] = [
        ("start-stop", {}), ("layer", {}), ("loop-that", {}), ("keep", {"passes": 3, "name": "tide"}), ("undo", {}),
        ("redo", {}), ("mute-toggle", {}), ("brief", {"fields": {"swing": "2:1"}}), ("tempo", {"tempo": "181"}),
        ("clear", {}), ("double", {}), ("nonsense", {"x": 1}),
    ]  # fmt: skip
    session.command("start", {}, now)
    for _ in range(300):
        now += rng.random() * 0.3
        if rng.random() < 0.2:
            session.command(*rng.choice(names), now)
        else:
            status, pitch = rng.choice((0x90, 0x80, 0x91, 0xE0)), rng.randrange(36, 50)
            session.midi(0, bytes((status, pitch, rng.randrange(128))), now - rng.random() * 0.02, now)
        if rng.random() < 0.3:
            session.advance(now + 0.01)
        session.take_outs()


@pytest.mark.parametrize("seed", range(5))
def test_a_journal_replayed_gives_the_same_state_and_the_same_keeps(seed: int, tmp_path: Path) -> None:
    start = brief(scale="E dorian")
    path = tmp_path / "one.journal"
    live: list[Keep] = []
    with JournalWriter(path, header(start, 100.0)) as writer:
        session = Session(start, 100.0, journal=writer, keep=live.append)
        busy(session, seed)
        session.control(0, NOTE, session.looper.now_sec, session.looper.now_sec)
        session.command("silence", {}, session.looper.now_sec)
    journal = read_journal(path)
    again: list[Keep] = []
    copy = replay(journal.header, journal.records, again.append)
    assert copy.looper.digest() == session.looper.digest()
    assert copy.snapshot() == session.snapshot()
    # The same passes kept twice are one take: the first.
    first: dict[str, Keep] = {}
    for keep in live:
        first.setdefault(keep_identity(keep), keep)
    assert [keep.events for keep in again] == [keep.events for keep in first.values()]
    assert len(live) > 0


def test_keeps_that_were_saved_are_not_handed_over_again(tmp_path: Path) -> None:
    start = brief()
    path = tmp_path / "one.journal"
    with JournalWriter(path, header(start, 0.0)) as writer:
        session = Session(start, 0.0, journal=writer)
        session.midi(0, NOTE, 0.1, 0.1)
        session.midi(0, OFF, 0.2, 0.2)
        session.command("keep", {"name": "one"}, 1.0)
        session.midi(0, NOTE, 1.1, 1.1)
        session.command("keep", {"name": "two"}, 2.0)
        writer.mark("kept", {"number": 7, "name": "one", "when": "12:00", "passes": 0, "rating": 0})
    journal = read_journal(path)
    kept: list[Keep] = []
    copy = replay(journal.header, journal.records, kept.append)
    assert [keep.name for keep in kept] == ["two"]
    assert [one.number for one in copy.snapshot() if isinstance(one, TakeKept)] == [7]


def test_a_journal_of_something_else_is_a_sentence() -> None:
    with pytest.raises(UserError, match=r"^The journal's header .*\.$"):
        replay({"brief": {"tempo": "fast"}}, [])


def test_a_late_window_learns_the_same_as_one_that_was_there() -> None:
    session = Session(brief(scale="E dorian"), 0.0)
    session.command("start", {}, 0.0)
    for beat in range(11):
        session.midi(0, bytes((0x90, 40 + beat, 90)), beat * 0.5, beat * 0.5)
        session.midi(0, bytes((0x80, 40 + beat, 0)), beat * 0.5 + 0.2, beat * 0.5 + 0.2)
    session.command("loop-that", {}, 5.3)
    told = session.take_messages()
    snapshot = session.snapshot()
    for one in snapshot:
        encode(one)
    for kind in (BriefChanged, ClockChanged, LayersChanged, LayerNotes):
        there = [one for one in told if isinstance(one, kind)]
        late = [one for one in snapshot if isinstance(one, kind)]
        assert late[-1:] == there[-1:] or (kind is BriefChanged and not there)
    notes = [one for one in snapshot if isinstance(one, NoteStarted)]
    assert [note.pitch for note in notes] == list(range(40, 51))  # every pass that can still be looped
    assert all(note.length_q == pytest.approx(0.4) for note in notes)
    assert isinstance(snapshot[0], BriefChanged) and brief_from_dict(snapshot[0].fields) == session.looper.brief


def test_old_notes_are_forgotten() -> None:
    session = Session(brief(), 0.0)
    for count in range(500):
        session.midi(0, NOTE, count * 0.1, count * 0.1)
        session.midi(0, OFF, count * 0.1 + 0.05, count * 0.1 + 0.05)
    assert len(session.snapshot()) < 100
    session.command("start", {}, 60.0)
    for count in range(2000):
        session.midi(0, NOTE, 60 + count * 0.1, 60 + count * 0.1)
    session.advance(270.0)
    # Twenty notes a pass of two seconds, and some of what was played before the start.
    assert len(session.snapshot()) < 20 * REMEMBERED + 120
