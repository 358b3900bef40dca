"""Swing: written places to played places and back.

Conventions
    Swing is the ratio long:short of a pair of subdivisions, 1:1 (straight) to 3:1. With a pair of
    length L the second subdivision is played at L * r / (r + 1) from the pair's start. As a
    percentage it is the long part's share of the pair: 50 % to 75 %. Pairs start afresh at every
    group of the meter; a last subdivision without a partner stays straight. What lies inside a
    subdivision is stretched with it (piecewise linear), so the map from written to played is
    continuous and strictly rising. Swing needs a grid it can belong to: triplet grids are never
    warped. Positions are quarters from the start of a cycle's first pass; the map repeats with the
    cycle, also before 0.

The ratio's definition is that of Friberg & Sundström, "Swing Ratios and Ensemble Timing in Jazz
Performance", Music Perception 19(3), 2002, who measured up to 3.5:1 at slow tempi; the limit of 3:1
and the restart at groups are this project's rule.
"""

import re
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.errors import UserError
from loopdeck.rhythm.errors import quoted
from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.meter import Cycle

MAX_RATIO = 3

#: The subdivisions that can be swung, with their length in quarters.
UNITS: dict[str, Fraction] = {"1/8": Fraction(1, 2), "1/16": Fraction(1, 4)}

_NUMBER = r"[0-9]{1,6}(?:\.[0-9]{1,6})?"
_RATIO = re.compile(rf"({_NUMBER})\s*:\s*({_NUMBER})", re.ASCII)
_SHARE = re.compile(rf"({_NUMBER})\s*%", re.ASCII)


@dataclass(frozen=True)
class Swing:
    """``ratio`` long:short, 1 to 3; ``unit`` the length of one subdivision in quarters, None to go
    by the grid.

    ``percent`` says that it was written as the long part's share of the pair; it changes how it is
    written again, and nothing else. Raises UserError.
    """

    ratio: Fraction = Fraction(1)
    unit: Fraction | None = None
    percent: bool = field(default=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        if not 1 <= self.ratio <= MAX_RATIO:
            raise UserError(f"The swing {self} is out of range; it must lie between 1:1 (50%) and 3:1 (75%).")
        if self.unit is not None and self.unit not in UNITS.values():
            raise UserError(f"Subdivisions of {self.unit} quarters cannot be swung; only 1/8 and 1/16 can.")

    @property
    def straight(self) -> bool:
        """Whether the ratio is 1:1."""
        return self.ratio == 1

    def unit_for(self, grid: Grid) -> Fraction:
        """The swung subdivision in quarters: as written, else sixteenths on a grid of 1/16 or 1/32
        and eighths on the others.
        """
        if self.unit is not None:
            return self.unit
        return UNITS["1/16"] if grid.name in ("1/16", "1/32") else UNITS["1/8"]

    def __str__(self) -> str:
        unit = "".join(f" {name}" for name, length in UNITS.items() if length == self.unit)
        if self.ratio == 1:
            return "straight" + unit
        share = self.ratio / (self.ratio + 1) * 100
        if self.percent:
            return f"{float(share):.6f}".rstrip("0").rstrip(".") + "%" + unit
        long, short = self.ratio.numerator, self.ratio.denominator
        if max(long, short) > 9 and (share * 1000).denominator == 1:
            return f"{float(share):.3f}".rstrip("0").rstrip(".") + "%" + unit
        return f"{long}:{short}{unit}"


def parse_swing(text: str) -> Swing:
    """``2:1``, ``58%``, ``straight``, each with ``1/8`` or ``1/16`` behind it for the swung
    subdivision. Raises UserError.
    """
    words = text.strip().lower()
    unit = None
    for name, length in UNITS.items():
        if words.endswith(" " + name):
            words, unit = words[: -len(name)].strip(), length
            break
    if words == "straight":
        return Swing(Fraction(1), unit)
    if found := _RATIO.fullmatch(words):
        long, short = Fraction(found.group(1)), Fraction(found.group(2))
        # A long part shorter than the short one is refused with the others that are out of range.
        if short == 0 or not short <= long <= MAX_RATIO * short:
            raise UserError(f"The swing {quoted(text)} is out of range; it must lie between 1:1 (50%) and 3:1 (75%).")
        return Swing(long / short, unit)
    if found := _SHARE.fullmatch(words):
        share = Fraction(found.group(1))
        if not 50 <= share <= 75:
            raise UserError(f"The swing {quoted(text)} is out of range; it must lie between 50% (1:1) and 75% (3:1).")
        return Swing(share / (100 - share), unit, percent=True)
    raise UserError(f"{quoted(text)} is not a swing; write one like 2:1, 58%, straight or '2:1 1/8'.")


@lru_cache(maxsize=64)
def bends(cycle: Cycle, swing: Swing, grid: Grid) -> tuple[tuple[Fraction, ...], tuple[Fraction, ...]] | None:
    """The corners of the map, (written, played), rising, from 0 to the cycle's end; None where
    nothing is moved.
    """
    if swing.straight or grid.triplet:
        return None
    unit = swing.unit_for(grid)
    pair = 2 * unit
    second = pair * swing.ratio / (swing.ratio + 1)
    written, played = [Fraction(0)], [Fraction(0)]
    for group in cycle.groups:
        for index in range(int(group.length // pair)):
            start = group.start + index * pair
            if start > written[-1]:
                written.append(start)
                played.append(start)
            written += (start + unit, start + pair)
            played += (start + second, start + pair)
    if written[-1] < cycle.quarters:
        written.append(cycle.quarters)
        played.append(cycle.quarters)
    return (tuple(written), tuple(played)) if len(written) > 2 else None


@lru_cache(maxsize=64)
def _corners(cycle: Cycle, swing: Swing, grid: Grid) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    exact = bends(cycle, swing, grid)
    return None if exact is None else (np.array(exact[0], float), np.array(exact[1], float))


def _mapped(positions: ArrayLike, cycle: Cycle, source: int, swing: Swing, grid: Grid) -> NDArray[np.float64]:
    places = np.asarray(positions, dtype=np.float64)
    corners = _corners(cycle, swing, grid)
    if corners is None:
        return places.copy()
    cycle_q = float(cycle.quarters)
    base = np.floor(places / cycle_q) * cycle_q
    return base + np.interp(places - base, corners[source], corners[1 - source])


def warp(positions: ArrayLike, cycle: Cycle, swing: Swing, grid: Grid) -> NDArray[np.float64]:
    """Written positions to played ones: quarters in, quarters out, same shape. ``unwarp`` is the
    inverse.
    """
    return _mapped(positions, cycle, 0, swing, grid)


def unwarp(positions: ArrayLike, cycle: Cycle, swing: Swing, grid: Grid) -> NDArray[np.float64]:
    """Played positions to written ones: quarters in, quarters out, same shape. ``warp`` is the
    inverse.
    """
    return _mapped(positions, cycle, 1, swing, grid)
