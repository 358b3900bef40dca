"""What is played sounds through: notes and bends of the inputs chosen for it, on the one live
channel.
"""

from collections.abc import Callable

from loopdeck.capture.pairing import Started
from loopdeck.looper.voices import Out, Voice, Voices

LIVE_CHANNEL = 0


class LiveThrough:
    """No input sounds through at first. ``send`` gets every message."""

    def __init__(self, voices: Voices, send: Callable[[Out], None]) -> None:
        self._voices, self._send = voices, send
        self._ports: set[int] = set()
        #: Of each input, the channel whose note began last: its bends sound through.
        self._bending: dict[int, int] = {}

    def set(self, port: int, on: bool) -> None:
        """Let an input sound through, or not."""
        (self._ports.add if on else self._ports.discard)(port)

    def begin(self, now_sec: float, note: Started) -> None:
        """A note begins to be played."""
        if note.port in self._ports:
            # Live tokens are negative, so that no layer's note-off can meet them.
            self._bending[note.port] = note.channel
            self._voices.on(now_sec, LIVE_CHANNEL, note.pitch, note.velocity, Voice("live", -1 - note.id, 0))

    def end(self, now_sec: float, note_id: int) -> None:
        """A note that was played ends."""
        self._voices.silence(now_sec, lambda voice: voice.token == -1 - note_id)

    def bend(self, now_sec: float, port: int, data: bytes) -> None:
        """A bend or a bend range that is played sounds through as notes do.

        Of an input with a channel for each string only that of the newest note bends: the others
        may rest on some bend of their own.
        """
        kind = data[0] & 0xF0
        if port not in self._ports or len(data) != 3 or self._bending.get(port, data[0] & 0x0F) != data[0] & 0x0F:
            return
        if kind == 0xE0 or (kind == 0xB0 and data[1] in (6, 38, 100, 101)):
            self._send(Out(now_sec, bytes((kind | LIVE_CHANNEL, *data[1:])), "live"))

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        return (sorted(self._ports), sorted(self._bending.items()))
