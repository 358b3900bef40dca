"""From raw MIDI events to notes: which note-off ends which note-on, and how each note was bent.

Conventions
    Events come in order of arrival; times are seconds, never used for anything but onsets, ends and
    bend curves. Ports are strangers to each other, and so are the channels of one port: a pickup
    that sends each string on its own channel bends one string alone. Everything here is a function
    of the events: the same ones give the same notes, ids counted up from 0.

Rules
    - A note-on with velocity 0 is a note-off (MIDI 1.0).
    - A second note-on of a pitch that sounds on the same port and channel ends the first one there;
      one key, one note. The note-off that is then one too many finds nothing and is ignored, like
      any other stray.
    - While the sustain pedal (CC64, 64 and above is down) is held, a note whose key was let go goes
      on until the pedal goes up.
    - CC123 and the mode messages CC124 to 127 let go all keys of the channel (the pedal still holds
      them); CC120 ends all sound at once; CC121 puts the pedal up, the bend to the centre and
      selects no parameter, but leaves the bend range (MIDI 1.0, RP-015).
    - Pitch bend is 14 bits around 8192; full travel is 2 semitones until registered parameter 0,0
      (CC101, 100, then CC6 semitones and CC38 cents) says otherwise. The bend in force when a note
      begins is its curve's first row; of several bends at one instant the last one counts.
    - A note still held at the end is closed there; nothing ends before it began.
    - Messages that are not channel messages, or not whole, are ignored.
"""

from array import array
from collections import deque
from collections.abc import Iterable, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.capture.bend_wheel import BendWheel
from loopdeck.capture.events import Event
from loopdeck.capture.notes import STRAIGHT_BEND

#: A note with more bend points than this (minutes of vibrato, or a note-off that never came) loses
#: every other one.
MAX_BEND_POINTS = 16_384
#: Curves of ended notes that a Pairer holds: more than sixteen passes of the longest cycle. Older
#: ones read as straight.
REMEMBERED_CURVES = 20_000


class Started(NamedTuple):
    """A note began.

    Ids count up from 0 in one Pairer; ``string`` is 1 for the highest, 0 when not known.
    """

    id: int
    time_sec: float
    pitch: int
    velocity: int
    channel: int
    port: int
    string: int


class Ended(NamedTuple):
    """The note with this id ended. ``time_sec`` is never before its start."""

    id: int
    time_sec: float


class _Sounding:
    """A note that sounds: ``key_down`` is False while only the pedal holds it; ``curve`` is flat
    (seconds, semitones) pairs.
    """

    __slots__ = ("curve", "id", "key_down", "start_sec")

    def __init__(self, note_id: int, start_sec: float, semitones: float) -> None:
        self.id = note_id
        self.start_sec = start_sec
        self.key_down = True
        self.curve = array("d", (0.0, semitones))

    def bend(self, time_sec: float, semitones: float) -> None:
        after = max(time_sec - self.start_sec, self.curve[-2])
        if after == self.curve[-2]:
            self.curve[-1] = semitones
            return
        self.curve.extend((after, semitones))
        if len(self.curve) > 2 * MAX_BEND_POINTS:
            rows = np.array(self.curve).reshape(-1, 2)
            self.curve = array("d", np.concatenate([rows[:-1:2], rows[-1:]]).ravel().tolist())

    def bends(self) -> NDArray[np.float64]:
        if len(self.curve) == 2 and self.curve[1] == 0.0:
            return STRAIGHT_BEND
        curve = np.array(self.curve).reshape(-1, 2)
        curve.setflags(write=False)
        return curve


class _Channel:
    """What one channel of one port has been told: pedal and bend, and what sounds by pitch."""

    __slots__ = ("pedal", "sounding", "wheel")

    def __init__(self) -> None:
        self.sounding: dict[int, _Sounding] = {}
        self.pedal = False
        self.wheel = BendWheel()


