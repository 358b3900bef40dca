"""The looper: timestamped events and commands in, scheduled events and news out. No clock, port,
file or thread.

Theory of operation
    Time runs only by being told: ``advance(until)`` performs everything that falls due up to there,
    in order. An input comes with ``at_sec``, when it takes effect (never before what was already
    performed), and an event also with ``stamp_sec``, when it was played. The looper is a function
    of the sequence of its inputs: how ``advance`` is cut into steps changes nothing.

    All playing goes into the recorder, whatever the state. A layer is a view of one pass: made when
    a pass ends (LAYERING, REPLACING) or afterwards (loop-that), and made anew when a late event
    still belongs to that pass. The active layers are a tuple; undo and redo move through earlier
    tuples, so one undo takes away exactly one pass.

    What every command does in every state, and when, stands in ``commands.COMMANDS``. The looper is
    made of parts (``core``); the actions named in the table are methods of those who act on the
    parts, and are found by their names.
"""

import hashlib
import json
from collections.abc import Callable
from fractions import Fraction
from typing import Any

from loopdeck.brief.brief import Brief
from loopdeck.brief.spec import BEAT, NOW
from loopdeck.capture.events import Event
from loopdeck.errors import UserError
from loopdeck.looper.brief_commands import BriefCommands
from loopdeck.looper.bring_back import BringBack
from loopdeck.looper.commands import (
    COMMANDS,
    END,
    FIELD,
    LAYERED,
    LOOP,
    LOOPER,
    MEANT,
    NAMED,
    START,
    TO_BE_PLAYED,
    Cell,
    check_command,
)
from loopdeck.looper.core import Core
from loopdeck.looper.hindsight import Hindsight
from loopdeck.looper.inputs import Inputs
from loopdeck.looper.keep_command import KeepCommand
from loopdeck.looper.layer_commands import LayerCommands
from loopdeck.looper.layering import Layering
from loopdeck.looper.layers import Layer
from loopdeck.looper.loop_free import LoopFree
from loopdeck.looper.loop_that import LoopThat
from loopdeck.looper.news import Answer, News
from loopdeck.looper.passes import Passes
from loopdeck.looper.recorder import FREE
from loopdeck.looper.schedule import Item, Rank
from loopdeck.looper.state import Waiting, planned_by
from loopdeck.looper.transport import Transport
from loopdeck.looper.varying import Varying
from loopdeck.looper.voices import Out

__all__ = ["Looper", "News", "Out"]

#: Actions that make a layer of the pass they wait for.
_MAKE_LAYERS = {cell.action for command in COMMANDS.values() for cell in command.cells if cell.waits == LAYERED}


