"""What sounds: every note-on that leaves the looper is entered here, and leaves again by its
note-off.

One (channel, pitch) sounds once. A second note-on of it ends the first one, whoever sent it; the
late note-off of the first owner then finds somebody else there and does nothing. So whatever the
layers do, note-ons and note-offs alternate.
"""

from collections.abc import Callable
from typing import NamedTuple

NOTE_ON = 0x90
NOTE_OFF = 0x80


class Out(NamedTuple):
    """One MIDI message to send: when (seconds), its bytes, and the part it belongs to (``click``,
    ``layer``, ``live``, ``drums``). ``home``: the channel of the layer it is for, where a string of
    that has a channel of its own; -1 where it is the message's own.
    """

    time_sec: float
    data: bytes
    part: str
    home: int = -1


class Voice(NamedTuple):
    """Who owns a sounding note: the part, a token unique to the note-on, the layer's number (0: no
    layer), and the ``home`` of its messages.
    """

    part: str
    token: int
    layer: int
    home: int = -1


class Voices:
    """The table of sounding notes; every message it makes goes to ``send``."""

    def __init__(self, send: Callable[[Out], None]) -> None:
        self._send = send
        self._sounding: dict[tuple[int, int], Voice] = {}

    def on(self, sec: float, channel: int, pitch: int, velocity: int, voice: Voice) -> None:
        """Sound a note; one already sounding there is ended first."""
        old = self._sounding.get((channel, pitch))
        if old is not None:
            self._send(Out(sec, bytes((NOTE_OFF | channel, pitch, 0)), old.part, old.home))
        self._sounding[channel, pitch] = voice
        self._send(Out(sec, bytes((NOTE_ON | channel, pitch, min(max(velocity, 1), 127))), voice.part, voice.home))

    def off(self, sec: float, channel: int, pitch: int, token: int) -> None:
        """End a note, if it is still the one that ``token`` started."""
        voice = self._sounding.get((channel, pitch))
        if voice is not None and voice.token == token:
            del self._sounding[channel, pitch]
            self._send(Out(sec, bytes((NOTE_OFF | channel, pitch, 0)), voice.part, voice.home))

    def owns(self, channel: int, pitch: int, token: int) -> bool:
        """True while the note that ``token`` started still sounds."""
        return self.owner(channel, pitch, token) is not None

    def owner(self, channel: int, pitch: int, token: int) -> Voice | None:
        """The voice of the note that ``token`` started, while it still sounds."""
        voice = self._sounding.get((channel, pitch))
        return voice if voice is not None and voice.token == token else None

    def silence(self, sec: float, which: Callable[[Voice], bool] = lambda voice: True) -> None:
        """End every sounding note that ``which`` picks, in order of channel and pitch."""
        for channel, pitch in sorted(place for place, voice in self._sounding.items() if which(voice)):
            voice = self._sounding.pop((channel, pitch))
            self._send(Out(sec, bytes((NOTE_OFF | channel, pitch, 0)), voice.part, voice.home))

    def table(self) -> list[tuple[int, int, str, int, int, int]]:
        """Everything that sounds, sorted: (channel, pitch, part, token, layer, home)."""
        return sorted((channel, pitch, *voice) for (channel, pitch), voice in self._sounding.items())
