"""The engine's commands for takes of the shelf: looped again, heard, and no longer heard.

Theory of operation
    The take is read, and laid out, by a process of its own (``process.shelf_server``); the thread
    that plays only hands over what comes back: to the looper the notes themselves, by the command
    ``bring-back``, so that the journal holds them; to the audition the messages to be heard.
"""

from collections.abc import Callable
from contextlib import suppress
from typing import Any

from loopdeck.engine.audition import Audition
from loopdeck.engine.command_door import CommandDoor, EngineAct
from loopdeck.engine.mixer_controller import MixerController
from loopdeck.engine.player_messages import PlayerMessages
from loopdeck.looper.given_layers import layer_from
from loopdeck.process.shelf_client import ShelfAnswer, ShelfClient
from loopdeck.protocol.messages import ShelfChanged
from loopdeck.session.session import Session


def prepare(answer: ShelfAnswer) -> None:
    """Read how the notes of a long loop were played before the thread that plays needs it."""
    if answer.ask == "loop" and not answer.wrong:
        for given in answer.found["loop"]["layers"]:
            _ = layer_from(given, 1).touch


class ShelfActs:
    """``later`` has something done in the thread that plays; ``put`` and ``ahead_sec`` are for the
    audition.
    """

    def __init__(
        self,
        shelf_path: str,
        session: Session,
        messages: PlayerMessages,
        door: CommandDoor,
        audition: Callable[[Callable[[], None]], Audition],
        later: Callable[[Callable[[], None]], None],
        mixer: MixerController,
    ) -> None:
        self._mixer = mixer
        self._path, self._session, self._messages, self._door = shelf_path, session, messages, door
        self.audition = audition(lambda: self._tell(0, ""))

        def answered(answer: ShelfAnswer) -> None:
            # In the thread of the client, which goes on whatever a take holds.
            with suppress(Exception):
                prepare(answer)
            later(lambda: self._answered(answer))

        self.client = ShelfClient(shelf_path, answered)
        #: The questions for the take that is to be heard next, and for more of the one that is;
        #: what was asked before them is wanted no longer.
        self._next = self._more = 0
        #: How many messages of what is heard have come.
        self._pieces = 0
        self._tell(0, "")

    def acts(self) -> dict[str, EngineAct]:
        """What carries out which command."""
        return {"loop-take": self._loop, "hear-take": self._hear, "hear-no-take": lambda args: self.hush()}

    def hush(self) -> None:
        """Stop whatever is heard of the shelf, and forget what was to come."""
        self._next = self._more = 0
        self.audition.end(self._messages.now())

    def close(self) -> None:
        """The session ends."""
        self.client.close()

    def _loop(self, args: dict[str, Any]) -> None:
        self.client.ask("loop", **args)

    def _hear(self, args: dict[str, Any]) -> None:
        self._next = self.client.ask("hear", **args)

    def _answered(self, answer: ShelfAnswer) -> None:
        if answer.wrong:
            self._messages.say(answer.wrong, wrong=True)
        elif answer.ask == "loop":
            loop = answer.found["loop"]
            notes = [layer["notes"] for layer in loop["layers"]]
            self._mixer.expect(list(zip(notes, answer.found["levels"], strict=True)))
            self._door.do("bring-back", loop, self._messages.now())
        elif answer.ask == "hear" and answer.id in (self._next, self._more):
            self._hear_piece(answer.found, answer.id == self._next)

    def _hear_piece(self, found: dict[str, Any], first: bool) -> None:
        rows = [(float(sec), str(part), bytes.fromhex(data)) for sec, part, data in found["rows"]]
        if first:
            self._next = self._more = self._pieces = 0
            self.audition.begin(rows, found["length"], self._messages.now())
            self._tell(found["number"], found["name"])
        else:
            self.audition.more(rows)
        self._pieces += len(rows)
        if found["left"] and self.audition.hearing:
            self._more = self.client.ask("hear", take="", first=self._pieces)

    def _tell(self, number: int, name: str) -> None:
        self._session.tell(ShelfChanged(time_sec=self._messages.now(), path=self._path, heard=number, name=name))
