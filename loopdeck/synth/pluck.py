"""How a string is plucked: what stands in its loop at the moment it is let go, and how fast that
fades.

Task
    For a pitch and a velocity, the wave of one period that the loop of ``string.py`` then repeats,
    and the losses of that loop.

Conventions
    Pitch: MIDI number, 440 Hz at 69 (ISO 16), equal temperament. Waves: float64, peak 1.
    Frequencies in Hz, times in seconds.

Method
    An ideal string drawn aside at one place and let go moves past a pickup with harmonics in
    proportion to sin(n pi pluck) sin(n pi pickup) / n (velocity; both places as a share of the
    sounding length from the bridge). That is the plucking-position comb of Jaffe & Smith,
    "Extensions of the Karplus-Strong Plucked-String Algorithm", Computer Music Journal 7(2), 1983,
    and the same comb again for the pickup. Their dynamics filter is here a fall of the high
    harmonics that depends on velocity: a soft and a hard wave are kept for each pitch and blended.
    A plucking hand stays where it is while the other one frets, so both places move up the sounding
    length with the fret. Losses follow the usual two terms, one the same for all frequencies (air,
    ends) and one that grows with the square of the frequency (inside the string); the second is
    what makes a tone grow round as it rings. Times and places: common practice, no source, chosen
    by ear and eye.
"""

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

#: Notes softer than this velocity are dead notes: the string is muted by the fretting hand while it
#: is struck.
DEAD_BELOW = 20

#: Points of a stored period; a harmonic near the top of the hearing still has enough of them for
#: straight lines between.
TABLE = 8192
_TOP_HZ = 9000.0
_PLUCK, _PICKUP = 0.19, 0.11
_SOFT_HZ, _HARD_HZ, _DEAD_HZ = 600.0, 3200.0, 900.0
#: Harmonics fall with this power of their number; the ideal string has 1, a wound string under a
#: magnet sounds brighter.
_TILT = 0.75
#: Open strings of the instrument the hand is thought to play: the fret is counted from the nearest
#: one below.
_OPEN = (23, 28, 33, 38, 43)


class Losses(NamedTuple):
    """``ring_sec``: time to fall by 60 dB at the lowest frequencies. ``dulling``: further decay,
    per second, per Hz squared.

    ``release_sec``: time to fall by 60 dB once the note is let go.
    """

    ring_sec: float
    dulling: float
    release_sec: float


class Pluck(NamedTuple):
    """One period (``TABLE`` points, read as a loop, from the moment the wave reaches the pickup)
    when plucked softly and hard.
    """

    soft: NDArray[np.float64]
    hard: NDArray[np.float64]
    dead: NDArray[np.float64]


def frequency(pitch: float) -> float:
    """The frequency of a MIDI pitch in Hz (ISO 16: A4, which is 69, has 440)."""
    return float(440.0 * 2.0 ** ((pitch - 69.0) / 12.0))


@lru_cache(maxsize=256)
def losses(pitch: int, dead: bool) -> Losses:
    """How a note fades: seconds of ringing at low frets, less at high ones; a dead note is over in
    a tenth of a second.
    """
    if dead:
        return Losses(0.14, 2.0e-5, 0.05)
    above = pitch - 28
    ring = min(max(8.0 * 2.0 ** (-above / 20.0), 0.25), 12.0)
    # Far above the neck the second term would leave nothing but a tick: it is held where the
    # fundamental still rings.
    dulling = min(1.2e-6 * 2.0 ** (above / 24.0), 12.0 / frequency(pitch) ** 2)
    return Losses(ring, dulling, min(max(0.16 * 2.0 ** (-above / 40.0), 0.05), 0.2))


def loudness(velocity: int) -> float:
    """The amplitude for a velocity of 1 to 127, up to 1, with about 26 dB between the softest tone
    and the hardest.

    A dead note's low velocity only chooses it; it is struck as hard as a middling tone, and gets
    its own small range.
    """
    if velocity < DEAD_BELOW:
        return 0.3 + 0.2 * velocity / DEAD_BELOW
    return float((velocity / 127.0) ** 1.6)


def hardness(velocity: int) -> float:
    """The share of the hard wave, 0 to 1, for a velocity of 1 to 127."""
    return float(min(max((velocity - DEAD_BELOW) / (127.0 - DEAD_BELOW), 0.0), 1.0) ** 1.3)


@lru_cache(maxsize=160)
def pluck(pitch: int) -> Pluck:
    """The waves for a pitch (0 to 127). Not to be written to."""
    hertz = frequency(pitch)
    fret = pitch - max((string for string in _OPEN if string <= pitch), default=pitch)
    shorter = 2.0 ** (fret / 12.0)
    place, pickup = min(_PLUCK * shorter, 0.47), min(_PICKUP * shorter, 0.4)
    count = max(min(int(_TOP_HZ / hertz), TABLE // 4), 1)
    n = np.arange(1, count + 1)
    comb = np.sin(np.pi * n * place) * np.sin(np.pi * n * pickup) / n**_TILT
    # From the pluck the wave needs this share of a period to the pickup; time 0 of the table is
    # where it begins to arrive.
    arrival = abs(place - pickup) / 2.0
    waves = []
    for top in (_SOFT_HZ, _HARD_HZ):
        top = max(top, 1.5 * hertz)
        start = arrival - 0.35 * hertz / top
        fall = np.exp(-((n * hertz / top) ** 1.5))
        waves.append(_wave(comb * fall * np.exp(2j * np.pi * n * start)))
    noise = np.random.default_rng(pitch).random(count) * 2.0 - 1.0
    dull = np.exp(-((n * hertz / _DEAD_HZ) ** 2))
    waves.append(_wave((0.6 * comb / np.abs(comb).max() + 0.4 * noise) * dull))
    return Pluck(*waves)


def _wave(harmonics: NDArray[np.complex128]) -> NDArray[np.float64]:
    """One period with these harmonics (phases as of sines), peak 1."""
    spectrum = np.zeros(TABLE // 2 + 1, complex)
    spectrum[1 : len(harmonics) + 1] = -1j * harmonics
    wave = np.fft.irfft(spectrum)
    wave /= np.abs(wave).max()
    wave.setflags(write=False)
    return wave


@lru_cache(maxsize=512)
def start_wave(pitch: int, velocity: int, dead: bool, period: float, count: int, fading: float) -> NDArray[np.float64]:
    """The ``count`` samples before the string is let go, oldest first, as if it had always moved
    so.

    Not to be written to: riffs repeat their notes, so the last ones are kept. ``period`` in
    samples; ``fading`` is what the fundamental loses a sample (natural logarithm), so that the tone
    does not fade in steps.
    """
    waves = pluck(pitch)
    if dead:
        wave = waves.dead
    else:
        hard = hardness(velocity)
        wave = (1.0 - hard) * waves.soft + hard * waves.hard
    time = np.arange(-count, 0, dtype=np.float64)
    started = _read(wave, time * (TABLE / period)) * np.exp(-fading * time)
    started.setflags(write=False)
    return started


def _read(wave: NDArray[np.float64], place: NDArray[np.float64]) -> NDArray[np.float64]:
    whole = np.floor(place)
    part = place - whole
    left = whole.astype(np.int64) & (TABLE - 1)
    read: NDArray[np.float64] = wave[left] * (1.0 - part) + wave[(left + 1) & (TABLE - 1)] * part
    return read
