"""How loud each string is: the level of its pluck, the tone dying away, the release, and what that
comes to in the mix.

Conventions: rows are voices; decisions are made once a cell and reached in a straight line through
it. Gains are factors of parts at the beginning and at the end of the cell, shape (2, parts).
"""

import numpy as np
from numpy.typing import NDArray

from loopdeck.synth.delay_line import CELL

#: The fall, a cell, of a voice that is cut off; the fade below which it has ended, and the level
#: below which nobody hears it.
_CUT = 0.25
_SILENT = 2e-4
_INAUDIBLE = 1e-4
_HELD = 1.0
#: What a hammering or pulling finger makes of the level of a string that rings (common practice, no
#: source).
_LEAST_TAP, _MOST_TAP = 0.5, 1.5


class Envelopes:
    """The envelopes of ``rows`` voices at ``rate`` samples a second."""

    def __init__(self, rows: int, rate: int) -> None:
        self._rate = rate
        self._part = np.zeros(rows, np.int64)
        self._level = np.zeros(rows)
        self._loud = np.zeros(rows)
        self._dying = np.ones(rows)
        self._fade = np.zeros(rows)
        self._fall = np.ones(rows)
        #: What it all comes to at both ends of the cell, shape (2, rows).
        self.weight = np.zeros((2, rows))

    def start(self, row: int, part: int, level: float, ring_sec: float, gains: NDArray[np.float64]) -> None:
        """A pluck of ``level`` that falls by 60 dB in ``ring_sec``, and is held."""
        self._part[row] = part
        self._level[row], self._loud[row] = level, 1.0
        self._dying[row] = self._falling(ring_sec)
        self._fade[row], self._fall[row] = 1.0, _HELD
        self.weight[:, row] = level * gains[:, part]

    def go_on(self, row: int, level: float, ring_sec: float) -> None:
        """A ringing voice is taken to another pitch by a tap of ``level``, and held."""
        self._dying[row] = self._falling(ring_sec)
        self._fall[row] = _HELD
        # The finger gives or takes a little of what the string has, never the whole of a pluck.
        rings = self._level[row] * self._loud[row] * self._fade[row]
        self._level[row] *= min(max(level / max(rings, 1e-6), _LEAST_TAP), _MOST_TAP)

    def release(self, row: int, seconds: float) -> None:
        """Let a voice fall by 60 dB in so many seconds, from the next cell on."""
        self._fall[row] = min(self._fall[row], self._falling(seconds))

    def cut(self, row: int) -> None:
        """Take a voice away within some milliseconds."""
        self._fall[row] = min(self._fall[row], _CUT)

    def is_cut(self, row: int) -> bool:
        """True for a voice that is being cut off."""
        return bool(self._fall[row] <= _CUT)

    def ended(self, active: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Which of the ``active`` voices have died away."""
        ended: NDArray[np.bool_] = active & (self._fade == 0.0)
        return ended

    def tick(self, gains: NDArray[np.float64]) -> None:
        """Decide the next cell."""
        # All rows at once, also those that rest (their fade is 0): quicker than picking out the
        # ones that sound.
        self._loud *= self._dying
        before = self._level * self._fade
        self._fall[self._loud * before < _INAUDIBLE] = _CUT
        self._fade *= self._fall
        self._fade[self._fade < _SILENT] = 0.0
        np.multiply(before, gains[0, self._part], out=self.weight[0])
        np.multiply(self._level * self._fade, gains[1, self._part], out=self.weight[1])

    def parts(self, rows: NDArray[np.int64]) -> NDArray[np.int64]:
        """The parts of some voices."""
        return self._part[rows]

    def sounding(self, active: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Which of the ``active`` voices sound and are not being cut off."""
        return active & (self._fall > _CUT)

    def heard(self, active: NDArray[np.bool_]) -> NDArray[np.float64]:
        """How loud each sounding voice is; infinite for the others."""
        return np.where(self.sounding(active), self._level * self._loud * self._fade, np.inf)

    def faintest_cut(self) -> int:
        """Of the voices that are being cut off, the one that is heard least."""
        return int(np.argmin(np.where(self._fall <= _CUT, self.weight[1], np.inf)))

    def _falling(self, seconds: float) -> float:
        """The factor a cell that falls by 60 dB in so many seconds."""
        return float(10.0 ** (-3.0 * CELL / self._rate / seconds))
