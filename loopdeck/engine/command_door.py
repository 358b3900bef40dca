"""The door for commands, whoever gives them (window, pedals, signals, the built-in player):
checked, and handed to their owner.
"""

from collections.abc import Callable
from typing import Any

from loopdeck.audio.levels import asked_layer
from loopdeck.audio.output import SoundOutput
from loopdeck.engine.mixer_controller import MixerController
from loopdeck.engine.player_messages import PlayerMessages
from loopdeck.looper.commands import COMMANDS, ENGINE, LOOPER, SOUND, WINDOW, CommandError, check_command
from loopdeck.looper.state import STOPPED
from loopdeck.midi.controls import Order
from loopdeck.session.session import Session

#: Carries out one command of the engine, with its checked arguments.
EngineAct = Callable[[dict[str, Any]], None]


class CommandDoor:
    """``keys_port`` is the number of the computer keyboard as an input.

    ``acts`` has what carries out a command of the engine's own, by its name; more may be added.
    ``quit`` turns True when the end has been asked for.
    """

    def __init__(
        self,
        session: Session,
        sound: SoundOutput,
        mixer: MixerController,
        messages: PlayerMessages,
        acts: dict[str, EngineAct],
        keys_port: int,
    ) -> None:
        self._session, self._sound, self._mixer, self._messages = session, sound, mixer, messages
        self.acts: dict[str, EngineAct] = {"quit": lambda args: self.give_up(), **acts}
        self.keys_port = keys_port
        self.quit = False
        #: What else falls silent when silence is asked for; gets the second.
        self.on_silence: Callable[[float], None] = lambda now: None

    def do(self, name: str, args: dict[str, Any] | None, at_sec: float) -> None:
        """A command, of the looper, the engine, the sound or the window; one that is wrong is
        answered in a sentence and goes no further.
        """
        try:
            args = check_command(name, args, (LOOPER, ENGINE, SOUND, WINDOW))
        except CommandError as error:
            self._messages.say(str(error), wrong=True)
            return
        owner = COMMANDS[name].owner
        if (layer := asked_layer(name, args)) is not None:
            on = args.get("on")
            self.do("mute-toggle" if on is None else "mute" if on else "unmute", {"layer": layer}, at_sec)
        elif owner == WINDOW:
            self._messages.ask_window(name, args)
        elif owner == SOUND:
            self._mixer.apply(name, args)
        elif owner == ENGINE:
            self.acts[name](args)
        else:
            self._to_looper(name, args, at_sec)

    def give_up(self) -> None:
        """End in order, as ``quit`` does."""
        self.quit = True

    def apply(self, order: Order) -> None:
        """Do what a pedal asks for."""
        act = order.act
        if act.stopped is not None and self._session.looper.state == STOPPED:
            act = act.stopped
        self.do(act.command, dict(act.args), order.time_sec)

    def _to_looper(self, name: str, args: dict[str, Any], at_sec: float) -> None:
        if name == "tap":
            # When it was tapped, not where the looper has got to.
            args = {"sec": at_sec, **args}
        elif self._session.looper.state == STOPPED:
            at_sec = self._sound.begin_sec(at_sec)
        self._session.command(name, args, at_sec)
        if name == "silence":
            self.on_silence(at_sec)
        if name in ("undo", "redo"):
            # What these bring back sounds as it did.
            self._mixer.brought_back()
