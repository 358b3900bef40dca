"""Position and time at a steady tempo: the one formula, and its inverse."""

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