class Looper:
    """One session's looper.

    A command that makes no sense is answered in a sentence, never by an exception.
    """

    def __init__(self, brief: Brief, start_sec: float = 0.0) -> None:
        self._core = core = Core(brief, start_sec)
        layering = Layering(core)
        self._passes = Passes(core, layering, self._finish_waiting, self._take_loop)
        self._hindsight, bring_back = Hindsight(core, layering), BringBack(core)
        self._inputs = Inputs(core, layering, self._hindsight)
        self._brief_commands = BriefCommands(core)
        self._keep = KeepCommand(core)
        owners = (
            self._passes,
            layering,
            LayerCommands(core),
            LoopThat(core, layering),
            LoopFree(core, layering),
            Varying(core, bring_back),
            bring_back,
            self._hindsight,
            self._keep,
            self._brief_commands,
        )
        self._actions = _actions(*owners, self._inputs)

    # ---- what can be seen ------------------------------------------------------------------------

    @property
    def now_sec(self) -> float:
        """Up to where everything has been performed."""
        return self._core.now_sec

    @property
    def state(self) -> str:
        """One of ``state.STATES``."""
        return self._core.state.name

    @property
    def brief(self) -> Brief:
        """The brief of the moment."""
        return self._core.brief

    @property
    def transport(self) -> Transport:
        """Seconds to quarters and back."""
        return self._core.transport

    def layers(self) -> list[Layer]:
        """The active layers, oldest first."""
        return self._core.stack.layers()

    @property
    def muted(self) -> frozenset[int]:
        """The numbers of the active layers that are not to be heard: muted, or silent because
        another one is soloed.
        """
        return self._core.stack.quiet_numbers()

    def late_sec(self) -> dict[int, float]:
        """By input, how much earlier than it arrives it is judged, in seconds."""
        return dict(self._core.recorder.late_sec)

    @property
    def pass_index(self) -> int:
        """The pass that runs, or ran last; FREE before the first."""
        record = self._core.recorder.current
        return record.index if record is not None else FREE

    @property
    def pass_start_q(self) -> Fraction:
        """Where the pass that runs began (or, in a count-in, where the first one will), on the
        session's axis.
        """
        record = self._core.recorder.current
        return record.start_q if record is not None else Fraction(0)

    @property
    def run_start_q(self) -> Fraction:
        """Where the first pass since the last start began, on the session's axis."""
        return self._core.transport.run_start_q

    # ---- inputs and outputs ----------------------------------------------------------------------

    def advance(self, until_sec: float) -> None:
        """Perform everything that falls due up to and including ``until_sec``."""
        core = self._core
        schedule = core.playback.schedule
        while True:
            item, check_sec = schedule.first(), self._hindsight.due_sec()
            due = core.transport.sec_at(item.quarter) if item is not None else float("inf")
            if check_sec is not None and check_sec <= min(due, until_sec):
                core.now_sec = max(core.now_sec, check_sec)
                self._hindsight.check()
                continue
            if item is None or due > until_sec:
                break
            core.now_sec = max(core.now_sec, due)
            self._perform(*schedule.pop())
        core.now_sec = max(core.now_sec, until_sec)

    def midi(self, at_sec: float, stamp_sec: float, port: int, data: bytes) -> None:
        """One channel message that was played at ``stamp_sec``.

        System messages are ignored.
        """
        self.advance(at_sec)
        if data and 0x80 <= data[0] < 0xF0:
            self._inputs.event(Event(stamp_sec, port, bytes(data)))

    def command(self, at_sec: float, name: str, /, **args: Any) -> str:
        """Do what the table says; returns the sentence that was also told to the window."""
        self.advance(at_sec)
        try:
            checked = check_command(name, args, (LOOPER,))
            cell = COMMANDS[name].cell(self.state)
            if cell.refusal:
                return self._core.say(cell.refusal, wrong=True)
            said = self._act(cell, checked)
        except UserError as error:
            return self._core.say(str(error), wrong=True)
        return self._core.say(said) if said else ""

    def next_due(self) -> float | None:
        """When the next thing falls due by itself, in seconds; None when nothing will."""
        core = self._core
        item, check_sec = core.playback.schedule.first(), self._hindsight.due_sec()
        due = check_sec
        if item is not None:
            item_sec = core.transport.sec_at(item.quarter)
            due = item_sec if due is None else min(due, item_sec)
        return None if due is None else max(core.now_sec, due)

    def take_outs(self) -> list[Out]:
        """The messages to send since the last call, in order of time."""
        outs = list(self._core.playback.outs)
        self._core.playback.outs.clear()
        return outs

    def take_news(self) -> list[News]:
        """The news since the last call."""
        news = list(self._core.news)
        self._core.news.clear()
        return news

    def digest(self) -> str:
        """A hash of the whole state: two loopers with the same inputs have the same one (SHA-256,
        hexadecimal).
        """
        parts = (self._core.parts(), self._keep.parts(), self._hindsight.parts())
        return hashlib.sha256(json.dumps(parts, default=repr, sort_keys=True).encode()).hexdigest()

    # ---- when ------------------------------------------------------------------------------------

    def _act(self, cell: Cell, args: dict[str, Any]) -> Answer | str | None:
        """Do an action at the moment the table says, or plan it."""
        core, at_once = self._core, self._at_once(cell.when, args)
        action = self._actions[cell.action]
        if cell.when in planned_by(action):
            return action(at_once=at_once, **args)
        # Only a change of the brief waits for these, and whoever makes one plans it.
        if at_once or cell.when in (LOOP, FIELD):
            return self._do(cell.action, args)
        waiting = Waiting(cell.action, args)
        if cell.when == BEAT:
            core.playback.schedule.push(core.next_beat_q(), Rank.BEAT, waiting)
            return Answer("At the next beat.")
        # One pass that is meant is looped once; "keep" counts each time.
        if cell.when not in (NAMED, MEANT) or waiting not in core.state.waiting:
            core.state.waiting.append(waiting)
        record = core.record()
        words = TO_BE_PLAYED if cell.waits == LAYERED and not record.notes else cell.waits
        return Answer(words.format(record.index + 1), "pass")

    def _at_once(self, when: str, args: dict[str, Any]) -> bool:
        """True where a command takes effect at the moment it comes."""
        core = self._core
        if when == NOW or not core.state.running:
            return True
        if when == START:
            return core.press_is_late()
        if when == NAMED:
            return bool(args["number"] != core.record().index + 1)
        if when == END and "last" in args:
            return bool(args["last"] != core.record().index + 1)
        if when == MEANT and core.picker.means_the_first(args["reach"]):
            return False
        if when == MEANT and not core.record().notes:
            # Nobody means a pass of rest.
            return True
        return when in (END, MEANT) and not core.press_is_early()

    def _finish_waiting(self) -> None:
        """The pass has ended: do what was asked for just before."""
        core, ended = self._core, self._core.recorder.finished()[-1:]
        for waiting in core.state.take_waiting():
            if ended and ended[0].layer in core.stack.active and waiting.action in _MAKE_LAYERS:
                # Layering has made it a layer already.
                core.say(f"Pass {ended[0].index + 1} is layer {core.stack[ended[0].layer].number}.")
            else:
                if waiting.action == "loop_that":
                    # The pass that has ended was meant, not a step back from a press before.
                    core.picker.forget()
                self._do_waiting(waiting)

    def _take_loop(self) -> bool:
        """A cycle begins, or time has stopped: the loop changes if that was asked for. True when it
        was.
        """
        waiting = self._core.state.take_loop()
        if waiting is not None:
            self._do_waiting(waiting)
        return waiting is not None

    def _do(self, name: str, args: dict[str, Any]) -> Answer | str | None:
        """Do an action whose moment has come."""
        action = self._actions[name]
        return action(at_once=True, **args) if planned_by(action) else action(**args)

    def _do_waiting(self, waiting: Waiting) -> None:
        try:
            said = self._do(waiting.action, waiting.args)
        except UserError as error:
            self._core.say(str(error), wrong=True)
        else:
            if said:
                self._core.say(said)

    # ---- what falls due --------------------------------------------------------------------------

    def _perform(self, item: Item, row: int) -> None:
        core, playback = self._core, self._core.playback
        if item.rank is Rank.NOTE:
            playback.sound(core.now_sec, item.quarter, item.payload, row, core.stack)
        elif item.rank is Rank.OFF:
            playback.voices.off(core.now_sec, *item.payload)
        elif item.rank is Rank.CLICK:
            if playback.click(core.now_sec, item, core.brief.click_level):
                self._passes.after_click()
        elif item.rank is Rank.BEND:
            playback.bend(core.now_sec, *item.payload)
        elif item.rank is Rank.LEAD:
            playback.lead(item.quarter, core.record(), core.stack, core.brief)
        elif item.rank is Rank.BEAT and item.payload is not None:
            self._do_waiting(item.payload)
        elif item.rank is Rank.BEAT:
            self._brief_commands.next_beat(item.quarter)
        else:
            self._passes.boundary()


def _actions(*owners: object) -> dict[str, Callable[..., Answer | str | None]]:
    """The method for every action in the table of commands."""
    wanted = {cell.action for command in COMMANDS.values() for cell in command.cells if cell.action}
    return {action: next(getattr(owner, action) for owner in owners if hasattr(owner, action)) for action in wanted}
