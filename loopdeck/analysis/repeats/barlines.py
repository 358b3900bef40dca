"""Where the bar lines of a take are, and what they tell about its riffs.

Method
    A riff is played from a bar line to a bar line more often than not, and comes back at the same
    place in the bar. Both are weighed in bits beside the notes, never demanded: what an upbeat
    begins, or what begins a beat later, is found all the same. Where returns stand anywhere in the
    bar, the playing does not go by these bars (another tempo, no click), and the lines tell
    nothing.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Bits for each end of a riff that is a bar line, and for each return at the same place in the bar;
#: set on takes of thirteen further grammars (dense and sparse noodling, riffs of few notes, of one
#: note, back to back, nested, with drop-outs) with seeds that no figure is taken from.
EDGE_BITS, ALIGNED_BITS = 8.0, 2.0


@dataclass(frozen=True)
class BarLines:
    """``begins``: bool, shape (n + 1,): note i is the first one of its bar; true for the end of the
    text. ``in_bar_q``: shape (n,), quarters from the bar line."""

    begins: NDArray[np.bool_]
    in_bar_q: Floats

    def aligned(self, first: Ints, last: Ints, model: int, tolerance_q: float) -> NDArray[np.bool_]:
        """Which of the stretches ``first[k]..last[k]`` begin or end at the same place in the bar as
        number ``model`` does; shape (k,)."""
        begin = np.abs(self.in_bar_q[first] - self.in_bar_q[first[model]]) <= tolerance_q
        end = np.abs(self.in_bar_q[last] - self.in_bar_q[last[model]]) <= tolerance_q
        return np.asarray(begin | end)

    def edge_bits(self, first: int, last: int, aligned: NDArray[np.bool_]) -> float:
        """What the ends of the stretch ``first..last`` tell, as far as its returns are aligned."""
        returns = len(aligned) - 1
        if returns < 1:
            return 0.0
        share = float(aligned.sum() - 1) / returns
        return EDGE_BITS * share * (int(self.begins[first]) + int(self.begins[last + 1]))


def bar_lines(bar: ArrayLike, in_bar_q: ArrayLike, order: Any, part: Ints) -> BarLines:
    """The bar lines of n notes: ``bar`` and ``in_bar_q`` as the reports number the notes, ``order``
    their numbers in the order of the text, ``part`` in that order."""
    number = np.asarray(bar, np.int64)[order]
    begins = np.ones(len(number) + 1, bool)
    begins[1:-1] = (np.diff(number) != 0) | (np.diff(part) != 0)
    return BarLines(begins, np.asarray(in_bar_q, float)[order])
