"""The mixer of a running engine: what is set by command, told to the window, written down, and
given to layers that are new.

Conventions: called in the thread that plays. A layer is in the mixer by its channel slot
(``looper.layers.slot_of``).
"""

from collections import Counter
from collections.abc import Sequence
from typing import Any
from weakref import WeakKeyDictionary

from loopdeck.audio.levels import MARK, Mix
from loopdeck.audio.output import SoundOutput
from loopdeck.engine.journal_thread import JournalThread
from loopdeck.engine.player_messages import PlayerMessages
from loopdeck.looper.layers import Layer, slot_of
from loopdeck.session.opening import OpenedSession
from loopdeck.synth.events import layer_part

#: Rows of notes that begin with (onset in quarters, length, pitch), and a level in dB.
Kept = tuple[Sequence[Sequence[float]], float]


class MixerController:
    """Sets ``sound`` as the session had it before, if it had."""

    def __init__(
        self, sound: SoundOutput, session: OpenedSession, journal: JournalThread, messages: PlayerMessages
    ) -> None:
        self._sound, self._session, self._journal, self._messages = sound, session, journal, messages
        self._layers = session.looper.layers()
        self._active = {layer.number for layer in self._layers}
        self._expected: tuple[Kept, ...] = ()
        #: How often the level of a part was set for a layer that came.
        self._settings = Counter[str]()
        #: Of layers that may come back: their level in dB when they went, and ``_settings`` then.
        self._gone = WeakKeyDictionary[Layer, tuple[float, int]]()
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
        self._active |= {layer.number for layer in self._session.looper.layers()}

    def expect(self, layers: Sequence[Kept]) -> None:
        """A kept take is to be the loop again, or to stand beside it: layers of these notes, which
        are to sound at these levels as soon as they are there.
        """
        self._expected = tuple(layers)

    def new_layers(self) -> bool:
        """A layer that is new sounds at 0 dB, or at the level it was kept with, whatever one of its
        number had been set to; one that has come back as it did when it went.

        True when something was set.
        """
        layers = self._session.looper.layers()
        came = [layer for layer in layers if not any(layer is one for one in self._layers)]
        self._remember_gone(layers)
        numbers = {layer.number for layer in layers}
        slots = {slot_of(number) for number in numbers & self._active}
        fresh = [layer for layer in came if layer.number not in self._active and layer not in self._gone]
        self._layers, self._active = layers, numbers
        wanted = {_part(layer): 0.0 for layer in fresh if slot_of(layer.number) not in slots}
        wanted |= self._as_before(came)
        wanted |= self._kept_levels(came)
        changed = False
        for part, db in wanted.items():
            if self._sound.present and self._sound.levels.of(part)[0] != db:
                args = {"part": part, "db": db}
                self._mark("level", args)
                self._sound.apply("level", args)
                self._settings[part] += 1
                changed = True
        if changed:
            self.tell()
        return changed

    def _remember_gone(self, layers: Sequence[Layer]) -> None:
        for layer in self._layers:
            if not any(layer is one for one in layers):
                part = _part(layer)
                self._gone[layer] = self._sound.levels.of(part)[0], self._settings[part]

    def _as_before(self, came: Sequence[Layer]) -> dict[str, float]:
        """Levels of layers that have come back, where others had their places meanwhile."""
        back = {_part(layer): self._gone.pop(layer) for layer in came if layer in self._gone}
        return {part: db for part, (db, settings) in back.items() if settings != self._settings[part]}

    def _kept_levels(self, came: Sequence[Layer]) -> dict[str, float]:
        """Those of the layers that were expected, once they have come; one time."""
        expected = self._expected
        if not expected or len(came) != len(expected):
            return {}
        if not all(_has(layer, notes) for layer, (notes, _) in zip(came, expected, strict=True)):
            return {}
        self._expected = ()
        return {_part(layer): db for layer, (_, db) in zip(came, expected, strict=True)}

    def _mark(self, name: str, args: dict[str, Any]) -> None:
        self._journal.mark(MARK, {"name": name, "args": args})


def _part(layer: Layer) -> str:
    """Its part of the mixer."""
    return layer_part(slot_of(layer.number))


def _has(layer: Layer, notes: Sequence[Sequence[float]]) -> bool:
    """Whether these are the layer's notes."""
    own = zip(layer.notes["onset_q"].tolist(), layer.notes["pitch"].tolist(), strict=True)
    return len(layer) == len(notes) and list(own) == [(row[0], row[2]) for row in notes]
