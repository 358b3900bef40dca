"""Meters and cycles: where bars, groups and beats begin.

Conventions
    Positions and lengths are quarters, exact (``fractions.Fraction``), counted from the start of
    the cycle (of the bar where it says so). A meter is groups of units: ``4+3/8`` is a group of
    four eighths and a group of three. Groups are where the accents fall, where the grid starts
    afresh, and where pairs of swung subdivisions start afresh. Bars and groups are counted from 0,
    beats from 1.

Groups when none are written (``default_groups``)
    Over 1, 2 and 4 a meter groups by beat. Over 8, 16 and 32: 5 is 3+2 and 7 is 4+3; multiples of
    three go in threes (6/8, 9/8 and 12/8 by dotted quarter); other even numbers go in twos (4/8 is
    2+2); other odd ones in threes with twos at the end (11/8 is 3+3+3+2, 13/8 is 3+3+3+2+2). Common
    practice, no source; any other grouping is written out.

Written form
    ``4/4``, ``6/8``: the default groups, all alike. Anything else shows its groups: ``4+3/8``,
    ``2+2+3/8``; but who wrote ``7/8`` gets ``7/8`` back (the two are equal). One group on its own
    that is not the default stands in parentheses: ``(4)/8``. A cycle is meters separated by spaces.
"""

import re
from bisect import bisect_right
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import accumulate
from typing import Literal, NamedTuple

from loopdeck.errors import UserError
from loopdeck.rhythm.errors import quoted

UNITS = (1, 2, 4, 8, 16, 32)
MAX_NUMERATOR = 64
MAX_BARS = 64
MAX_CYCLE_QUARTERS = 1024

_METER = re.compile(r"(\()?([0-9]{1,6}(?:\+[0-9]{1,6})*)(?(1)\))/([0-9]{1,6})", re.ASCII)

ClickKind = Literal["bar", "group", "beat", "between"]


class ClickPlace(NamedTuple):
    """A place where the click sounds: ``position`` in quarters from the start of the cycle, ``bar``
    from 0, ``beat`` (the count) from 1.
    """

    position: Fraction
    kind: ClickKind
    bar: int
    beat: int


class Group(NamedTuple):
    """One group of the cycle, all in quarters: where it starts, how long it is, how long one of its
    units is.
    """

    start: Fraction
    length: Fraction
    unit: Fraction


