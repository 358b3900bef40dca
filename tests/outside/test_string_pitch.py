"""The tuning of the built-in strings against ISO 16 (A4 = 440 Hz) and twelve-tone equal
temperament, f = 440 x 2^((n - 69) / 12).

Two methods, neither of which knows how the sound was made:
- the peak of a Blackman-windowed, zero-padded spectrum, interpolated by a parabola through the
  logarithms (Smith & Serra, "PARSHL: An Analysis/Synthesis Program for Non-Harmonic Sounds Based on
  a Sinusoidal Representation", 1987), for the first three partials;
- the peak of the autocorrelation, many periods away, interpolated by a parabola (Rabiner, "On the
  use of autocorrelation analysis for pitch detection", IEEE Trans. ASSP 25(1), 1977).
"""

import numpy as np
import pytest

from tests.unit.sound_tools import RATE, on, peak_hz, play

#: Sounding frequencies of the open strings in Hz, rounded (ISO 16 and equal temperament).
OPEN = {
    "B0": (23, 30.868),
    "E1": (28, 41.203),
    "A1": (33, 55.000),
    "D2": (38, 73.416),
    "G2": (43, 97.999),
    "C3": (48, 130.813),
}
CENTS = 2.0


def cents(hertz: float, ideal: float) -> float:
    return float(1200.0 * np.log2(hertz / ideal))


def by_autocorrelation(sound: np.ndarray, ideal: float) -> float:
    """The frequency, from the peak some 20 periods away that lies nearest to where it should be."""
    size = 1 << int(np.ceil(np.log2(2 * len(sound))))
    # Only the lowest partials, so that the peak is as wide as a parabola likes it.
    spectrum = np.fft.rfft(sound * np.hanning(len(sound)), size)
    spectrum[round(4.5 * ideal * size / RATE) :] = 0.0
    correlation = np.fft.irfft(np.abs(spectrum) ** 2)
    periods = 20
    middle, around = round(periods * RATE / ideal), round(0.3 * RATE / ideal)
    top = middle - around + int(np.argmax(correlation[middle - around : middle + around]))
    a, b, c = correlation[top - 1 : top + 2]
    return RATE * periods / (top + 0.5 * (a - c) / (a - 2 * b + c))


@pytest.mark.parametrize(("name", "fret"), [(name, fret) for name in OPEN for fret in (0, 12, 24)])
def test_open_strings_and_every_twelfth_fret(name: str, fret: int) -> None:
    pitch, rounded = OPEN[name]
    ideal = 440.0 * 2.0 ** ((pitch + fret - 69) / 12.0)
    assert ideal == pytest.approx(rounded * 2.0 ** (fret / 12), rel=2e-5)
    sound = play(on(0, pitch + fret, 100), seconds=2.0)[2400:]
    assert abs(cents(by_autocorrelation(sound, ideal), ideal)) < CENTS
    for partial in (1, 2, 3):
        assert abs(cents(peak_hz(sound, partial * ideal * 0.98, partial * ideal * 1.02), partial * ideal)) < CENTS


@pytest.mark.parametrize("pitch", range(23, 73))
def test_every_fret(pitch: int) -> None:
    ideal = 440.0 * 2.0 ** ((pitch - 69) / 12.0)
    sound = play(on(0, pitch, 80), seconds=1.0)[2400:]
    assert abs(cents(peak_hz(sound, ideal * 0.95, ideal * 1.05), ideal)) < CENTS


@pytest.mark.parametrize("pitch", [16, 84, 96, 103])
def test_notes_beyond_the_neck(pitch: int) -> None:
    ideal = 440.0 * 2.0 ** ((pitch - 69) / 12.0)
    sound = play(on(0, pitch, 100), seconds=1.5)[2400:]
    assert abs(cents(peak_hz(sound, ideal * 0.97, ideal * 1.03), ideal)) < CENTS
