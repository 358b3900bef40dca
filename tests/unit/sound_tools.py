"""Helpers of the tests of the built-in sound."""

import numpy as np
from numpy.typing import NDArray

from loopdeck.synth.events import SoundEvent
from loopdeck.synth.mixer import Mixer

RATE = 48_000


def on(sample: int, pitch: int, velocity: int = 100, part: str = "live", channel: int = 0) -> SoundEvent:
    return SoundEvent(sample, part, bytes((0x90 | channel, pitch, velocity)))


def off(sample: int, pitch: int, part: str = "live", channel: int = 0) -> SoundEvent:
    return SoundEvent(sample, part, bytes((0x80 | channel, pitch, 64)))


def control(sample: int, number: int, value: int, part: str = "live", channel: int = 0) -> SoundEvent:
    return SoundEvent(sample, part, bytes((0xB0 | channel, number, value)))


def bend(sample: int, value: int, part: str = "live", channel: int = 0) -> SoundEvent:
    """``value`` from -8192 to 8191."""
    wheel = value + 8192
    return SoundEvent(sample, part, bytes((0xE0 | channel, wheel & 0x7F, wheel >> 7)))


def loud_mixer() -> Mixer:
    """A mixer with the master at 0 dB."""
    mixer = Mixer()
    mixer.set_level("master", 0.0)
    return mixer


def render(mixer: Mixer, frames: int, block: int = 4096, start: int = 0) -> NDArray[np.float32]:
    """Render so many frames in blocks."""
    pieces = [mixer.render(at, min(block, start + frames - at)) for at in range(start, start + frames, block)]
    return np.concatenate(pieces)


def play(*events: SoundEvent, seconds: float = 1.0) -> NDArray[np.float64]:
    """What a mixer with the master at 0 dB makes of some events: the left side."""
    mixer = loud_mixer()
    mixer.feed(events)
    return render(mixer, round(seconds * RATE))[:, 0].astype(np.float64)


def loudness_db(sound: NDArray[np.float64], begin_sec: float, end_sec: float) -> float:
    """Root mean square of a stretch in dB of full scale."""
    piece = sound[round(begin_sec * RATE) : round(end_sec * RATE)]
    return float(10.0 * np.log10(np.mean(piece**2) + 1e-20))


def peak_hz(sound: NDArray[np.float64], low: float, high: float) -> float:
    """The strongest frequency between two, by a parabola through the logarithm of a windowed
    spectrum.

    (Smith & Serra, "PARSHL: An Analysis/Synthesis Program for Non-Harmonic Sounds Based on a
    Sinusoidal Representation", 1987.)
    """
    size = 1 << int(np.ceil(np.log2(len(sound) * 4)))
    spectrum = np.abs(np.fft.rfft(sound * np.blackman(len(sound)), size))
    first, last = int(low * size / RATE), int(high * size / RATE) + 1
    top = first + int(np.argmax(spectrum[first:last]))
    left, middle, right = np.log(spectrum[top - 1 : top + 2] + 1e-30)
    return float((top + 0.5 * (left - right) / (left - 2.0 * middle + right)) * RATE / size)


def centroid_hz(sound: NDArray[np.float64]) -> float:
    """The centre of gravity of the magnitudes of a spectrum: how bright a sound is."""
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound))))
    return float((spectrum * np.arange(len(spectrum))).sum() / spectrum.sum() * RATE / len(sound))
