"""One session: the looper, everything that must be written down of it, and what the window is to
know.

Task
    The only way in to the looper. Live playing, the demo, the tests and the replay of a journal all
    go through here. No thread, port, clock or file: inputs are handed to a journal before they take
    effect, keeps to whoever saves them, messages and MIDI to whoever asks for them.

Conventions
    Seconds on the session's clock. An input takes effect at its arrival, or where the looper has
    already got to if that is later (the engine lets it run a few milliseconds ahead). Inputs are
    numbered from 0. An event that was taken as a control is written down with ``CONTROL`` added to
    its port, and does not reach the looper. Messages are those of ``protocol.messages``.
"""

from collections import deque
from collections.abc import Callable, Mapping
from typing import Any, Protocol

from loopdeck.brief.brief import Brief
from loopdeck.capture.journal import CommandRecord, MidiRecord, Record
from loopdeck.looper.commands import LOOPER, CommandError, as_recorded, check_command
from loopdeck.looper.keep import Keep
from loopdeck.looper.machine import Looper, Out
from loopdeck.looper.news import Kept
from loopdeck.protocol.messages import Message, Said
from loopdeck.session.clock_sync import ClockOut
from loopdeck.session.snapshot import Snapshot

#: Added to the port of an event that was taken as a control.
CONTROL = 128


class JournalSink(Protocol):
    """Where inputs are written down; ``capture.journal.JournalWriter`` is one, and so is the
    engine's thread around it.
    """

    def midi(self, at_sec: float, stamp_sec: float, arrived_sec: float, port: int, data: bytes) -> None:
        """An event."""
        ...

    def command(self, at_sec: float, name: str, args: dict[str, Any]) -> None:
        """A command."""
        ...


def header(brief: Brief, start_sec: float, **more: Any) -> dict[str, Any]:
    """What a journal begins with, so that ``replay`` can begin with the same."""
    return {"brief": brief.to_dict(), "start_sec": start_sec, **more}


