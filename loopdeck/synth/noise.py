"""Building blocks of clicks and drums: partials that die away, and noise of a chosen colour that is
the same every time.

Conventions: frequencies in Hz, times in seconds, sounds float64 arrays at ``rate`` samples a
second.
"""

import numpy as np
from numpy.typing import NDArray

Sound = NDArray[np.float64]


def clock(rate: int, seconds: float) -> Sound:
    """The times of a sound's samples.

    The first is one sample after 0, so that no sound begins with a zero.
    """
    return np.arange(1, round(rate * seconds) + 1) / rate


def decay(time: Sound, fall_sec: float) -> Sound:
    """A fall by 60 dB in ``fall_sec``."""
    return 10.0 ** (-3.0 * time / fall_sec)


def partials(time: Sound, hertz: tuple[float, ...], shares: tuple[float, ...], fall_sec: tuple[float, ...]) -> Sound:
    """Sines that start at phase 0, each with its share and its decay."""
    out = np.zeros(len(time))
    for frequency, share, fall in zip(hertz, shares, fall_sec, strict=True):
        out += share * np.sin(2.0 * np.pi * frequency * time) * decay(time, fall)
    return out


def noise(time: Sound, rate: int, seed: int, low: float, high: float) -> Sound:
    """Noise between two frequencies (soft edges, each a quarter of an octave or so), peak 1; the
    same for the same seed.
    """
    white = np.random.default_rng(seed).random(len(time)) * 2.0 - 1.0
    hertz = np.fft.rfftfreq(len(time), 1.0 / rate)
    colour = 1.0 / (1.0 + (low / np.maximum(hertz, 1.0)) ** 8) / (1.0 + (hertz / high) ** 8)
    coloured: NDArray[np.float64] = np.fft.irfft(np.fft.rfft(white) * colour, len(time))
    coloured /= np.abs(coloured).max()
    return coloured


def finish(sound: Sound, rate: int, peak: float = 1.0, duller_hz: float | None = None) -> Sound:
    """Bring a sound to its peak, its last 2 ms to rest, and make sure that its first sample is
    heard. Not to be written to.
    """
    if duller_hz is not None:
        # A causal low-pass, so that nothing begins before its time: an exponential window, cut
        # where it has died away.
        step = np.exp(-2.0 * np.pi * duller_hz / rate)
        window = (1.0 - step) * step ** np.arange(int(np.ceil(np.log(1e-5) / np.log(step))))
        sound = np.convolve(sound, window)[: len(sound)]
    sound = sound * (peak / np.abs(sound).max())
    last = min(round(0.002 * rate), len(sound))
    sound[-last:] *= np.linspace(1.0, 0.0, last)
    if abs(sound[0]) < 1e-3:
        sound[0] = 1e-3 if sound[0] >= 0.0 else -1e-3
    sound.setflags(write=False)
    return sound
