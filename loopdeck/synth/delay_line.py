"""The past of many loops: what a row has put out, and what a filter reads of it.

Conventions: rows are voices; samples count from 0 and are written a cell or less at a time. A
``Reading`` says for some rows which samples a filter reads and how it weighs them.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

#: Samples between two decisions, and the most that is rendered at once.
CELL = 128
TAPS = 16


class Reading(NamedTuple):
    """What a filter reads of some rows, shape (n,): where they begin in the flat ring, how far back
    the oldest sample lies, and the taps (n, TAPS), the oldest first.
    """

    row_start: NDArray[np.int64]
    delay: NDArray[np.int64]
    taps: NDArray[np.float64]


class DelayLines:
    """``rows`` rings of ``past`` samples (a power of 2), each with a copy of its beginning behind
    its end, so that no reading runs over the edge.
    """

    def __init__(self, rows: int, past: int) -> None:
        self.past = past
        self._ring = np.zeros((rows, past + 2 * CELL))
        self._flat = self._ring.reshape(-1)
        self.row_start = np.arange(rows) * self._ring.shape[1]
        self._reach = np.arange(CELL + TAPS - 1)

    def fill(self, row: int, now: int, wave: NDArray[np.float64]) -> None:
        """Write what lies before the sample ``now`` of a row; at most ``past`` samples."""
        line = self._ring[row]
        begin = (now - len(wave)) & (self.past - 1)
        until_edge = min(self.past - begin, len(wave))
        line[begin : begin + until_edge] = wave[:until_edge]
        line[: len(wave) - until_edge] = wave[until_edge:]
        line[self.past :] = line[: 2 * CELL]

    def read(self, reading: Reading, now: int, count: int) -> NDArray[np.float64]:
        """``count`` filtered samples from ``now`` on, shape (n, count)."""
        first = reading.row_start + ((now - reading.delay) & (self.past - 1))
        heard = self._flat.take(first[:, None] + self._reach[: count + TAPS - 1])
        step, next_row = heard.itemsize, heard.strides[0]
        windows = np.ndarray((len(heard), count, TAPS), np.float64, heard, 0, (next_row, step, step))
        delayed: NDArray[np.float64] = np.einsum("vnk,vk->vn", windows, reading.taps)
        return delayed

    def write(self, rows: NDArray[np.int64], now: int, wave: NDArray[np.float64]) -> None:
        """Write the samples of some rows from ``now`` on, shape (n, count), within a cell."""
        count = wave.shape[1]
        place = now & (self.past - 1)
        self._ring[rows, place : place + count] = wave
        if place < 2 * CELL:
            self._ring[rows, self.past + place : self.past + place + count] = wave
