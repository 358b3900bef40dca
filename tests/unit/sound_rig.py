"""A simulated sound device with a clock of its own, for the sound that would play through it."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from loopdeck.audio import rendering, sounding
from loopdeck.audio.routes import Routes
from loopdeck.audio.sound_clock import SoundClock
from loopdeck.looper.voices import Out
from loopdeck.synth.events import SoundEvent

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
        patch.setattr(rendering, "Mixer", NotedMixer)
        patch.setattr(rendering, "_warm_mixer", NotedMixer)
        patch.setattr(sounding, "SoundClock", lambda rate, delay_sec: SoundClock(rate, delay_sec, lambda: self.host))
        self.host = 1000.0
        self.frames = frames
        self.sound = sounding.Sound(Routes(route), frames)
        self.clock = self.sound.clock
        self.said: list[tuple[str, bool]] = []
        self.sound.begin(lambda text, wrong: self.said.append((text, wrong)))

    @property
    def mixer(self) -> NotedMixer:
        return self.sound._renderer._mixer  # type: ignore[return-value]

    def ask(self, host_sec: float) -> None:
        """A callback at a moment of the host's."""
        self.host = max(self.host, host_sec)
        self.sound._fill(self.frames)

    def settle(self) -> None:
        """Let the device run until it leads."""
        while not self.clock.leads:
            self.ask(self.host + self.frames / RATE)


def play_clicks(
    rig: Rig, ppm: float, seconds: float, step_sec: float, seed: int = 7
) -> tuple[list[float], NDArray[np.float64], NDArray[np.float64]]:
    """Clicks on a device that runs ``ppm`` parts in a million fast, whose callbacks come late by up
    to a buffer.

    Returns the seconds of the clicks handed over, and, for a player who plays exactly with what is
    heard: seconds since the start, and how many seconds beside it the grid has them.
    """
    clock, sound, frames = rig.clock, rig.sound, rig.frames
    count = int(seconds * RATE / frames)
    # When the device really wants each buffer, by the host's clock.
    true = rig.host + np.arange(count) * frames / RATE / (1 + ppm * 1e-6)
    host = np.maximum.accumulate(true + np.random.default_rng(seed).random(count) * frames / RATE)
    first, before = 0, -1.0
    next_sec: float | None = None
    handed: list[float] = []
    errors: list[tuple[float, float]] = []
    for index, moment in enumerate(host.tolist()):
        # The thread that plays is awake whenever something falls due, so also just before the
        # callback.
        rig.host = moment
        if next_sec is not None:
            now = clock.now()
            assert now >= before, "time went backwards"
            before = now
            while next_sec <= now + sound.ahead_sec:
                sound.hand(Out(next_sec, bytes((0x99, 76, 100)), "click"))
                handed.append(next_sec)
                next_sec += step_sec
        rig.ask(moment)
        if not clock.leads:
            continue
        if next_sec is None:
            first, next_sec = index, clock.now() + 1.0
        if index % 50 == 0:
            sample = (index - first) * frames
            origin = clock._origin
            assert origin is not None
            heard = float(true[index]) + clock.delay_sec
            errors.append((sample / RATE, clock.of_host(heard) - (origin + sample / RATE)))
    at, off = np.array(errors).T
    return handed, at, off
