"""A simulated sound device with a clock of its own, for the sound that would play through it."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from loopdeck.live import sounding
from loopdeck.live.routes import Routes
from loopdeck.live.sound_clock import SoundClock
from loopdeck.sound.events import SoundEvent

RATE = 48_000


class FakeDevice:
    """Stands for SoundDevice: called by the test, not by SDL."""

    def __init__(self, fill: Any, frames: int, name: str = "") -> None:
        self.fill, self.name, self.delay_sec = fill, "simulated", 2.0 * frames / RATE
        self.problem: Exception | None = None
        self.there = True
        self.closed = False

    def start(self) -> None: ...

    def alive(self) -> bool:
        return self.there

    def close(self) -> None:
        self.closed = True


class NotedMixer:
    """Notes what it is fed, and from which sample on it was asked for."""

    def __init__(self, *_: Any) -> None:
        self.fed: list[tuple[SoundEvent, int]] = []
        self.asked = 0
        self.told: list[tuple[Any, ...]] = []

    def feed(self, events: list[SoundEvent]) -> None:
        self.fed += [(event, self.asked) for event in events]

    def render(self, sample: int, frames: int) -> NDArray[np.float32]:
        assert sample == self.asked, "the device asked for samples that do not follow one another"
        self.asked = sample + frames
        return np.zeros((frames, 2), np.float32)

    def set_level(self, *what: Any) -> None:
        self.told.append(what)

    def set_mute(self, *what: Any) -> None:
        self.told.append(what)

    def silence(self) -> None:
        self.told.append(("silence",))


class Rig:
    """A Sound on a simulated device. ``host`` is the machine's clock, which the test moves."""

    def __init__(self, patch: pytest.MonkeyPatch, frames: int = 512, route: str = "sound") -> None:
        patch.setattr(sounding, "SoundDevice", FakeDevice)
        patch.setattr(sounding, "Mixer", NotedMixer)
        patch.setattr(sounding, "_warm_mixer", NotedMixer)
        self.host = 1000.0
        self.frames = frames
        self.sound = sounding.Sound(Routes(route), frames)
        self.clock = self.sound.clock = SoundClock(RATE, 2.0 * frames / RATE, lambda: self.host)
        self.said: list[tuple[str, bool]] = []
        self.sound.begin(lambda text, wrong: self.said.append((text, wrong)))

    @property
    def mixer(self) -> NotedMixer:
        return self.sound._mixer  # type: ignore[return-value]

    def ask(self, host_sec: float) -> None:
        """A callback at a moment of the host's."""
        self.host = max(self.host, host_sec)
        self.sound._fill(self.frames)

    def settle(self) -> None:
        """Let the device run until it leads."""
        while not self.clock.leads:
            self.ask(self.host + self.frames / RATE)
