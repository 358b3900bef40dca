"""The filter in the loop of each string: its delay and losses, and the bend that moves it.

Conventions and method are those of ``string``: bends in semitones, delays in samples, decisions
once a cell.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from loopdeck.synth.delay_line import CELL, TAPS, DelayLines, Reading

_HALF = (TAPS - 1) / 2.0
LEAST_DELAY = CELL + _HALF + 1.0
_WIDTH_SQUARED = (0.5, 4.5)
_BEND_SPEED = 0.6


class LoopFilters:
    """The filters of the rows of ``lines``. ``bending`` while one of them moves, or is to."""

    def __init__(self, lines: DelayLines, rate: int) -> None:
        rows = len(lines.row_start)
        self._lines, self._rate = lines, rate
        self.bending = False
        self.moving = np.zeros(rows, bool)
        # The period at rest times the periods in the loop; losses; the bend now and where it goes.
        self._length = np.ones(rows)
        self._ring_sec = np.ones(rows)
        self._width2 = np.ones(rows)
        self._bend = np.zeros(rows)
        self._bend_to = np.zeros(rows)
        # At the beginning and at the end of the cell.
        self._delay = np.zeros((2, rows), np.int64)
        self._taps = np.zeros((2, rows, TAPS))

    def start(self, row: int, length: float, ring_sec: float, dulling: float, bend: float) -> float:
        """Tune a row: ``length`` samples at rest, and losses as ``pluck.losses`` gives them.

        Returns the squared width of the filter.
        """
        # Decay of dulling * f^2 a second is exp(-width^2 w^2 / 2) a turn, w = 2 pi f / rate.
        width2 = 2.0 * dulling * length * self._rate / (4.0 * np.pi**2)
        self._length[row], self._ring_sec[row] = length, ring_sec
        self._width2[row] = min(max(width2, _WIDTH_SQUARED[0]), _WIDTH_SQUARED[1])
        self._bend[row] = self._bend_to[row] = bend
        self.moving[row] = False
        aimed = _aimed(length * 2.0 ** (-bend / 12.0), self._width2[row], ring_sec * self._rate, self._lines.past)
        self._delay[:, row], self._taps[:, row] = aimed
        return float(self._width2[row])

    def reaches(self, row: int, semitones: float) -> bool:
        """True when a row can be bent so far."""
        return bool(self._length[row] * 2.0 ** (-semitones / 12.0) >= LEAST_DELAY)

    def lose(self, row: int, ring_sec: float) -> None:
        """From its next bend on, let a row fall by 60 dB in ``ring_sec``."""
        self._ring_sec[row] = ring_sec

    def bend(self, row: int, semitones: float) -> None:
        """Send a row to another bend."""
        self._bend_to[row] = semitones
        self.bending = True

    def tick(self, active: NDArray[np.bool_]) -> None:
        """Move the bends of the next cell."""
        was = np.flatnonzero(self.moving)
        self._taps[0, was], self._delay[0, was] = self._taps[1, was], self._delay[1, was]
        self.moving[:] = active & (self._bend != self._bend_to)
        goes = np.flatnonzero(self.moving)
        if len(goes):
            left = self._bend_to[goes] - self._bend[goes]
            self._bend[goes] = np.where(np.abs(left) < 2e-4, self._bend_to[goes], self._bend[goes] + _BEND_SPEED * left)
            self._aim(goes)
        self.bending = bool(len(goes))

    def _aim(self, rows: NDArray[np.int64]) -> None:
        """Set the filter at the end of the cell of some rows to their bend."""
        delay = self._length[rows] * 2.0 ** (-self._bend[rows] / 12.0)
        ring = self._ring_sec[rows] * self._rate
        self._delay[1, rows], self._taps[1, rows] = _filters(delay, self._width2[rows], ring, self._lines.past)

    def reading(self, rows: NDArray[np.int64], which: int) -> Reading:
        """What the filters of some rows read: 0 at the beginning of the cell, 1 at its end."""
        return Reading(self._lines.row_start[rows], self._delay[which, rows], self._taps[which, rows])


def _filters(
    delay: NDArray[np.float64], width2: NDArray[np.float64], ring: NDArray[np.float64], past: int
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Filters for loops of these delays, squared widths, and samples to fall by 60 dB, shape (n,).

    Returns how far back the oldest sample lies that each reads (n,), and its taps (n, TAPS), the
    oldest first.
    """
    delay = np.clip(delay, LEAST_DELAY, past - 2.0 * CELL)
    first = np.floor(delay - _HALF + 0.5)
    away = np.arange(TAPS - 1, -1, -1) + (first - delay)[:, None]
    bell = np.exp(away**2 / (-2.0 * width2[:, None]))
    turn = 10.0 ** (-3.0 * delay / ring)
    return first.astype(np.int64) + TAPS - 1, bell * (turn / bell.sum(axis=1))[:, None]


@lru_cache(maxsize=512)
def _aimed(delay: float, width2: float, ring: float, past: int) -> tuple[int, NDArray[np.float64]]:
    """The same for one loop.

    Riffs repeat their notes, so the last ones are kept; not to be written to.
    """
    oldest, taps = _filters(np.array([delay]), np.array([width2]), np.array([ring]), past)
    return int(oldest[0]), taps[0]
