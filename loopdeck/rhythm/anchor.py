"""Position and time at a steady tempo: the one formula, and its inverse."""

from collections.abc import Iterable
from typing import NamedTuple


class Anchor(NamedTuple):
    """At ``sec`` seconds the position is ``quarter`` quarter notes, and from there it grows by
    ``qpm`` quarters a minute.
    """

    sec: float
    quarter: float
    qpm: float

    def quarter_at(self, sec: float) -> float:
        """The position at a moment."""
        return self.quarter + (sec - self.sec) * self.qpm / 60.0

    def sec_at(self, quarter: float) -> float:
        """The moment of a position."""
        return self.sec + (quarter - self.quarter) * 60.0 / self.qpm


def forward(anchors: Iterable[Anchor]) -> tuple[Anchor, ...]:
    """The anchors, in order of time, so that no position lies before an earlier one: where a grid
    was moved back to before the last anchor, what lies between is placed by the anchor before that.
    """
    found: list[Anchor] = []
    for one in anchors:
        while len(found) > 1 and (one.quarter < found[-1].quarter or one.sec <= found[-1].sec):
            found.pop()
        if found and one.quarter < found[0].quarter:
            # Where it all begins stays where it is.
            one = Anchor(one.sec_at(found[0].quarter), found[0].quarter, one.qpm)
        found.append(one)
    return tuple(found)
