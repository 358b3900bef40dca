"""Hearing a finished row of sound events: on the built-in sound or on a MIDI output, once, some
times or until it is stopped.
"""

import math
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loopdeck.audio.sound_device import RATE, SoundDevice
from loopdeck.errors import UserError
from loopdeck.synth.events import SoundEvent
from loopdeck.synth.mixer import Mixer

#: How often who waits looks whether all was heard.
_LOOK_SEC = 0.02
#: How long it rings on after the end.
_RING_SEC = 1.0
#: A wait shorter than this is not worth sleeping for.
_NAP_SEC = 0.001


@dataclass(frozen=True)
class ToHear:
    """Events by their samples, and the length in samples. What lies below 0 is an early downbeat:
    it sounds before the beginning, and at the end of every time round that is followed by another.

    ``times``: how often it sounds; 0 is until it is stopped.
    """

    events: Sequence[SoundEvent]
    length: int
    times: int = 1

    def __post_init__(self) -> None:
        if self.length <= 0:
            raise UserError("There is nothing to hear in it.")

    @property
    def lead(self) -> int:
        """How many samples sound before the beginning."""
        return max((-event.sample for event in self.events), default=0)

    def turn(self, index: int) -> list[SoundEvent]:
        """The events of a time round, by their samples from the first sound of all."""
        shift = self.lead + index * self.length
        last = bool(self.times) and index == self.times - 1
        rows = [event for event in self.events if event.sample >= 0 or index == 0]
        if not last:
            again = [event._replace(sample=event.sample + self.length) for event in self.events if event.sample < 0]
            rows = sorted([*_let_go(rows, again), *again], key=lambda event: event.sample)
        return [event._replace(sample=event.sample + shift) for event in rows]


def _let_go(rows: Sequence[SoundEvent], again: Sequence[SoundEvent]) -> list[SoundEvent]:
    """The rows, in which a note that ``again`` strikes anew is let go before that."""
    struck = {
        (event.part, event.data[0] & 0x0F, event.data[1]): event.sample
        for event in reversed(again)
        if event.data[0] & 0xF0 == 0x90
    }
    found = []
    for event in rows:
        anew = struck.get((event.part, event.data[0] & 0x0F, event.data[1])) if event.data[0] & 0xF0 == 0x80 else None
        found.append(event if anew is None or event.sample < anew else event._replace(sample=max(anew - 1, 0)))
    return found


class Player:
    """Fills a sound device's buffers with a piece.

    ``fill`` is called by the device's thread alone.
    """

    def __init__(self, piece: ToHear) -> None:
        self._piece = piece
        self._mixer = Mixer(RATE)
        self._fed = 0
        self.played = 0

    @property
    def frames(self) -> float:
        """How many frames there are to hear, with what rings on; infinite when it goes on until it
        is stopped.
        """
        piece = self._piece
        return piece.lead + piece.length * piece.times + _RING_SEC * RATE if piece.times else math.inf

    def fill(self, frames: int) -> NDArray[np.float32]:
        """The next frames, shape (frames, 2)."""
        piece = self._piece
        while self._fed * piece.length < self.played + frames and (not piece.times or self._fed < piece.times):
            self._mixer.feed(piece.turn(self._fed))
            self._fed += 1
        out = self._mixer.render(self.played, frames)
        self.played += frames
        return out


def play_sound(
    piece: ToHear, buffer: int = 256, device: str = "", opened: Callable[[str], None] = lambda name: None
) -> None:
    """Play on the built-in sound; returns when all was heard. Raises SoundDeviceError, UserError
    when the device is lost.
    """
    player = Player(piece)
    sound = SoundDevice(player.fill, buffer, device)
    try:
        opened(sound.name)
        sound.start()
        while player.played < player.frames:
            time.sleep(_LOOK_SEC)
            if sound.problem is not None:
                raise sound.problem
            if not sound.alive():
                raise UserError(f"The sound device {sound.name!r} is gone, so the rest could not be heard.")
        time.sleep(sound.delay_sec)
    finally:
        sound.close()


def play_midi(piece: ToHear, send: Callable[[bytes], None]) -> None:
    """Send every message at its time; returns at the end of the last time round."""
    began = time.perf_counter() + 0.05
    turn = 0
    while not piece.times or turn < piece.times:
        for event in piece.turn(turn):
            _sleep_until(began + event.sample / RATE)
            send(event.data)
        turn += 1
    _sleep_until(began + (piece.lead + turn * piece.length) / RATE)


def _sleep_until(moment: float) -> None:
    while (left := moment - time.perf_counter()) > 0:
        time.sleep(max(left - _NAP_SEC / 2, 0.0002))


class LiveSound:
    """The built-in sound for who goes by the machine's clock: messages are given for a
    ``time.perf_counter`` second.

    A callback can only come late, so the earliest of the last ones tells where the device is.
    Between two rows of messages the clocks of device and machine may part by some samples; within
    one row they do not.
    """

    def __init__(self, buffer: int = 256, device: str = "") -> None:
        self._mixer = Mixer(RATE)
        self._lock = threading.Lock()
        self._played = 0
        #: Samples played, less the seconds they were asked for at, of the last callbacks.
        self._places: deque[float] = deque(maxlen=200)
        self.device = SoundDevice(self.fill, buffer, device)

    def start(self) -> None:
        """Let it sound; returns when the device has asked for its first samples, or after a
        second.
        """
        self.device.start()
        until = time.perf_counter() + 1.0
        while not self._places and time.perf_counter() < until:
            time.sleep(_LOOK_SEC)

    def fill(self, frames: int) -> NDArray[np.float32]:
        """The next frames, for the device's thread."""
        with self._lock:
            self._places.append(self._played - time.perf_counter() * RATE)
            out = self._mixer.render(self._played, frames)
            self._played += frames
            return out

    def feed(self, rows: Sequence[tuple[float, str, bytes]]) -> None:
        """Messages (second, part, data), so that each is heard at its second."""
        with self._lock:
            place = max(self._places, default=-time.perf_counter() * RATE) - self.device.delay_sec * RATE
            self._mixer.feed(
                SoundEvent(max(round(sec * RATE + place), self._played), part, data) for sec, part, data in rows
            )

    def close(self) -> None:
        """Close the device. Raises what went wrong in it."""
        self.device.close()
        if self.device.problem is not None:
            raise self.device.problem
