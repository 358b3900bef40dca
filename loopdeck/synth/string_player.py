"""The hands on the strings: MIDI messages of the live part and of the layers, turned into plucks,
dampings and bends.

Conventions
    A part may use several channels; each has its own pedal, bend and bend range, as MIDI 1.0 says.
    Note-on with velocity 0 is a note-off. A key that is struck again plucks its string again: what
    still rings of it is cut off. CC64 holds, CC120 cuts at once, CC123 and above let go of
    everything, CC121 puts pedal and bend back, RPN 0 sets the bend range (2 semitones until set).
    Everything else, programs and broken messages among them, is passed over.

Without a pluck
    CC84 (portamento control, MIDI 1.0) names the key that the next note of its channel comes from:
    if that string still rings it goes on at the new pitch, as when a finger hammers on, pulls off
    or slides, and the note-off of the old key finds nothing. Otherwise the note is plucked. CC75
    (decay time, MIDI 1.0 sound controller 6) at 0 makes the next notes of its channel dead ones,
    muted by the hand; any other value lets them ring again. Which controllers mean what: MIDI 1.0
    (from memory).
"""

import numpy as np
from numpy.typing import NDArray

from loopdeck.capture.bend_wheel import BendWheel
from loopdeck.synth.string import Strings, VoiceId

#: Portamento control: the key that the next note comes from without a pluck.
SOURCE_KEY = 84


class _Channel:
    """What one channel of a part has been told, and the voices of its keys."""

    __slots__ = ("dead", "held", "keys", "moved", "pedal", "source", "wheel")

    def __init__(self) -> None:
        self.keys: dict[int, VoiceId] = {}
        #: Keys let go while the pedal is down.
        self.held: set[int] = set()
        self.pedal = False
        self.wheel = BendWheel()
        #: The key that the next note comes from without a pluck, how far strings have got from
        #: where they were struck, and whether notes are dead.
        self.source: int | None = None
        self.moved: dict[int, int] = {}
        self.dead = False


class StringPlayer:
    """Plays ``strings``. Parts are numbers, as ``Strings.start`` takes them."""

    def __init__(self, strings: Strings) -> None:
        self._strings = strings
        self._channels: dict[tuple[int, int], _Channel] = {}

    def play(self, now: int, part: int, data: bytes, gains: NDArray[np.float64]) -> None:
        """Do what a message says; ``now`` is the next sample that will be rendered."""
        if len(data) != 3 or not 0x80 <= data[0] < 0xF0 or (data[1] | data[2]) & 0x80:
            return
        kind, first, second = data[0] & 0xF0, data[1], data[2]
        place = (part, data[0] & 0x0F)
        channel = self._channels.get(place)
        if channel is None:
            channel = self._channels[place] = _Channel()
        if kind == 0x90 and second:
            if not self._go_on(channel, now, first, second):
                self._pluck(channel, now, first, second, part, gains)
        elif kind in (0x80, 0x90):
            if channel.pedal:
                channel.held.add(first)
            else:
                self._let_go(channel, first)
        elif kind == 0xE0:
            channel.wheel.turn(first, second)
            self._bend(channel)
        elif kind == 0xB0:
            self._control(channel, first, second)

    def silence(self) -> None:
        """Cut everything off and forget pedals and bends; bend ranges stay."""
        for channel in self._channels.values():
            self._cut_all(channel)
            channel.pedal = False
            channel.wheel.release()
            channel.source, channel.dead = None, False

    def _pluck(
        self, channel: _Channel, now: int, pitch: int, velocity: int, part: int, gains: NDArray[np.float64]
    ) -> None:
        rings = channel.keys.pop(pitch, None)
        if rings is not None:
            self._strings.cut(rings)
        channel.held.discard(pitch)
        channel.moved.pop(pitch, None)
        channel.keys[pitch] = self._strings.start(
            now,
            pitch,
            velocity,
            part,
            gains,
            bend=channel.wheel.bent,
            reach=channel.wheel.range,
            dead=channel.dead or None,
        )

    def _go_on(self, channel: _Channel, now: int, pitch: int, velocity: int) -> bool:
        """Take the string of the key that was named to another pitch, if one was and it rings."""
        source, channel.source = channel.source, None
        voice = channel.keys.get(source) if source is not None else None
        if source is None or voice is None or source == pitch:
            return False
        moved = channel.moved.get(source, 0) + pitch - source
        if not self._strings.go_on(voice, pitch, velocity, channel.wheel.bent + moved):
            return False
        del channel.keys[source]
        channel.moved.pop(source, None)
        channel.held.discard(source)
        rings = channel.keys.pop(pitch, None)
        if rings is not None:
            self._strings.cut(rings)
        channel.held.discard(pitch)
        channel.keys[pitch], channel.moved[pitch] = voice, moved
        return True

    def _let_go(self, channel: _Channel, pitch: int) -> None:
        voice = channel.keys.get(pitch)
        if voice is not None:
            self._strings.release(voice, pitch)

    def _cut_all(self, channel: _Channel) -> None:
        for voice in channel.keys.values():
            self._strings.cut(voice)
        channel.keys.clear()
        channel.moved.clear()
        channel.held.clear()

    def _bend(self, channel: _Channel) -> None:
        semitones = channel.wheel.bent
        for pitch, voice in list(channel.keys.items()):
            if self._strings.sounds(voice):
                self._strings.bend(voice, semitones + channel.moved.get(pitch, 0))
            else:
                del channel.keys[pitch]
                channel.moved.pop(pitch, None)

    def _control(self, channel: _Channel, controller: int, value: int) -> None:
        if channel.wheel.control(controller, value):
            self._bend(channel)
        if controller == 64:
            self._pedal(channel, value >= 64)
        elif controller == SOURCE_KEY:
            channel.source = value
        elif controller == 75:
            channel.dead = value == 0
        elif controller == 120:
            self._cut_all(channel)
        elif controller == 121:
            self._pedal(channel, False)
        elif controller >= 123:
            for pitch in channel.keys:
                self._let_go(channel, pitch)
            channel.held.clear()

    def _pedal(self, channel: _Channel, down: bool) -> None:
        channel.pedal = down
        if not down:
            for pitch in channel.held:
                self._let_go(channel, pitch)
            channel.held.clear()
