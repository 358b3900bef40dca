"""The built-in sound of a running engine: what sounds is handed over ahead of its time and rendered
at its sample.

Theory of operation
    The thread that plays puts messages, levels and mutes into a queue. The device's thread takes
    them out when the device asks for a buffer, feeds the mixer, which nobody else touches, and
    renders. It takes no lock and waits for nobody; what it needs of the clock is one number. When
    the device is lost, the clock goes back to ``perf_counter``, and a thread looks for a device
    every few seconds.

Conventions
    Session seconds are those of the clock in here. A message of the click, the drums or a layer
    sounds at the sample of its second. What is played live has no second to come: it sounds a
    buffer and LIVE_SEC after it was handed over, always the same time late, so that the ear does
    not hear the buffers.
"""

import threading
from collections.abc import Callable, Iterable
from contextlib import suppress
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loopdeck.audio.levels import Levels
from loopdeck.audio.output import NoSound, SoundOutput
from loopdeck.audio.rendering import Renderer
from loopdeck.audio.routes import Routes, mixer_part
from loopdeck.audio.sound_clock import DrivenClock, SoundClock
from loopdeck.audio.sound_device import RATE, SoundDevice, SoundDeviceError
from loopdeck.errors import UserError
from loopdeck.looper.mixer_parts import MIXER_PARTS
from loopdeck.looper.voices import Out
from loopdeck.process.clock import Clock
from loopdeck.process.options import SoundOptions
from loopdeck.protocol.messages import Message, MixerChanged
from loopdeck.synth.events import HIGHEST, LOWEST, SoundEvent

#: Time for what is played live to get from the thread that plays to the device's.
LIVE_SEC = 0.0007
#: So much further ahead than the device asks, for threads that are late.
MARGIN_SEC = 0.008
RETRY_SEC = 3.0


