"""Learning a switch while playing: the commands ``learn``, ``learn-take``, ``learn-end`` and
``unlearn``, what the window is told of it, and the control map that comes of it.

Theory of operation
    While a switch is learned, the pedal board hands every message of the inputs here first
    (``midi.learning`` makes a press of them). What was learned is in force at once, and written as
    the player's own control map ``my-pedals``, which the next start uses. A note, and a press that
    gives another command already, are taken only when the player says so.

Conventions: called in the thread that plays; files are written by ``DeviceMemory``'s. A ``Timer``.
"""

import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from loopdeck import configs
from loopdeck.atomic import whole_file
from loopdeck.engine.command_door import EngineAct
from loopdeck.engine.device_memory import DeviceMemory
from loopdeck.engine.pedal_board import PedalBoard
from loopdeck.engine.player_messages import PlayerMessages
from loopdeck.errors import UserError
from loopdeck.looper.commands import COMMANDS, check_by_foot
from loopdeck.midi.control_edit import (
    ACTS,
    act_at,
    controls_to_toml,
    joined,
    same_act,
    switch_of,
    with_act,
    without_act,
)
from loopdeck.midi.control_files import load_controls
from loopdeck.midi.controls import Act, ControlMap
from loopdeck.midi.learning import Learned, Learner, name_of
from loopdeck.protocol.messages import PedalRow, PedalsChanged
from loopdeck.session.session import Session

MINE = "my-pedals"
ABOUT = "Learned in loopdeck's window."
PRESSES = {"short": "pressed shortly", "long": "held", "double": "pressed twice"}


