"""Attacks on the looper: whatever is pressed and played, nothing fails, nothing hangs, and
replaying gives the same session bit for bit.
"""

import random
from pathlib import Path
from typing import Any

from loopdeck.capture.journal import CommandRecord, MidiRecord, Record
from loopdeck.looper.keep import Keep
from loopdeck.looper.machine import Out
from loopdeck.session.clock_sync import ClockIn
from loopdeck.session.session import Session
from tests.attack.attack import Attack
from tests.attack.looper_script import Step, script
from tests.unit.looper_tools import brief, check_pairs

STEPS = 500


class Records:
    """A journal in memory."""

    def __init__(self) -> None:
        self.records: list[Record] = []

    def midi(self, at_sec: float, stamp_sec: float, arrived_sec: float, port: int, data: bytes) -> None:
        self.records.append(MidiRecord(at_sec, stamp_sec, arrived_sec, port, data))

    def command(self, at_sec: float, name: str, args: dict[str, Any]) -> None:
        self.records.append(CommandRecord(at_sec, name, args))


class Played:
    """A session played to its end: what it sent, what it kept, and the session itself."""

    def __init__(self) -> None:
        self.journal = Records()
        self.keeps: list[Keep] = []
        self.session = Session(brief(tempo="240"), journal=self.journal, keep=self.keeps.append)
        self.outs: list[Out] = []

    def take(self) -> None:
        """Take what was sent, and look at what must always be so."""
        self.outs += self.session.take_outs()
        self.session.take_messages()
        core = self.session.looper._core
        heard = {identity for *_, part, _, identity in core.playback.voices.table() if part == "layer"}
        silent = {one for one in core.stack.active if core.stack.quiet(one)} | {core.stack.replaced}
        assert heard <= set(core.stack.active) - silent, "a layer sounds that is silenced, or that is no more"
        numbers = [layer.number for layer in self.session.looper.layers()]
        assert len(numbers) == len(set(numbers)), f"two layers have one number: {numbers}"

    def end(self, at_sec: float) -> None:
        """Stop and silence: after that nothing is due and nothing sounds."""
        self.session.command("stop", {}, at_sec)
        self.session.command("silence", {}, at_sec)
        self.take()
        assert self.session.next_due() is None
        check_pairs(self.outs)


def play(steps: list[Step]) -> Played:
    """Play a script as the engine would, clock source and all."""
    played = Played()
    session = played.session
    follower = ClockIn(session.looper)
    now = 0.0
    for now, what in steps:
        session.advance(now)
        if isinstance(what, bytes):
            for led in follower.feed(now, what):
                session.command(led.name, dict(led.args), now if led.at_sec is None else max(led.at_sec, now))
        elif isinstance(what[0], str):
            assert session.command(what[0], what[1], now).endswith((".", "")), what
        else:
            session.midi(0, what[1], what[0], now)
        for led in follower.rest(now):
            session.command(led.name, dict(led.args), now)
        played.take()
    played.end(now + 1.0)
    return played


def replay(records: list[Record], rng: random.Random) -> Played:
    """The same from its journal, with time cut otherwise."""
    played = Played()
    for record in records:
        before = played.session.looper.now_sec
        for _ in range(rng.randrange(3)):
            played.session.advance(rng.uniform(before, record.at_sec) if record.at_sec > before else before)
        played.session.apply(record)
        played.take()
    return played


def long_session(rng: random.Random, folder: Path) -> None:
    """A long session, then its replay."""
    played = play(script(rng, STEPS))
    again = replay(played.journal.records, rng)
    assert again.outs == played.outs
    assert again.session.looper.digest() == played.session.looper.digest()
    assert [keep.identity for keep in again.keeps] == [keep.identity for keep in played.keeps]
    assert [keep.events for keep in again.keeps] == [keep.events for keep in played.keeps]


ATTACKS = [
    Attack(
        "looper: long sessions",
        "no command and no note makes the looper fail; no note hangs; a journal replays bit for bit",
        long_session,
        short=12,
        nightly=3000,
        limit_sec=60.0,
    )
]