class Sound:
    """The mixer, its clock, and the device when there is one. ``begin`` when everything is set up;
    ``end`` closes it.

    ``frames`` a buffer; ``delay_sec`` is the output latency; ``device`` a part of the wanted
    one's name. ``driven``: the clock is moved by the device (see DrivenClock). Raises
    SoundDeviceError when no device can be opened.
    """

    def __init__(
        self, routes: Routes, frames: int = 256, delay_sec: float | None = None, device: str = "", driven: bool = False
    ) -> None:
        self.routes = routes
        self.frames = frames
        # The device asks only once it is started.
        self._device: SoundDevice | None = SoundDevice(self._fill, frames, device)
        self.name = self._device.name
        delay_sec = self._device.delay_sec if delay_sec is None else delay_sec
        self.clock = DrivenClock(RATE, 0.0) if driven else SoundClock(RATE, delay_sec)
        self._renderer = Renderer(self.clock, frames)
        #: How far ahead of its second everything has to be handed over.
        self.ahead_sec = self.clock.delay_sec + frames / RATE + MARGIN_SEC
        self.wake_sec = self.ahead_sec - MARGIN_SEC / 4.0
        self._wanted = device
        self.levels = Levels()
        self._over = threading.Event()
        self._say: Callable[[str, bool], None] = lambda text, wrong: None

    # ---- the thread that plays -------------------------------------------------------------------

    def begin(self, say: Callable[[str, bool], None]) -> None:
        """Let the device ask. ``say(sentence, wrong)`` may be called from other threads."""
        self._say = say
        if self._device is not None:
            self._device.start()

    def hand(self, out: Out) -> None:
        """Take a message of the looper, before it is due."""
        if not self.routes.sound(out.part):
            return
        clock = self.clock
        if out.part == "live":
            sample = clock.sample_for(clock.now(), self.frames, LIVE_SEC)
        else:
            sample = clock.sample_of(out.time_sec)
        if sample is not None:
            event = SoundEvent(
                sample, mixer_part(out.part, out.home if out.home >= 0 else out.data[0] & 0x0F), out.data
            )
            self._renderer.put(event, out.part == "live")

    def begin_sec(self, at_sec: float) -> float:
        """When a command that may let time begin, given at ``at_sec``, takes effect: so that the
        very first click is not late already.
        """
        return max(at_sec, self.clock.now() + self.ahead_sec)

    def silence(self) -> None:
        """Forget what waits and cut off what sounds."""
        self._renderer.silence()

    @property
    def present(self) -> bool:
        """It can be heard, or will be when its device is back."""
        return True

    @property
    def session_clock(self) -> Clock:
        """The session's clock."""
        return self.clock

    def apply(self, name: str, args: dict[str, Any]) -> tuple[str, bool]:
        """A command of the mixer; returns what is so now, or what was wrong with it, and whether
        something was.
        """
        try:
            part, said = self.levels.apply(name, args)
        except UserError as error:
            return str(error), True
        self._renderer.set(part, *self.levels.of(part))
        return said, False

    def set(self, levels: Levels) -> None:
        """Set the levels as they were before."""
        self.levels = levels
        for part in MIXER_PARTS:
            self._renderer.set(part, *levels.of(part))

    def state(self, now: float) -> MixerChanged:
        """What the window is to know: the device's name ("" while there is none), and level, mute
        and way of every part.
        """
        there = self._device is not None
        return MixerChanged(
            time_sec=now,
            device=self.name if there else "",
            why="" if there else f"The sound device {self.name} has gone; loopdeck is looking for it.",
            lowest=LOWEST,
            highest=HIGHEST,
            parts=self.levels.state(self.routes),
        )

    def rest(self) -> float | None:
        """The thread that plays has done what was due.

        Looks after the device; returns when to come again, if that matters.
        """
        clock, device = self.clock, self._device
        if isinstance(clock, DrivenClock):
            clock.rest()
            return clock.now()
        if device is not None and (clock.lost() or (clock.leads and not device.alive()) or device.problem is not None):
            problem, self._device = device.problem, None
            why = f"has gone ({problem})" if problem is not None else "does not answer any more"
            self._say(
                f"The sound device {self.name} {why}; everything else goes on, and loopdeck is looking for it.", True
            )
            threading.Thread(target=self._reopen, args=(device,), name="sound device", daemon=True).start()
        return None

    def switch(self, wanted: str) -> str:
        """Play through the device with that in its name ("": the system's choice) from now on.

        Returns at once; what comes of it is said. A sentence only where it cannot be tried.
        """
        if isinstance(self.clock, DrivenClock):
            return "The sound device of this session cannot be changed."
        before, self._wanted = self._wanted, wanted
        device, self._device = self._device, None
        if device is not None:
            # While one is looked for, the thread that looks takes the new one.
            threading.Thread(target=self._reopen, args=(device, before), name="sound device", daemon=True).start()
        return ""

    def report(self) -> dict[str, Any]:
        """How it went: for the journal, and for whoever wonders what was wrong with a device."""
        return {
            "device": self.name,
            "frames": self.frames,
            "delay_sec": self.clock.delay_sec,
            "buffers": self._renderer.buffers,
            "slow": self._renderer.slow,
            "late": self._renderer.late,
            "steps": self.clock.steps,
            "rate_error": self.clock.rate_error,
        }

    def skip_to(self, sec: float) -> None:
        """Before the device is the clock source: let the clock be at least ``sec``."""
        self.clock.skip_to(sec)

    def of_host(self, host_sec: float) -> float:
        """The session second of a moment of the host's."""
        return self.clock.of_host(host_sec)

    def for_window(self, messages: Iterable[Message]) -> list[Message]:
        """Messages with their times in the host's seconds."""
        return self.clock.for_window(messages)

    def end(self) -> None:
        """Close the device."""
        self._over.set()
        if isinstance(self.clock, DrivenClock):
            self.clock.end()
        if self._device is not None:
            self._device.close()

    def _fill(self, frames: int) -> NDArray[np.float32]:
        return self._renderer.fill(frames)

    def _reopen(self, lost: SoundDevice, before: str | None = None) -> None:
        """In a thread of its own: close what is lost and look for a device until there is one
        again. ``before``: what was wanted before another one was chosen; that stays where the new
        one cannot be had.
        """
        lost.close()
        self.clock.let_go()
        self._renderer.clear()
        while not self._over.wait(RETRY_SEC if before is None else 0.0):
            self._renderer.renew(self.levels)
            try:
                device = SoundDevice(self._fill, self.frames, self._wanted)
            except SoundDeviceError as error:
                if before is not None and self._wanted != before:
                    self._say(f"{str(error).rstrip('.')}; the one before is used again.", True)
                    self._wanted = before
                else:
                    before = None
                continue
            self.name = device.name
            device.start()
            self._device = device
            self._say(f"The sound device {self.name} {'is there again' if before is None else 'sounds now'}.", False)
            return


def open_sound(options: SoundOptions, resume: bool = False) -> tuple[SoundOutput, str]:
    """The built-in sound the options ask for, or none; and a sentence for the player when there
    should have been one, or "".

    Raises UserError for a wrong route; SoundDeviceError only where it is "on" and the session is
    not taken up again (``resume``).
    """
    if options.way == "off":
        return NoSound(), ""
    routes = Routes(options.route, options.route_rest)
    if not routes.any_sound():
        return NoSound(), ""
    delay_sec = options.delay_ms / 1000.0 if options.delay_ms >= 0 else None
    driven = options.way == "driven"
    try:
        return Sound(routes, options.buffer, delay_sec, options.device, driven), ""
    except SoundDeviceError as error:
        if options.way == "on" and not resume:
            raise
        if options.device:
            # The one that was wanted is not there: what the system plays through is better than
            # silence.
            with suppress(SoundDeviceError):
                other = Sound(routes, options.buffer, delay_sec, "", driven)
                return other, f"{str(error).rstrip('.')}; {other.name} sounds instead."
        why = f"{str(error).rstrip('.')}; everything else goes on."
        return NoSound(why), why