class PedalLearning:
    """``name`` is that of the map in force. ``keys_port``: the computer keyboard, which has no
    pedals.
    """

    def __init__(
        self, board: PedalBoard, session: Session, messages: PlayerMessages, memory: DeviceMemory, name: str, keys_port: int
    ) -> None:  # fmt: skip
        self._board, self._session, self._messages, self._memory = board, session, messages, memory
        self.name = name
        self._keys_port = keys_port
        self._act: Act | None = None
        self._learner = Learner()
        self._asked: Learned | None = None
        self._told: tuple[Any, ...] = ()

    def acts(self) -> dict[str, EngineAct]:
        """What carries out its commands."""
        return {
            "learn": self._learn,
            "learn-take": lambda args: self._take_asked(),
            "learn-end": lambda args: self._end(),
            "unlearn": self._unlearn,
        }

    # ---- telling ---------------------------------------------------------------------------------

    def tell(self, text: str = "", wrong: bool = False) -> None:
        """Tell the window how everything stands."""
        controls, heard = self._board.controls, self._learner.sent
        self._session.tell(
            PedalsChanged(
                time_sec=self._messages.now(),
                name=self.name,
                rows=rows_of(controls),
                learning=self._act.command if self._act is not None else "",
                args=dict(self._act.args) if self._act is not None else {},
                heard=heard.words if heard is not None else "",
                text=text,
                wrong=wrong,
                asks=self._asked is not None,
            )
        )

    def _tell_news(self) -> None:
        """What the learner has to say, if that is new."""
        learner = self._learner
        now = (learner.sent, learner.says, learner.wrong)
        if now != self._told:
            self._told = now
            self.tell(learner.says, learner.wrong)

    # ---- commands --------------------------------------------------------------------------------

    def _learn(self, args: Mapping[str, Any]) -> None:
        command, more = str(args["command"]), dict(args["args"])
        try:
            more = check_by_foot(command, more)
        except UserError as error:
            self._messages.say(str(error), wrong=True)
            return
        # As it was asked for: defaults are the command's own matter.
        self._act = Act(command, {key: one for key, one in more.items() if key in args["args"]})
        self._begin()
        self.tell("Press the switch: briefly, long, or twice.")

    def _begin(self) -> None:
        self._learner, self._asked, self._told = Learner(), None, (None, "", False)
        self._board.learn = self._hear
        self._board.let_go()

    def _end(self) -> None:
        self._board.learn, self._act, self._asked = None, None, None
        self._learner = Learner()
        self.tell()

    def _unlearn(self, args: Mapping[str, Any]) -> None:
        controls = self._board.controls
        less = without_act(controls, args["command"], args["args"]) if controls is not None else None
        if controls is None or less == controls:
            self._messages.say("No switch gives this command.", wrong=True)
            return
        self._use(less)
        self.tell(f"No switch gives {words_of(args['command'])!r} any more.")

    # ---- hearing ---------------------------------------------------------------------------------

    def _hear(self, port: int, sec: float, data: bytes) -> bool:
        """A message of an input while a switch is learned."""
        if port == self._keys_port or not self._board.hears(port):
            return False
        taken = self._learner.hear(sec, data)
        if self._learner.begun:
            # While a question waits, another press is learned in place of that one.
            self._asked = None
        self._follow()
        return taken

    def next_due(self) -> float | None:
        """When waiting decides something."""
        return self._learner.next_due() if self._act is not None else None

    def run(self, now: float) -> None:
        """Do what has become certain by waiting."""
        if self._act is not None and self._asked is None:
            self._learner.tick(now)
            self._follow()

    def _follow(self) -> None:
        if self._asked is not None or self._act is None:
            return
        found = self._learner.result
        if found is None:
            self._tell_news()
            return
        asks = self._reason_to_ask(found)
        if not asks:
            self._take(found)
            return
        # Another press may still be learned instead.
        self._learner = Learner(sent=found.sent)
        self._asked = found
        self.tell(f"{asks} Enter takes it all the same; or press another switch.", wrong=True)

    def _reason_to_ask(self, found: Learned) -> str:
        """Why the player is asked first; "" where there is no reason."""
        assert self._act is not None
        there = act_at(switch_of(self._board.controls, found.sent), found.press)
        if there is not None and not same_act(there, self._act.command, self._act.args):
            return f"{name_of(found.sent)}, {PRESSES[found.press]}, is {words_of(there.command)!r} already."
        if found.sent.on == "note":
            return f"{name_of(found.sent)} is a note, and will not be played any more."
        return ""

    def _take_asked(self) -> None:
        if self._asked is None:
            self._messages.say("No switch waits to be taken.", wrong=True)
            return
        self._take(self._asked)

    # ---- the map ---------------------------------------------------------------------------------

    def _take(self, found: Learned) -> None:
        assert self._act is not None
        act = self._act
        try:
            controls = with_act(self._base(), found, act)
        except UserError as error:
            self._end()
            self.tell(str(error), wrong=True)
            return
        self._board.learn, self._act, self._asked = None, None, None
        self._use(controls)
        rattles = " Its contacts rattle, so it is given more time to rest." if found.rattles else ""
        self.tell(f"{name_of(found.sent)}, {PRESSES[found.press]}: {words_of(act.command)}.{rattles}")

    def _base(self) -> ControlMap:
        """The map in force, as one of the player's own."""
        return self._board.controls or ControlMap(MINE, (), ABOUT)

    def _use(self, controls: ControlMap | None) -> None:
        """In force now, and at the next start."""
        mine, before = MINE, self.name
        controls = replace(controls or ControlMap(mine, ()), name=mine, about=ABOUT)
        self._board.use(controls if controls.switches else None)
        self.name = mine if controls.switches else ""
        self._memory.chosen.controls = self.name
        self._memory.do(lambda: self._write(controls, before))
        self._memory.remember({"controls": self.name})

    def _write(self, controls: ControlMap, before: str) -> None:
        """In the memory's thread: the player's own map, with what was learned earlier and is not in
        force now.
        """
        path = configs.own_folder("controls") / f"{MINE}.toml"
        if before != MINE and path.exists():
            with suppress(UserError, OSError):
                controls = joined(controls, load_controls(str(path)))
        try:
            _write_map(path, controls)
        except OSError as error:
            where = f"{error.filename}: " if error.filename else ""
            self._memory.say(f"The switch works now, but its map cannot be written ({where}{error.strerror or error}).")

    def restore(self) -> None:
        """A session that is taken up again: with the map that was learned in it."""
        name = self._memory.chosen.controls
        if name:
            with suppress(UserError, OSError):
                self._board.use(load_controls(name))
                self.name = name
        self.tell()


def _write_map(path: Path, controls: ControlMap) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    if not controls.switches:
        path.unlink(missing_ok=True)
        return
    with whole_file(path) as file:
        file.write(controls_to_toml(controls).encode())


def words_of(command: str) -> str:
    """A command in a player's words."""
    return re.split("[:;]", COMMANDS[command].does)[0] if command in COMMANDS else command


def rows_of(controls: ControlMap | None) -> tuple[PedalRow, ...]:
    """What every switch of a map does, for the window."""
    rows = []
    for switch in controls.switches if controls is not None else ():
        kind = {"control change": "CC", "program change": "program"}.get(switch.on, switch.on)
        for name, press in ACTS.items():
            act: Act | None = getattr(switch, name)
            if act is not None:
                rows.append(
                    PedalRow(switch=f"{kind} {switch.number}", press=press, command=act.command, args=dict(act.args))
                )
    return tuple(rows)
