"""How loud a sound is to the ear: integrated loudness after Recommendation ITU-R BS.1770-4, in
LUFS.

Conventions
    48,000 samples a second, float, shape (frames, channels), channels of equal weight. The
    K-weighting (tables 1 and 2 of annex 1) is applied to the power spectrum of each block of 0.4 s,
    three quarters of which overlap; blocks below -70 LUFS, then those more than 10 LU below the
    mean, are left out. A 997 Hz sine at full scale in one channel of two has -3.01 LUFS (annex 1).
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

RATE = 48_000
_BLOCK, _HOP = RATE * 4 // 10, RATE // 10
_STAGES = (
    (
        (1.53512485958697, -2.69169618940638, 1.19839281085285),
        (1.0, -1.69065929318241, 0.73248077421585),
    ),
    ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621)),
)
_OFFSET, _SILENT, _GATE = -0.691, -70.0, -10.0


def _weights() -> NDArray[np.float64]:
    """What a bin of a block's one-sided power spectrum counts for its mean square."""
    z = np.exp(-2j * np.pi * np.arange(_BLOCK // 2 + 1) / _BLOCK)
    power = np.ones(len(z))
    for above, below in _STAGES:
        power *= np.abs(np.polyval(above[::-1], z) / np.polyval(below[::-1], z)) ** 2
    power[1:-1] *= 2
    return power / _BLOCK**2


class LoudnessMeter:
    """Hears a sound block after block. ``peak`` is the largest sample so far, 1.0 at full scale."""

    def __init__(self) -> None:
        self._weights, self._powers = _weights(), list[float]()
        self._waiting: NDArray[Any] = np.zeros((0, 1))
        self.peak = 0.0

    def feed(self, block: NDArray[Any]) -> None:
        """Hear samples, shape (frames, channels)."""
        if not len(block):
            return
        self.peak = max(self.peak, float(np.abs(block).max()))
        waiting = np.concatenate([self._waiting, block]) if len(self._waiting) else np.asarray(block)
        at = 0
        while at + _BLOCK <= len(waiting):
            spectrum = np.abs(np.fft.rfft(waiting[at : at + _BLOCK], axis=0)) ** 2
            self._powers.append(float((self._weights @ spectrum).sum()))
            at += _HOP
        self._waiting = waiting[at:].copy()

    def lufs(self) -> float:
        """The integrated loudness; minus infinity for silence or less than a block."""
        powers = np.array(self._powers)
        for gate in (_SILENT, None):
            if not len(powers):
                return -np.inf
            limit = gate if gate is not None else _lufs(powers) + _GATE
            powers = powers[powers > 10 ** ((limit - _OFFSET) / 10)]
        return _lufs(powers) if len(powers) else -np.inf


def _lufs(powers: NDArray[np.float64]) -> float:
    return float(_OFFSET + 10 * np.log10(powers.mean()))
