"""The mixer of a running engine: what is set by command, told to the window, written down, and
given to layers that are new.

Conventions: called in the thread that plays. A layer is in the mixer by its channel slot
(``looper.layers.slot_of``).
"""

from collections.abc import Sequence
from typing import Any

from loopdeck.audio.levels import MARK, Mix
from loopdeck.audio.output import SoundOutput
from loopdeck.engine.journal_thread import JournalThread
from loopdeck.engine.player_messages import PlayerMessages
from loopdeck.looper.layers import Layer, slot_of
from loopdeck.session.opening import OpenedSession
from loopdeck.synth.events import layer_part


class MixerController:
    """Sets ``sound`` as the session had it before, if it had."""

    def __init__(
        self, sound: SoundOutput, session: OpenedSession, journal: JournalThread, messages: PlayerMessages
    ) -> None:
        self._sound, self._session, self._journal, self._messages = sound, session, journal, messages
        self._standing = self._numbers()
        self._expected: tuple[tuple[tuple[int, float], ...], tuple[Layer, ...]] = (), ()
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

    def expect(self, layers: Sequence[tuple[int, float]]) -> None:
        """A kept take is to be the loop again, or to stand beside it: layers of so many notes,
        which are to sound at these levels (dB) as soon as they are there.
        """
        self._expected = tuple(layers), tuple(self._session.looper.layers())

    def new_layers(self) -> bool:
        """A layer that is new sounds at 0 dB, or at the level it was kept with, whatever one of its
        number had been set to.

        True when something was set.
        """
        numbers = self._numbers()
        slots = {slot_of(number) for number in numbers & self._standing}
        new, self._standing = numbers - self._standing, numbers
        wanted = {layer_part(slot_of(number)): 0.0 for number in new if slot_of(number) not in slots}
        wanted |= self._kept_levels()
        changed = False
        for part, db in wanted.items():
            if self._sound.present and self._sound.levels.of(part)[0] != db:
                args = {"part": part, "db": db}
                self._mark("level", args)
                self._sound.apply("level", args)
                changed = True
        if changed:
            self.tell()
        return changed

    def _kept_levels(self) -> dict[str, float]:
        """Those of the layers that were expected, once they are the newest; one time."""
        expected, before = self._expected
        newest = self._session.looper.layers()[-len(expected) :] if expected else []
        if [len(layer) for layer in newest] != [notes for notes, _ in expected] or any(
            layer is old for layer in newest for old in before
        ):
            return {}
        self._expected = (), ()
        return {layer_part(slot_of(layer.number)): db for layer, (_, db) in zip(newest, expected, strict=True)}

    def _numbers(self) -> set[int]:
        return {layer.number for layer in self._session.looper.layers()}

    def _mark(self, name: str, args: dict[str, Any]) -> None:
        self._journal.mark(MARK, {"name": name, "args": args})