class Session:
    """A session from ``start_sec`` on.

    ``keep`` gets every Keep the moment it is made and must return at once.
    """

    def __init__(
        self,
        brief: Brief,
        start_sec: float = 0.0,
        journal: JournalSink | None = None,
        keep: Callable[[Keep], None] | None = None,
    ) -> None:
        self.looper = Looper(brief, start_sec)
        self.journal = journal
        self.keep = keep
        #: The latency taken off each input for judging, in seconds, as far as a command said so.
        self.late_sec: dict[int, float] = {}
        self._snapshot = Snapshot(brief, start_sec)
        #: Set to send MIDI clock along.
        self.clock_out: ClockOut | None = None
        self._messages: deque[Message] = deque()
        self._sounding: dict[int, dict[tuple[int, int], None]] = {}

    # ---- inputs ----------------------------------------------------------------------------------

    def midi(self, port: int, data: bytes, stamp_sec: float, arrived_sec: float) -> None:
        """One message of an instrument, played at ``stamp_sec`` (not after ``arrived_sec``)."""
        at_sec = max(arrived_sec, self.looper.now_sec)
        if self.journal is not None:
            self.journal.midi(at_sec, stamp_sec, arrived_sec, port, data)
        self._play(at_sec, stamp_sec, port, data)

    def control(self, port: int, data: bytes, stamp_sec: float, arrived_sec: float) -> None:
        """One message that was taken as a control: written down, and nothing else."""
        if self.journal is not None:
            at_sec = max(arrived_sec, self.looper.now_sec)
            self.journal.midi(at_sec, stamp_sec, arrived_sec, port % CONTROL + CONTROL, data)

    def command(self, name: str, args: Mapping[str, Any] | None, at_sec: float, quiet: bool = False) -> str:
        """A command to the looper; returns the sentence that says what it does, or why it does
        nothing.

        It is checked before it is written down, so no journal holds a command that cannot be done.
        ``quiet``: only returned, told to nobody.
        """
        at_sec = max(at_sec, self.looper.now_sec)
        try:
            checked = check_command(name, args, (LOOPER,))
        except CommandError as error:
            if not quiet:
                self.tell(Said(time_sec=at_sec, text=str(error), wrong=True))
            return str(error)
        if self.journal is not None:
            self.journal.command(at_sec, name, checked)
        said = self._apply(at_sec, name, checked)
        self._take_news(quiet)
        return said

    def release(self, port: int, at_sec: float) -> None:
        """End every note that is held on an input: its device has gone, and no note-off will
        come.
        """
        for channel in sorted({channel for channel, _ in self._sounding.get(port, {})}):
            for controller, value in ((64, 0), (123, 0)):
                self.midi(port, bytes((0xB0 | channel, controller, value)), at_sec, at_sec)

    # ---- time ------------------------------------------------------------------------------------

    def advance(self, until_sec: float) -> None:
        """Perform everything that falls due up to ``until_sec``."""
        self.looper.advance(until_sec)
        self._take_news()

    def next_due(self) -> float | None:
        """When the next thing falls due by itself; None when nothing will."""
        due = self.looper.next_due()
        if self.clock_out is None:
            return due
        clock = self.clock_out.next_due()
        if clock is None:
            return due
        return max(clock, self.looper.now_sec) if due is None else min(due, max(clock, self.looper.now_sec))

    # ---- outputs ---------------------------------------------------------------------------------

    def take_outs(self) -> list[Out]:
        """The MIDI messages to send since the last call, in order of time."""
        outs = self.looper.take_outs()
        if self.clock_out is not None:
            outs += self.clock_out.take()
            outs.sort(key=lambda out: out.time_sec)
        return outs

    def take_messages(self) -> list[Message]:
        """What the window is to know since the last call."""
        messages = list(self._messages)
        self._messages.clear()
        return messages

    def tell(self, one: Message) -> None:
        """A message of the engine's own (devices, a take saved, a sentence), remembered for windows
        that come later.
        """
        self._snapshot.receive(one)
        self._messages.append(one)

    def snapshot(self) -> list[Message]:
        """Everything a window that comes now has to know, as the messages that would have told
        it.
        """
        return self._snapshot.messages()

    # ---- inside ----------------------------------------------------------------------------------

    def _apply(self, at_sec: float, name: str, args: Mapping[str, Any]) -> str:
        said = self.looper.command(at_sec, name, **args)
        if name == "late":
            self.late_sec = self.looper.late_sec()
        return said

    def _play(self, at_sec: float, stamp_sec: float, port: int, data: bytes) -> None:
        if len(data) == 3 and data[0] & 0xE0 == 0x80:
            held = self._sounding.setdefault(port, {})
            place = (data[0] & 0x0F, data[1])
            if data[0] & 0xF0 == 0x90 and data[2]:
                held[place] = None
            else:
                held.pop(place, None)
        elif len(data) == 3 and data[0] & 0xF0 == 0xB0 and data[1] in (120, 123):
            held = self._sounding.get(port, {})
            for place in [one for one in held if one[0] == data[0] & 0x0F]:
                del held[place]
        self.looper.midi(at_sec, stamp_sec, port, data)
        self._take_news()

    def _take_news(self, quiet: bool = False) -> None:
        for news in self.looper.take_news():
            if isinstance(news, Kept):
                if self.keep is not None:
                    self.keep(news.keep)
            elif not (quiet and isinstance(news, Said)):
                self.tell(news)

    # ---- replay ----------------------------------------------------------------------------------

    def apply(self, record: Record) -> None:
        """One record of a journal, exactly as it took effect then.

        Nothing is written down again.
        """
        if isinstance(record, MidiRecord):
            if record.port < CONTROL:
                self._play(record.at_sec, record.stamp_sec, record.port, record.data)
        elif isinstance(record, CommandRecord):
            self._apply(record.at_sec, record.name, as_recorded(record.name, record.args))
            self._take_news()
