"""The looper: timestamped events and commands in, scheduled events and news out. No clock, port, file or thread.

Theory of operation
    Time runs only by being told: ``advance(until)`` performs everything that falls due up to there, in order. An input comes with
    ``at_sec``, when it takes effect (never before what was already performed), and an event also with ``stamp_sec``, when it was
    played. The looper is a function of the sequence of its inputs: how ``advance`` is cut into steps changes nothing.

    All playing goes into the history of passes, whatever the state. A layer is a view of one pass of the history: made when a pass
    ends (LAYERING, REPLACING) or afterwards (loop-that), and made anew when a late event still belongs to that pass. The layers that
    stand are a tuple; undo and redo move through earlier tuples, so one undo takes away exactly one pass.

    What every command does in every state stands in ``commands.COMMANDS``; everything that changes the state lives in this
    file, in ``actions`` (the commands) and in ``core`` (time and playing).
"""

import hashlib
import json
from typing import Any

from loopdeck.brief.brief import BriefError
from loopdeck.capture.events import Event
from loopdeck.capture.pairing import Started
from loopdeck.looper.actions import Actions
from loopdeck.looper.commands import COMMANDS, LOOPER, CommandError, check_command
from loopdeck.looper.core import News, Refused
from loopdeck.looper.layers import Layer
from loopdeck.looper.state import STOPPED
from loopdeck.looper.voices import Out
from loopdeck.rhythm.errors import RhythmError

__all__ = ["Looper", "News", "Out"]


class Looper(Actions):
    """One session's looper. A command that makes no sense is answered in a sentence, never by an exception."""

    # ---- the door -------------------------------------------------------------------------------------------------------

    def advance(self, until_sec: float) -> None:
        """Perform everything that falls due up to and including ``until_sec``."""
        while (item := self._schedule.first()) is not None:
            due = self.transport.sec_at(item.quarter)
            if due > until_sec:
                break
            self._now = max(self._now, due)
            self._perform(*self._schedule.pop())
        self._now = max(self._now, until_sec)

    def midi(self, at_sec: float, stamp_sec: float, port: int, data: bytes) -> None:
        """One channel message that was played at ``stamp_sec``. System messages are none of the looper's business."""
        self.advance(at_sec)
        if not data or not 0x80 <= data[0] < 0xF0:
            return
        event = Event(stamp_sec, port, bytes(data))
        outcomes = self._pairer.feed(event)
        self._bend_through(port, event.data)
        note_id = outcomes[0].id if outcomes else None
        for outcome in outcomes:
            if isinstance(outcome, Started):
                self._started(outcome)
                note_id = outcome.id
            else:
                self._ended(outcome)
        self.history.event(event, note_id, self.state != STOPPED)

    def command(self, at_sec: float, name: str, /, **args: Any) -> str:
        """Do what the table says; returns the sentence that was also said in the news."""
        self.advance(at_sec)
        try:
            checked = check_command(name, args, (LOOPER,))
            cell = COMMANDS[name].cell(self.state)
            if cell.refusal:
                return self._say(cell.refusal, wrong=True)
            sentence = getattr(self, f"_{cell.action}")(**checked)
        except ValueError as error:
            if not isinstance(error, BriefError | RhythmError | CommandError | Refused):
                raise
            return self._say(str(error), wrong=True)
        return self._say(sentence) if sentence else sentence

    def next_due(self) -> float | None:
        """When the next thing falls due by itself, in seconds; None when nothing will."""
        item = self._schedule.first()
        return None if item is None else max(self._now, self.transport.sec_at(item.quarter))

    def take_outs(self) -> list[Out]:
        """The messages to send since the last call, in order of time."""
        outs = list(self._outs)
        self._outs.clear()
        return outs

    def take_news(self) -> list[News]:
        """The news since the last call."""
        news = list(self._news)
        self._news.clear()
        return news

    @property
    def now_sec(self) -> float:
        """Up to where everything has been performed."""
        return self._now

    # ---- comparing ------------------------------------------------------------------------------------------------------

    def digest(self) -> str:
        """A hash of the whole state: two loopers with the same inputs have the same one (SHA-256, hexadecimal)."""
        passes = [
            (
                record.index,
                str(record.start_q),
                record.start_sec,
                record.end_sec,
                record.layered,
                record.layer,
                [tuple(vars(note).values()) for note in record.notes],
            )
            for _, record in sorted(self.history.passes.items())
        ]
        layers = [(key, _layer_parts(layer)) for key, layer in sorted(self._layers.items())]
        parts = (
            self.state,
            self._next_state,
            self.brief.to_dict(),
            self._feel,
            self._cycle,
            self._deferred,
            self.transport.anchors,
            passes,
            [(event, note) for event, note in self.history.events],
            layers,
            self._standing,
            sorted(self._muted),
            self._undo_stack,
            self._redo_stack,
            self._voices.table(),
            self._schedule.waiting(),
            sorted(self._thru_ports),
            sorted(self._late_sec.items()),
            (sorted(self._bent.items()), sorted(self._bending.items()), self._struck_q),
            self._practice.parts(),
        )
        return hashlib.sha256(json.dumps(parts, default=repr, sort_keys=True).encode()).hexdigest()


def _layer_parts(layer: Layer) -> tuple[Any, ...]:
    bends = [curve.tolist() for curve in layer.bends]
    return (layer.number, layer.notes.tolist(), bends, layer.pass_index, layer.program, layer.channel, layer.ids)
