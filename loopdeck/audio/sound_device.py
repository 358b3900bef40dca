"""SDL's callback audio device: the one place that talks to a sound card.

Theory of operation
    ``pygame._sdl2.audio.AudioDevice`` calls back for every buffer, in a thread of SDL's that must
    wait for the interpreter's lock. SDL holds the device's own lock meanwhile, and pygame keeps the
    interpreter's while it pauses or closes a device: the two would wait for each other for ever
    (seen with the disk driver). So the device is closed through ctypes, which lets go of the
    interpreter's lock first; where the library cannot be found it is left open, silent, and ends
    with the process. ``pygame.mixer`` is never touched: it would open a second device.

Conventions: float32, two channels, interleaved; what ``fill(frames)`` returns has the shape
(frames, 2) in [-1, 1].
"""

import ctypes
import functools
import math
import os
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loopdeck.errors import UserError
from loopdeck.midi.systems import quiet

RATE = 48_000
#: What a PulseAudio server is asked to hold, beside two buffers. By itself SDL asks it to hold one
#: buffer in all, of which the server takes three quarters for its own work: with 128 frames it ran
#: dry about once a second here; with 12 ms in all not once on a free machine, and seldom on a busy
#: one.
SERVER_SEC = 0.012

#: SDL_AUDIO_STOPPED: a device that is open but gone.
_STOPPED = 0

Fill = Callable[[int], NDArray[np.float32]]


class SoundDeviceError(UserError, OSError):
    """There is no sound device to be had; ``str(error)`` is one full sentence."""


class SoundDevice:
    """An open device that has not begun; ``start`` begins. ``name``: a part of the wanted one's
    name, "" for the system's own choice.

    Raises SoundDeviceError.
    """

    def __init__(self, fill: Fill, frames: int = 256, name: str = "") -> None:
        try:
            from loopdeck import pygame_lean  # noqa: F401, I001 - before pygame
            from pygame._sdl2 import audio
        except ImportError as error:
            raise SoundDeviceError(f"There is no built-in sound, because pygame cannot be loaded ({error}).") from error
        self._fill = fill
        self._closed = False
        #: What went wrong in a callback; there is silence instead of sound from then on.
        self.problem: Exception | None = None
        try:
            # The PulseAudio library reads this; who has set it knows better.
            os.environ.setdefault("PULSE_LATENCY_MSEC", str(math.ceil(1000.0 * (2.0 * frames / RATE + SERVER_SEC))))
            with quiet():
                _init_audio()
                names = list(audio.get_audio_device_names(False))
                self.name = _choose(names, name)
                self._device = audio.AudioDevice(
                    devicename=self.name,
                    iscapture=False,
                    frequency=RATE,
                    audioformat=audio.AUDIO_F32,
                    numchannels=2,
                    chunksize=frames,
                    allowed_changes=0,
                    callback=self._callback,
                )
            self.delay_sec = _delay_sec(frames)
        except SoundDeviceError:
            raise
        except Exception as error:  # pygame._sdl2.sdl2.error, which is not a subclass of anything of ours
            why = str(error).strip().rstrip(".")
            raise SoundDeviceError(
                f"No sound device could be opened ({why}), so there is no built-in sound."
            ) from error

    #: The output latency, as far as it is known: SDL fills one buffer while the other one
    #: plays, or what the server holds.
    delay_sec: float

    def start(self) -> None:
        """Let it ask for sound. It was paused, so nothing can wait for anything here."""
        self._device.pause(0)

    def _callback(self, _device: Any, memory: memoryview) -> None:
        out = np.frombuffer(memory, np.float32)
        if self.problem is None and not self._closed:
            try:
                out[:] = self._fill(len(out) // 2).ravel()
                return
            except Exception as error:
                self.problem = error
        out[:] = 0.0

    def alive(self) -> bool:
        """False when the system has taken the device away: SDL then goes on asking, but nothing is
        heard.
        """
        library = _library()
        return library is None or library.SDL_GetAudioDeviceStatus(ctypes.c_uint32(self._device.deviceid)) != _STOPPED

    def close(self) -> None:
        """Stop and close; returns when no callback is under way any more."""
        if self._closed:
            return
        self._closed = True
        library = _library()
        if library is not None:
            library.SDL_CloseAudioDevice(ctypes.c_uint32(self._device.deviceid))


def sound_device_names() -> list[str]:
    """The names of the sound devices there are now; [] where they cannot be told."""
    with suppress(Exception):
        from loopdeck import pygame_lean  # noqa: F401, I001 - before pygame
        from pygame._sdl2 import audio

        _init_audio()
        return [str(name) for name in audio.get_audio_device_names(False)]
    return []


@functools.cache
def _init_audio() -> None:
    """Once: SDL counts in one byte how often this was asked for, and at the 256th time it closes
    every device and begins anew (SDL 2.28, ``SDL_InitSubSystem``; seen with every driver).
    """
    from pygame._sdl2 import sdl2

    sdl2.init_subsystem(sdl2.INIT_AUDIO)


def _delay_sec(frames: int) -> float:
    library = _library()
    if library is not None:
        library.SDL_GetCurrentAudioDriver.restype = ctypes.c_char_p
        if library.SDL_GetCurrentAudioDriver() == b"pulseaudio":
            with suppress(ValueError):
                return float(os.environ["PULSE_LATENCY_MSEC"]) / 1000.0
    return 2.0 * frames / RATE


def _choose(names: list[str], wanted: str) -> str:
    if not names:
        raise SoundDeviceError("There is no sound device, so there is no built-in sound.")
    if not wanted:
        default = _default_name()
        return default if default in names else names[0]
    for name in names:
        if wanted.lower() in name.lower():
            return name
    raise SoundDeviceError(f"There is no sound device {wanted!r}; there is {', '.join(map(repr, names))}.")


@functools.cache
def _library() -> ctypes.CDLL | None:
    """The SDL that pygame uses; None where it is not found."""
    import pygame

    package = Path(pygame.__file__).parent
    places = (
        (package.parent / "pygame.libs", "libSDL2-2*"),
        (package, "SDL2.dll"),
        (package / ".dylibs", "libSDL2-2*"),
    )
    for folder, pattern in places:
        for path in folder.glob(pattern):
            with suppress(OSError):
                return ctypes.CDLL(str(path))
    # Built from source: the system's own, which is loaded already.
    for name in ("libSDL2-2.0.so.0", "libSDL2-2.0.dylib"):
        with suppress(OSError):
            return ctypes.CDLL(name)
    return None


def _default_name() -> str:
    """What the system plays through by default; "" when it does not say."""
    library = _library()
    if library is None or not hasattr(library, "SDL_GetDefaultAudioInfo"):
        return ""
    name = ctypes.c_char_p()
    # Room for an SDL_AudioSpec, which is not looked at.
    spec = ctypes.create_string_buffer(256)
    if library.SDL_GetDefaultAudioInfo(ctypes.byref(name), spec, 0) or not name.value:
        return ""
    return name.value.decode(errors="replace")
