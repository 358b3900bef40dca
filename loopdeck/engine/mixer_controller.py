"""The mixer of a running engine: what is set by command, told to the window, written down, and
given to layers that are new.

Conventions: called in the thread that plays. A layer is in the mixer by its channel slot
(``looper.layers.slot_of``).
"""

from typing import Any

from loopdeck.audio.levels import MARK, Mix
from loopdeck.audio.output import SoundOutput
from loopdeck.engine.journal_thread import JournalThread
from loopdeck.engine.player_messages import PlayerMessages
from loopdeck.looper.layers import slot_of
from loopdeck.session.opening import OpenedSession
from loopdeck.synth.events import layer_part


class MixerController:
    """Sets ``sound`` as the session had it before, if it had."""

    def __init__(
        self, sound: SoundOutput, session: OpenedSession, journal: JournalThread, messages: PlayerMessages
    ) -> None:
        self._sound, self._session, self._journal, self._messages = sound, session, journal, messages
        self._standing = self._numbers()
        if session.levels is not None:
            sound.set(session.levels)

    def tell(self) -> None:
        """Tell the window how everything is set."""
        self._session.tell(self._sound.state(self._messages.now()))

    def apply(self, name: str, args: dict[str, Any]) -> None:
        """``level`` or ``sound-mute``."""
        self._mark(name, args)
        text, wrong = self._sound.apply(name, args)
        self._messages.say(text, wrong)
        self.tell()

    def mix(self) -> Mix:
        """What a take keeps."""
        return self._sound.levels.mix()

    def brought_back(self) -> None:
        """An undo or a redo has been done: layers it brought back sound as they did."""
        self._standing |= self._numbers()

    def new_layers(self) -> bool:
        """A layer that is new sounds at 0 dB, whatever one of its number had been set to.

        True when something was set.
        """
        numbers = self._numbers()
        slots = {slot_of(number) for number in numbers & self._standing}
        new, self._standing = numbers - self._standing, numbers
        changed = False
        for part in {layer_part(slot_of(number)) for number in new if slot_of(number) not in slots}:
            if self._sound.present and self._sound.levels.of(part)[0] != 0.0:
                args = {"part": part, "db": 0.0}
                self._mark("level", args)
                self._sound.apply("level", args)
                changed = True
        if changed:
            self.tell()
        return changed

    def _numbers(self) -> set[int]:
        return {layer.number for layer in self._session.looper.layers()}

    def _mark(self, name: str, args: dict[str, Any]) -> None:
        self._journal.mark(MARK, {"name": name, "args": args})