def default_groups(numerator: int, unit: int) -> tuple[int, ...]:
    """The groups of a meter that is written without any; the rule stands at the top of this
    module.
    """
    if unit <= 4:
        return (1,) * numerator
    if numerator == 7:
        return (4, 3)
    if numerator % 3 == 0:
        return (3,) * (numerator // 3)
    if numerator % 2 == 0:
        return (2,) * (numerator // 2)
    if numerator == 1:
        return (1,)
    # Odd and no multiple of three: threes first, and one or two twos to fill up.
    twos = 1 if numerator % 3 == 2 else 2
    return (3,) * ((numerator - 2 * twos) // 3) + (2,) * twos


@dataclass(frozen=True)
class Meter:
    """One bar's meter: ``groups`` in units, ``unit`` the note value below the line (1 a whole note,
    4 a quarter).

    ``plain`` says that it was written without groups; it changes how it is written again, and
    nothing else. Raises UserError when a group is empty, the unit is none of 1 2 4 8 16 32, or the
    bar has more than 64 units.
    """

    groups: tuple[int, ...]
    unit: int
    plain: bool = field(default=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        text = f"{'+'.join(map(str, self.groups[:9]))}/{self.unit}"
        if self.unit not in UNITS:
            raise UserError(f"The meter {text} has {self.unit} below the line, which must be 1, 2, 4, 8, 16 or 32.")
        if not self.groups or min(self.groups) < 1:
            raise UserError(f"The meter {text} has an empty group; every group needs at least one unit, as in 4+3/8.")
        if sum(self.groups) > MAX_NUMERATOR:
            raise UserError(
                f"The meter {text} has {sum(self.groups)} units in a bar; {MAX_NUMERATOR} are the most there can be."
            )

    @property
    def numerator(self) -> int:
        """Units in the bar."""
        return sum(self.groups)

    @property
    def unit_quarters(self) -> Fraction:
        """The length of one unit."""
        return Fraction(4, self.unit)

    @property
    def quarters(self) -> Fraction:
        """The length of the bar."""
        return self.numerator * self.unit_quarters

    @property
    def group_starts(self) -> tuple[Fraction, ...]:
        """Where the groups start, from the start of the bar."""
        return tuple(units * self.unit_quarters for units in accumulate(self.groups[:-1], initial=0))

    def __str__(self) -> str:
        if (self.plain or len(set(self.groups)) == 1) and self.groups == default_groups(self.numerator, self.unit):
            return f"{self.numerator}/{self.unit}"
        if len(self.groups) == 1:
            return f"({self.numerator})/{self.unit}"
        return f"{'+'.join(map(str, self.groups))}/{self.unit}"


def parse_meter(text: str) -> Meter:
    """A meter as musicians write it: ``4/4``, ``7/8``, ``4+3/8``, ``(4)/8``. Raises UserError."""
    found = _METER.fullmatch(text.strip())
    if found is None:
        raise UserError(f"{quoted(text)} is not a meter; write one like 4/4, 7/8, 4+3/8 or 2+2+3/8.")
    explicit, over, under = found.group(1) is not None, found.group(2), int(found.group(3))
    groups = tuple(int(number) for number in over.split("+"))
    plain = len(groups) == 1 and not explicit
    if plain and under in UNITS and 1 <= groups[0] <= MAX_NUMERATOR:
        groups = default_groups(groups[0], under)
    if under not in UNITS:
        raise UserError(
            f"The meter {quoted(text.strip())} has {under} below the line, which must be 1, 2, 4, 8, 16 or 32."
        )
    if sum(groups) == 0:
        raise UserError(f"The meter {quoted(text.strip())} has no beats; write at least 1 above the line, as in 4/4.")
    return Meter(groups, under, plain)


@dataclass(frozen=True)
class Cycle:
    """One or more bars that repeat as a whole.

    Raises UserError when there are none, over 64, or over 1024 quarters.
    """

    meters: tuple[Meter, ...]

    def __post_init__(self) -> None:
        if not self.meters:
            raise UserError("A cycle needs at least one meter, such as 4/4.")
        if len(self.meters) > MAX_BARS:
            raise UserError(f"The cycle has {len(self.meters)} bars; {MAX_BARS} are the most there can be.")
        if self.quarters > MAX_CYCLE_QUARTERS:
            raise UserError(
                f"The cycle is {self.quarters} quarters long; {MAX_CYCLE_QUARTERS} are the most there can be."
            )

    @cached_property
    def quarters(self) -> Fraction:
        """The length of the cycle."""
        return sum((meter.quarters for meter in self.meters), Fraction(0))

    @cached_property
    def bar_starts(self) -> tuple[Fraction, ...]:
        """Where the bars start."""
        return tuple(accumulate((meter.quarters for meter in self.meters[:-1]), initial=Fraction(0)))

    def bar_at(self, position: Fraction | float) -> int:
        """The bar (from 0) that a position within the cycle lies in; the first or last bar for a
        position outside.
        """
        return max(bisect_right(self.bar_starts, position) - 1, 0)

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        """All groups of the cycle in order."""
        return tuple(
            Group(bar + start, units * meter.unit_quarters, meter.unit_quarters)
            for bar, meter in zip(self.bar_starts, self.meters, strict=True)
            for start, units in zip(meter.group_starts, meter.groups, strict=True)
        )

    @cached_property
    def clicks(self) -> tuple[ClickPlace, ...]:
        """A click on every unit: "bar" at the start of a bar, "group" where a group of several
        units starts, else "beat".
        """
        places = []
        for bar, (bar_start, meter) in enumerate(zip(self.bar_starts, self.meters, strict=True)):
            heads = dict(zip(accumulate(meter.groups[:-1], initial=0), meter.groups, strict=True))
            for unit in range(meter.numerator):
                kind: ClickKind = "bar" if unit == 0 else "group" if heads.get(unit, 1) > 1 else "beat"
                places.append(ClickPlace(bar_start + unit * meter.unit_quarters, kind, bar, unit + 1))
        return tuple(places)

    def half(self) -> "Cycle":
        """The first half of the cycle, when it ends where a bar or a group ends: half of ``6/8`` is
        ``3/8``. Raises UserError.
        """
        end, meters = self.quarters / 2, []
        for start, meter in zip(self.bar_starts, self.meters, strict=True):
            if start + meter.quarters <= end:
                meters.append(meter)
                continue
            if start == end:
                return Cycle(tuple(meters))
            ends = list(accumulate(units * meter.unit_quarters for units in meter.groups))
            if end - start in ends:
                return Cycle((*meters, Meter(meter.groups[: ends.index(end - start) + 1], meter.unit)))
            break
        raise UserError(
            f"Half of the cycle {self} would end inside a group; only a cycle whose middle is the end of a bar "
            "or a group can be halved."
        )

    def double(self) -> "Cycle":
        """The cycle twice over. Raises UserError when that is too long."""
        return Cycle(self.meters * 2)

    def __str__(self) -> str:
        return " ".join(map(str, self.meters))


@lru_cache(maxsize=256)
def parse_cycle(text: str) -> Cycle:
    """Meters separated by spaces: ``4/4 4+3/8``. Raises UserError."""
    words = text.split()
    if not words:
        raise UserError("The cycle is empty; write one or more meters such as 4/4 or '4/4 4+3/8'.")
    if len(words) > MAX_BARS:
        raise UserError(f"The cycle has {len(words)} bars; {MAX_BARS} are the most there can be.")
    return Cycle(tuple(parse_meter(word) for word in words))
