"""The last thing before the output: whatever comes in, what goes out lies in [-1, 1].

Method
    Two stages, neither of which delays the sound or depends on how time is cut into pieces.
    1. A levelling gain, decided once a cell from the peak of the cell before: down at once, up
       again in ``RELEASE_SEC``. It keeps what is loud for long from being bent out of shape, and
       comes up to a cell late.
    2. A knee without memory: up to ``KNEE`` nothing changes, above it the curve goes over, without
       a corner, into one that never passes 1 (hyperbolic tangent). It catches what the first stage
       is too late for.
    Below the knee the signal passes untouched, bit for bit. What is not a number becomes silence.
    Common practice, no source.
"""

import numpy as np
from numpy.typing import NDArray

KNEE = 0.75
RELEASE_SEC = 0.25
#: What is larger than any sum of sounds can be, and is cut there so that the arithmetic stays
#: finite.
LARGEST = 1e6


class Limiter:
    """For one output of any number of channels, in cells of ``cell`` samples."""

    def __init__(self, rate: int, cell: int) -> None:
        self._slope = np.arange(cell) / cell
        self._rise = 1.0 - np.exp(-cell / (rate * RELEASE_SEC))
        self._peak = 0.0
        self._gain = (1.0, 1.0)

    @property
    def reduction(self) -> float:
        """The factor in force at the end of the cell, 1 when nothing is held down."""
        return self._gain[1]

    def tick(self) -> None:
        """Decide the gain of the next cell."""
        now = self._gain[1]
        wanted = 1.0 if self._peak <= KNEE else KNEE / self._peak
        after = wanted if wanted < now else now + (wanted - now) * self._rise
        self._gain = (now, 1.0 if after > 1.0 - 1e-5 else after)
        self._peak = 0.0

    def limit(self, inside: int, signal: NDArray[np.float64]) -> None:
        """Limit ``signal`` in place: (channels, count), not empty, from ``inside`` samples into the
        cell on and ending within it.
        """
        peak = max(float(signal.max()), -float(signal.min()))
        if not peak < LARGEST:
            np.nan_to_num(signal, copy=False, nan=0.0)
            np.clip(signal, -LARGEST, LARGEST, out=signal)
            peak = float(np.abs(signal).max())
        self._peak = max(self._peak, peak)
        begin, end = self._gain
        if begin != 1.0 or end != 1.0:
            signal *= begin + (end - begin) * self._slope[inside : inside + signal.shape[1]]
        if peak > KNEE:
            signal[:] = _bent(signal)

    def limit_cells(self, signal: NDArray[np.float64]) -> None:
        """The same as ``tick`` and ``limit`` for every cell of ``signal`` (channels, n cells of
        samples) in turn, in place.
        """
        if not signal.size:
            return
        cell = len(self._slope)
        cells = signal.reshape(len(signal), -1, cell)
        peaks = np.maximum(cells.max(axis=(0, 2)), -cells.min(axis=(0, 2)))
        if not peaks.max() < LARGEST:
            for index in range(cells.shape[1]):
                self.tick()
                self.limit(0, signal[:, index * cell : (index + 1) * cell])
            return
        gains = np.empty((len(peaks), 2))
        for index, peak in enumerate(peaks.tolist()):
            self.tick()
            gains[index], self._peak = self._gain, peak
        held = np.flatnonzero((gains != 1.0).any(axis=1))
        if len(held):
            begin, end = gains[held, :1], gains[held, 1:]
            cells[:, held] *= begin + (end - begin) * self._slope
        loud = np.flatnonzero(peaks > KNEE)
        if len(loud):
            cells[:, loud] = _bent(cells[:, loud])


def _bent(signal: NDArray[np.float64]) -> NDArray[np.float64]:
    """Through the knee."""
    size = np.abs(signal)
    over = KNEE + (1.0 - KNEE) * np.tanh((size - KNEE) / (1.0 - KNEE))
    return np.copysign(np.where(size > KNEE, over, size), signal)
