"""The places of a cycle that swing moves, and how far: pairs of eighths and of sixteenths, which
start afresh at every group of the meter (``rhythm.swing``).
"""

from fractions import Fraction
from functools import lru_cache
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.meter import Cycle
from loopdeck.rhythm.quantize import slots
from loopdeck.rhythm.swing import Swing

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Unit = Literal["1/8", "1/16"]
UNITS: dict[Unit, Fraction] = {"1/8": Fraction(1, 2), "1/16": Fraction(1, 4)}

#: So early, in quarters, an onset is still taken for one of the bar that begins.
_EARLY_Q = 0.1


class Places(NamedTuple):
    """The 1/16 slots of a cycle, n of them: written places, the two tents (how far the share of a
    pair moves each), and for each unit the number of its pair (-1: none) and whether the slot is
    the pair's first (0), second (1) or neither (-1); where the group of each starts; and where the
    bars of the cycle start.
    """

    written: Floats
    tents: dict[Unit, Floats]
    pair: dict[Unit, NDArray[np.int64]]
    side: dict[Unit, NDArray[np.int64]]
    group: Floats
    bars: Floats
    cycle_q: float

    def played(self, above: dict[Unit, float]) -> Floats:
        """Where the slots are played with these shares above 1/2; (n,), quarters."""
        return self.written + sum(self.tents[unit] * value for unit, value in above.items())

    def bar_of(self, onset_q: Floats) -> Ints:
        """The bar of each onset, from 0 on; one just before the line belongs to the next."""
        shifted = onset_q + _EARLY_Q
        passes = np.floor(shifted / self.cycle_q)
        inside = np.searchsorted(self.bars, shifted - passes * self.cycle_q, side="right") - 1
        return np.asarray(passes * len(self.bars) + inside, np.int64)


@lru_cache(maxsize=32)
def places_of(cycle: Cycle) -> Places:
    """The places of a cycle."""
    exact = slots(cycle, Grid("1/16"), Swing()).written
    tents: dict[Unit, Floats] = {}
    pairs: dict[Unit, NDArray[np.int64]] = {}
    sides: dict[Unit, NDArray[np.int64]] = {}
    for unit, length in UNITS.items():
        tent, pair, side = np.zeros(len(exact)), np.full(len(exact), -1), np.full(len(exact), -1)
        number = {place: index for index, place in enumerate(exact)}
        count = 0
        for group in cycle.groups:
            for start in (group.start + index * 2 * length for index in range(int(group.length // (2 * length)))):
                for place in exact:
                    if start <= place < start + 2 * length:
                        inside = place - start
                        tent[number[place]] = float(2 * min(inside, 2 * length - inside))
                        pair[number[place]] = count
                side[number[start]] = 0
                if start + length in number:
                    side[number[start + length]] = 1
                count += 1
        tents[unit], pairs[unit], sides[unit] = tent, pair, side
    starts = np.array([float(group.start) for group in cycle.groups])
    written = np.array(exact, float)
    home = starts[np.searchsorted(starts, written, side="right") - 1]
    return Places(written, tents, pairs, sides, home, np.array(cycle.bar_starts, float), float(cycle.quarters))


def tent_of(cycle: Cycle, unit: Unit) -> tuple[Floats, Floats]:
    """The written places of the 1/16 slots of a cycle, and how far the share of ``unit`` moves
    each; both (n,), quarters.
    """
    places = places_of(cycle)
    return places.written, places.tents[unit]


def nearest(onset_q: Floats, played: Floats, cycle_q: float) -> tuple[Ints, Ints, Floats]:
    """For each onset the pass and slot whose played place is nearest, and the distance to it."""
    edges = (played[1:] + played[:-1]) / 2
    passes = np.floor((onset_q + (cycle_q - played[-1]) / 2) / cycle_q)
    inside = onset_q - passes * cycle_q
    slot = np.searchsorted(edges, inside, side="right")
    return passes.astype(np.int64), slot, inside - played[slot]
