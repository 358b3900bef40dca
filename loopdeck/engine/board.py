"""The mixer's board in a running engine: what is set by command, told to the window, written down, and given to layers that are new.

Conventions: called in the thread that plays. A layer is in the mixer by its seat (``looper.layers.slot_of``).
"""

from collections.abc import Callable
from typing import Any

from loopdeck.audio.levels import MARK, Mix
from loopdeck.audio.sounding import Sound, mixer_state, obey
from loopdeck.engine.journal_thread import JournalThread
from loopdeck.looper.layers import slot_of
from loopdeck.process.clock import Clock
from loopdeck.session.opening import OpenedSession
from loopdeck.synth.events import layer_part


class Board:
    """``why`` there is no sound, where there is none; ``say(sentence, wrong)`` tells the player."""

    def __init__(
        self,
        sound: Sound | None,
        why: str,
        session: OpenedSession,
        clock: Clock,
        say: Callable[[str, bool], None],
    ) -> None:
        self._sound, self._why, self._session, self._clock, self._say = sound, why, session, clock, say
        self.journal: JournalThread | None = None
        self._standing = self._numbers()
        if sound is not None and session.levels is not None:
            sound.set(session.levels)

    def tell(self) -> None:
        """Tell the window how everything is set."""
        self._session.tell(mixer_state(self._sound, self._why, self._clock.now()))

    def obey(self, name: str, args: dict[str, Any]) -> None:
        """``level`` or ``sound-mute``."""
        self._mark(name, args)
        self._say(*obey(self._sound, name, args))
        self.tell()

    def mix(self) -> Mix:
        """What a take keeps."""
        levels = self._sound.levels if self._sound is not None else self._session.levels
        return levels.mix() if levels is not None else {}

    def brought_back(self) -> None:
        """An undo or a redo has been done: layers it brought back sound as they did."""
        self._standing |= self._numbers()

    def new_layers(self) -> bool:
        """A layer that is new sounds at 0 dB, whatever one of its number had been set to. True when something was set."""
        numbers = self._numbers()
        seats = {slot_of(number) for number in numbers & self._standing}
        new, self._standing = numbers - self._standing, numbers
        changed = False
        for part in {layer_part(slot_of(number)) for number in new if slot_of(number) not in seats}:
            if self._sound is not None and self._sound.levels.of(part)[0] != 0.0:
                args = {"part": part, "db": 0.0}
                self._mark("level", args)
                obey(self._sound, "level", args)
                changed = True
        if changed:
            self.tell()
        return changed

    def _numbers(self) -> set[int]:
        return {layer.number for layer in self._session.looper.layers()}

    def _mark(self, name: str, args: dict[str, Any]) -> None:
        if self.journal is not None:
            self.journal.mark(MARK, {"name": name, "args": args})
