"""What the device's thread does: messages and levels out of a queue, into the mixer, and samples
back.

Conventions: ``put`` may be called from the thread that plays; ``fill`` is called by the device and
takes no lock; ``renew`` only while no device asks. Samples count from the callback where the device
took the lead.
"""

import time
from collections import deque
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loopdeck.audio.levels import Levels
from loopdeck.audio.sound_clock import SoundClock
from loopdeck.audio.sound_device import RATE
from loopdeck.looper.mixer_parts import MIXER_PARTS
from loopdeck.synth.events import SoundEvent
from loopdeck.synth.mixer import Mixer


class Renderer:
    """The mixer and what waits for it. ``frames`` a buffer, as a rule; ``clock`` says which sample
    comes next.
    """

    def __init__(self, clock: SoundClock, frames: int) -> None:
        self._clock = clock
        self._frames = frames
        self._queue: deque[tuple[str, Any]] = deque()
        self._mixer = _warm_mixer()
        self._sample = 0
        self._silent = np.zeros((frames, 2), np.float32)
        #: Messages that came too late for their sample, buffers, and those of them that took longer
        #: than they last.
        self.late, self.buffers, self.slow = 0, 0, 0

    def put(self, event: SoundEvent, live: bool) -> None:
        """Queue a message; one that is played ``live`` cannot be late."""
        self._queue.append(("live" if live else "event", event))

    def set(self, part: str, decibels: float, muted: bool) -> None:
        """Set the level and the mute of a part."""
        self._queue.append(("set", (part, decibels, muted)))

    def silence(self) -> None:
        """Forget what waits and cut off what sounds."""
        self._queue.append(("silence", None))

    def clear(self) -> None:
        """Forget what waits."""
        self._queue.clear()

    def renew(self, levels: Levels) -> None:
        """Begin again with a new mixer, at the first sample."""
        mixer = Mixer(RATE)
        for part in MIXER_PARTS:
            decibels, muted = levels.of(part)
            mixer.set_level(part, decibels)
            mixer.set_mute(part, muted)
        self._mixer, self._sample = mixer, 0

    def fill(self, frames: int) -> NDArray[np.float32]:
        """The next ``frames`` samples, shape (frames, 2)."""
        begun = time.perf_counter()
        sample = self._clock.asked(self._sample, frames)
        if sample is None:
            self._take(0)
            return self._silent if frames == self._frames else np.zeros((frames, 2), np.float32)
        self._take(sample)
        self._sample = sample + frames
        out = self._mixer.render(sample, frames)
        self.buffers += 1
        if time.perf_counter() - begun > frames / RATE:
            self.slow += 1
        return out

    def _take(self, sample: int) -> None:
        queue, mixer, events = self._queue, self._mixer, []
        while queue:
            kind, what = queue.popleft()
            if kind == "event" or kind == "live":
                events.append(what)
                self.late += kind == "event" and what.sample < sample
            elif kind == "set":
                part, decibels, muted = what
                mixer.set_level(part, decibels)
                mixer.set_mute(part, muted)
            else:
                events.clear()
                mixer.silence()
        if events:
            mixer.feed(events)


def _warm_mixer() -> Mixer:
    """A mixer of which every path has run once: numpy and the tables are slow at the first time."""
    warm = Mixer(RATE)
    notes = [("live", bytes((0x90, 40, 100))), ("click", bytes((0x99, 76, 100))), ("drums", bytes((0x99, 36, 100)))]
    warm.feed(SoundEvent(64, part, data) for part, data in notes)
    warm.feed([SoundEvent(500, "live", bytes((0xE0, 0, 70))), SoundEvent(700, "live", bytes((0x80, 40, 0)))])
    for block in range(12):
        warm.render(block * 128, 128)
    warm.silence()
    warm.render(1536, 128)
    return Mixer(RATE)