class Pairer:
    """Notes from a stream of events, as they come.

    ``strings`` maps a channel (0 to 15) to the string it comes from (1 is the highest); without it
    strings are 0, not known. ``remember`` is how many curves of ended, bent notes are held for
    ``bend_of`` (None: all of them).
    """

    def __init__(self, strings: Mapping[int, int] | None = None, remember: int | None = REMEMBERED_CURVES) -> None:
        self._strings = dict(strings or {})
        self._channels: dict[tuple[int, int], _Channel] = {}
        self._held: dict[int, _Sounding] = {}
        self._curves: dict[int, NDArray[np.float64]] = {}
        self._curve_order: deque[int] = deque()
        self._remember = remember
        self._next_id = 0

    def feed(self, event: Event) -> list[Started | Ended]:
        """What this event began and ended, in order (ends of what it cut off come first)."""
        data = event.data
        if len(data) != 3 or not 0x80 <= data[0] < 0xF0 or (data[1] | data[2]) & 0x80:
            return []
        kind, first, second = data[0] & 0xF0, data[1], data[2]
        place = (event.port, data[0] & 0x0F)
        channel = self._channels.get(place)
        if channel is None:
            channel = self._channels[place] = _Channel()
        if kind == 0x90 and second:
            return self._key_down(channel, event, first, second)
        if kind in (0x80, 0x90):
            return self._key_up(channel, (first,), event.time_sec)
        if kind == 0xE0:
            channel.wheel.turn(first, second)
            self._bend(channel, event.time_sec)
        elif kind == 0xB0:
            return self._control(channel, first, second, event.time_sec)
        return []

    def close(self, time_sec: float) -> list[Ended]:
        """End everything that sounds, in the order it began; keys and pedals count as let go."""
        for channel in self._channels.values():
            channel.sounding.clear()
            channel.pedal = False
        return [self._end(note, time_sec) for note in list(self._held.values())]

    def bend_of(self, note_id: int) -> NDArray[np.float64]:
        """The bend curve of a note, so far if it still sounds: (n, 2) of (seconds after the onset,
        semitones). Not to be written to.

        A note that was never bent, or ended so long ago that its curve is forgotten, has the one
        row (0.0, 0.0). Raises LookupError for an id that was never given.
        """
        if not 0 <= note_id < self._next_id:
            raise LookupError(f"There is no note {note_id}; {self._next_id} notes have begun so far.")
        held = self._held.get(note_id)
        return held.bends() if held is not None else self._curves.get(note_id, STRAIGHT_BEND)

    def sounding(self) -> tuple[int, ...]:
        """The ids of the notes that sound, in the order they began."""
        return tuple(self._held)

    # ---- keys ------------------------------------------------------------------------------------

    def _key_down(self, channel: _Channel, event: Event, pitch: int, velocity: int) -> list[Started | Ended]:
        outcomes: list[Started | Ended] = []
        cut_off = channel.sounding.pop(pitch, None)
        if cut_off is not None:
            outcomes.append(self._end(cut_off, event.time_sec))
        note = _Sounding(self._next_id, event.time_sec, channel.wheel.bent)
        self._next_id += 1
        channel.sounding[pitch] = self._held[note.id] = note
        number = event.data[0] & 0x0F
        string = self._strings.get(number, 0)
        outcomes.append(Started(note.id, event.time_sec, pitch, velocity, number, event.port, string))
        return outcomes

    def _key_up(self, channel: _Channel, pitches: Iterable[int], time_sec: float) -> list[Started | Ended]:
        outcomes: list[Started | Ended] = []
        for pitch in pitches:
            note = channel.sounding.get(pitch)
            if note is None:
                continue
            if channel.pedal:
                note.key_down = False
            else:
                del channel.sounding[pitch]
                outcomes.append(self._end(note, time_sec))
        return outcomes

    def _end(self, note: _Sounding, time_sec: float) -> Ended:
        del self._held[note.id]
        curve = note.bends()
        if curve is not STRAIGHT_BEND:
            self._curves[note.id] = curve
            self._curve_order.append(note.id)
            if self._remember is not None and len(self._curve_order) > self._remember:
                del self._curves[self._curve_order.popleft()]
        return Ended(note.id, max(time_sec, note.start_sec))

    # ---- controllers -----------------------------------------------------------------------------

    def _control(self, channel: _Channel, controller: int, value: int, time_sec: float) -> list[Started | Ended]:
        if channel.wheel.control(controller, value):
            self._bend(channel, time_sec)
        if controller == 64:
            return self._pedal(channel, value >= 64, time_sec)
        if controller == 120:
            ended = list(channel.sounding.values())
            channel.sounding.clear()
            return [self._end(note, time_sec) for note in ended]
        if controller == 121:
            return self._pedal(channel, False, time_sec)
        if controller >= 123:
            return self._key_up(channel, list(channel.sounding), time_sec)
        return []

    def _pedal(self, channel: _Channel, down: bool, time_sec: float) -> list[Started | Ended]:
        channel.pedal = down
        if down:
            return []
        return self._key_up(channel, [p for p, note in channel.sounding.items() if not note.key_down], time_sec)

    @staticmethod
    def _bend(channel: _Channel, time_sec: float) -> None:
        semitones = channel.wheel.bent
        for note in channel.sounding.values():
            if note.curve[-1] != semitones:
                note.bend(time_sec, semitones)
