"""Places as players count them: "2 and" is the second half of the second beat.

Conventions
    A bar is counted in its meter's units: quarters in 4/4, eighths in 7/8 and 6/8. Between the
    counts a half is "and", the other quarters are "e" and "a", thirds are "triplet 2" and "triplet
    3"; anything else is said as its part of the count, "2 + 3/8". Common practice.
"""

from fractions import Fraction
from functools import lru_cache

from loopdeck.rhythm.meter import Meter

_WORDS = {
    Fraction(0): "",
    Fraction(1, 4): " e",
    Fraction(1, 2): " and",
    Fraction(3, 4): " a",
    Fraction(1, 3): " triplet 2",
    Fraction(2, 3): " triplet 3",
}


@lru_cache(maxsize=4096)
def count_of(meter: Meter, in_bar_q: Fraction) -> str:
    """The count of a place ``in_bar_q`` quarters after the start of a bar: ``3``, ``2 and``, ``4
    triplet 3``, ``1 + 3/8``.
    """
    units = in_bar_q / meter.unit_quarters
    count, rest = divmod(units, 1)
    return f"{int(count) + 1}{_WORDS.get(rest, f' + {rest}')}"


def place_of(bar: int, meter: Meter, in_bar_q: Fraction) -> str:
    """``bar 3, beat 2 and``."""
    return f"bar {bar}, beat {count_of(meter, in_bar_q)}"
