"""An overdriven guitar amplifier: strings in, a driven sound out, for one part at a time.

Task
    What a part's strings add up to is pushed into a curve that flattens, and through a
    loudspeaker's narrow ear. All strings of a chord go in together: what they make of each other is
    the sound of a power chord.

Conventions
    Samples are float64 at ``rate``; blocks follow one another, of any length, and give the same
    samples up to rounding however time is cut. The whole way takes ``DELAY`` samples.

Method
    The curve is that of Sullivan, "Extending the Karplus-Strong Algorithm to Synthesize Electric
    Guitar Timbres with Distortion and Feedback", Computer Music Journal 14(3), 1990: x - x^3/3
    between -1 and 1, and flat beyond. It makes overtones without end, which would fold back below
    half the rate; so it is computed at ``OVER`` times the rate, between two low-pass filters
    (windowed sinc, Kaiser). The cabinet is a minimum-phase filter of a loudspeaker's usual course:
    nothing below 90 Hz, a little more around 2.5 kHz, little above 5 kHz (common practice, no
    source).
"""

import numpy as np
from numpy.typing import NDArray

OVER = 8
#: Taps of each of the two low-pass filters, at ``OVER`` times the rate.
_TAPS = 32 * OVER
_CABINET = 256
_TOP = 0.42
#: How hard the strings are driven, and what brings the result to the loudness of the plain string.
DRIVE, LEVEL = 14.0, 0.5
DELAY = (_TAPS - 1) // OVER


def shaped(samples: NDArray[np.float64]) -> NDArray[np.float64]:
    """Sullivan's curve: x - x^3/3, flat beyond -1 and 1."""
    inside = np.clip(samples, -1.0, 1.0)
    return np.asarray(inside - inside**3 / 3.0)


class Overdrive:
    """One amplifier. ``rate`` in samples a second."""

    def __init__(self, rate: int) -> None:
        place = np.arange(_TAPS) - (_TAPS - 1) / 2.0
        cut = 2.0 * _TOP / OVER
        low = np.sinc(cut * place) * np.kaiser(_TAPS, 10.0)
        low /= low.sum()
        #: Of the filter on the way up, the taps that meet no zero, for each of the samples between
        #: two.
        self._up = (low * OVER).reshape(-1, OVER).T.copy()
        self._down = low.reshape(-1, OVER).T[::-1].copy()
        self._speaker = _cabinet(rate)
        self._before_up = np.zeros(_TAPS // OVER - 1)
        self._before_down = np.zeros(_TAPS - 1)
        self._before_speaker = np.zeros(_CABINET - 1)

    def drive(self, samples: NDArray[np.float64]) -> NDArray[np.float64]:
        """The next samples, shape (n,), driven."""
        count = len(samples)
        line = np.concatenate((self._before_up, samples * DRIVE))
        self._before_up = line[count:]
        up = np.stack([np.convolve(line, taps, "valid") for taps in self._up], axis=1).ravel()
        wide = np.concatenate((self._before_down, shaped(up)))
        self._before_down = wide[count * OVER :]
        # Of the filter on the way down only every OVER-th sample is wanted: OVER short filters.
        length = count + _TAPS // OVER - 1
        down = sum(np.convolve(wide[place::OVER][:length], taps, "valid") for place, taps in enumerate(self._down))
        heard = np.concatenate((self._before_speaker, down))
        self._before_speaker = heard[count:]
        return np.convolve(heard, self._speaker, "valid") * LEVEL


def _cabinet(rate: int) -> NDArray[np.float64]:
    """The loudspeaker as a minimum-phase filter, ``_CABINET`` taps (by folding the cepstrum:
    Oppenheim & Schafer, Discrete-Time Signal Processing).
    """
    size = 8192
    hertz = np.fft.rfftfreq(size, 1.0 / rate)
    low = (hertz / 90.0) ** 2 / np.sqrt(1.0 + (hertz / 90.0) ** 4)
    high = 1.0 / np.sqrt(1.0 + (hertz / 5000.0) ** 8)
    voice = 1.0 + 0.6 * np.exp(-((np.log2(np.maximum(hertz, 1.0) / 2500.0)) ** 2) / 0.5)
    cepstrum = np.fft.irfft(np.log(np.maximum(low * high * voice, 1e-4)))
    cepstrum[1 : size // 2] *= 2.0
    cepstrum[size // 2 + 1 :] = 0.0
    impulse = np.fft.irfft(np.exp(np.fft.rfft(cepstrum)))[:_CABINET]
    impulse[-64:] *= np.linspace(1.0, 0.0, 64)
    return np.asarray(impulse)
