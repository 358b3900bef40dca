"""What is played sounds through: notes and bends of the inputs chosen for it, on the one live
channel.

A note that goes on where the one before it on its string ended, clearly softer than notes are
plucked, sounds as hammered on or pulled off does in a layer: without a new pluck
(``bass.technique.legato`` has the figures). Only a pickup that names its strings is believed so.
"""

from collections.abc import Callable
from statistics import median

from loopdeck.bass.technique.legato import REACH_FRETS, SOFT
from loopdeck.bass.technique.reading import GAP_SEC
from loopdeck.capture.pairing import Started
from loopdeck.looper.touching import PORTAMENTO_CONTROL
from loopdeck.looper.voices import Out, Voice, Voices

LIVE_CHANNEL = 0
#: The usual level is that of so many plucked notes, of so many at least.
LEVELS, LEAST = 12, 4


class LiveThrough:
    """No input sounds through at first. ``send`` gets every message."""

    def __init__(self, voices: Voices, send: Callable[[Out], None]) -> None:
        self._voices, self._send = voices, send
        #: Whether inputs sound through, and which ones differ from that.
        self._all = False
        self._others: set[int] = set()
        #: Of each input, the channel whose note began last: its bends sound through.
        self._bending: dict[int, int] = {}
        #: By input and string: the note that came last, its pitch, and when it ended, once it has.
        self._last: dict[tuple[int, int], tuple[int, int, float | None]] = {}
        self._levels: list[int] = []

    def set(self, port: int | None, on: bool) -> None:
        """Let an input sound through, or not; None: every one."""
        if port is None:
            self._all, self._others = on, set()
        else:
            (self._others.discard if on == self._all else self._others.add)(port)

    def anything_sounds(self) -> bool:
        """True while some input sounds through."""
        return self._all or bool(self._others)

    def sounds(self, port: int) -> bool:
        """True for an input that sounds through."""
        return self._all != (port in self._others)

    def begin(self, now_sec: float, note: Started) -> None:
        """A note begins to be played."""
        if self.sounds(note.port):
            # Live tokens are negative, so that no layer's note-off can meet them.
            self._bending[note.port] = note.channel
            source = self._source(now_sec, note) if note.string else None
            if source is not None:
                self._send(Out(now_sec, bytes((0xB0 | LIVE_CHANNEL, PORTAMENTO_CONTROL, source)), "live"))
            self._voices.on(now_sec, LIVE_CHANNEL, note.pitch, note.velocity, Voice("live", -1 - note.id, 0))

    def _source(self, now_sec: float, note: Started) -> int | None:
        """The pitch that a note goes on from without a new pluck; None for a plucked one."""
        place = (note.port, note.string)
        _, pitch, end_sec = self._last.get(place, (-1, note.pitch, None))
        self._last[place] = (note.id, note.pitch, None)
        follows = end_sec is not None and now_sec - end_sec <= GAP_SEC and 1 <= abs(note.pitch - pitch) <= REACH_FRETS
        if follows and len(self._levels) >= LEAST and note.velocity <= SOFT * median(self._levels):
            return pitch
        self._levels = [*self._levels[1 - LEVELS :], note.velocity]
        return None

    def end(self, now_sec: float, note_id: int) -> None:
        """A note that was played ends."""
        for place, (last, pitch, _) in self._last.items():
            if last == note_id:
                self._last[place] = (last, pitch, now_sec)
        self._voices.silence(now_sec, lambda voice: voice.token == -1 - note_id)

    def bend(self, now_sec: float, port: int, data: bytes) -> None:
        """A bend or a bend range that is played sounds through as notes do.

        Of an input with a channel for each string only that of the newest note bends: the others
        may rest on some bend of their own.
        """
        kind = data[0] & 0xF0
        if not self.sounds(port) or len(data) != 3 or self._bending.get(port, data[0] & 0x0F) != data[0] & 0x0F:
            return
        if kind == 0xE0 or (kind == 0xB0 and data[1] in (6, 38, 100, 101)):
            self._send(Out(now_sec, bytes((kind | LIVE_CHANNEL, *data[1:])), "live"))

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        return (
            self._all,
            sorted(self._others),
            sorted(self._bending.items()),
            sorted(self._last.items()),
            self._levels,
        )
