"""Tempo: quarters and seconds.

Conventions
    A tempo counts some note value per minute: the quarter unless written otherwise (``96``,
    ``8th=184``, ``dotted-quarter=120``). Everything in the project is counted in quarters:
    ``8th=184`` is 92 quarters a minute. 20 to 400 quarters a minute are allowed. A tempo map is
    points ``(sec, quarter, qpm)``: from ``sec`` on the position is ``quarter + (t - sec) * qpm /
    60``. Files may hold tempi beyond our limits; a map takes any that is above zero.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.errors import UserError
from loopdeck.rhythm.errors import quoted

SLOWEST_QPM = 20
FASTEST_QPM = 400
#: What a tempo map may hold, so that its arithmetic stays finite: a file's tempi go from 3.6 to 60
#: million quarters a minute (Standard MIDI Files 1.0, set tempo: 24 bits of microseconds).
_LEAST, _MOST, _FARTHEST = 1e-3, 1e9, 1e12

#: Note values by name, in quarters.
UNITS: dict[str, Fraction] = {
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "8th": Fraction(1, 2),
    "16th": Fraction(1, 4),
    "32nd": Fraction(1, 8),
}
UNITS.update({f"dotted-{name}": value * 3 / 2 for name, value in list(UNITS.items())})

_OTHER_NAMES = {"4th": "quarter", "eighth": "8th", "sixteenth": "16th", "2nd": "half"}
_TEMPO = re.compile(r"(?:([a-z0-9-]{1,24})\s*=\s*)?([0-9]{1,6}(?:\.[0-9]{1,6})?)", re.ASCII)

Times = TypeVar("Times", float, NDArray[np.float64])


@dataclass(frozen=True)
class Tempo:
    """``count`` units a minute; ``unit`` is a name in ``UNITS``. Raises UserError outside 20 to 400
    quarters a minute.
    """

    count: Fraction
    unit: str = "quarter"

    def __post_init__(self) -> None:
        if self.unit not in UNITS:
            raise UserError(f"{quoted(self.unit)} is not a note value for a tempo; there are {', '.join(UNITS)}.")
        if not SLOWEST_QPM <= self.count * UNITS[self.unit] <= FASTEST_QPM:
            counted = "" if self.unit == "quarter" else f" ({self.quarters_per_minute:g} quarters a minute)"
            raise UserError(
                f"The tempo {self}{counted} is out of range; "
                f"it must lie between {SLOWEST_QPM} and {FASTEST_QPM} quarters a minute."
            )

    @property
    def quarters_per_minute(self) -> float:
        """Quarters a minute."""
        return float(self.count * UNITS[self.unit])

    def seconds(self, quarters: Times) -> Times:
        """How long so many quarters last; a number or an array."""
        return quarters * (60.0 / self.quarters_per_minute)

    def quarters(self, seconds: Times) -> Times:
        """How many quarters pass in so many seconds; a number or an array."""
        return seconds * (self.quarters_per_minute / 60.0)

    def __str__(self) -> str:
        count = _decimal(self.count)
        return count if self.unit == "quarter" else f"{self.unit}={count}"


def _decimal(number: Fraction) -> str:
    """A number of at most six decimals without the zeros at its end."""
    if number.denominator == 1:
        return str(number.numerator)
    return f"{float(number):.6f}".rstrip("0").rstrip(".")


def parse_tempo(text: str) -> Tempo:
    """``96``, ``92.5``, ``8th=184`` or ``dotted-quarter=120``. Raises UserError."""
    found = _TEMPO.fullmatch(text.strip().lower())
    if found is None:
        raise UserError(f"{quoted(text)} is not a tempo; write one like 96, 92.5, 8th=184 or dotted-quarter=120.")
    unit = found.group(1) or "quarter"
    dotted, plain = ("dotted-", unit[7:]) if unit.startswith("dotted-") else ("", unit)
    return Tempo(Fraction(found.group(2)), dotted + _OTHER_NAMES.get(plain, plain))


def said_tempo(qpm: float, beat_q: Fraction = Fraction(1), unit: str = "quarter") -> str:
    """A measured tempo as a player would say it: whole beats a minute, in ``unit``, or else in the
    beat that was counted (``beat_q`` quarters).

    Taps are not exact to a hundredth: 103.47 is 103. Within the range of tempi.
    """
    if unit == "quarter":
        unit = next((name for name, length in UNITS.items() if length == beat_q), unit)
    lowest, highest = -(-SLOWEST_QPM // UNITS[unit]), FASTEST_QPM // UNITS[unit]
    count = min(max(round(qpm / float(UNITS[unit])), lowest), highest)
    return str(count) if unit == "quarter" else f"{unit}={count}"


def written_tempo(qpm: float, unit: str = "quarter", places: int = 6) -> str:
    """A tempo in quarters a minute as a brief writes it, in ``unit``, with at most so many
    decimals: 116.25 is ``8th=232.5``.
    """
    count = f"{qpm / float(UNITS[unit]):.{places}f}"
    count = count.rstrip("0").rstrip(".") if places else count
    return count if unit == "quarter" else f"{unit}={count}"


class TempoMap:
    """Seconds to quarters and back through tempo changes.

    ``points``: (sec, quarter, qpm) in order of time; the first one's tempo also holds before it.
    Raises UserError when there are none, or when they are out of order, not above zero, or beyond
    anything that can be played.
    """

    def __init__(self, points: Iterable[tuple[float, float, float]]) -> None:
        self.points = tuple((float(sec), float(quarter), float(qpm)) for sec, quarter, qpm in points)
        table = np.array(self.points, dtype=np.float64).reshape(-1, 3)
        self._sec, self._quarter, self._qpm = table.T.copy()
        if not len(table) or not np.isfinite(table).all() or (self._qpm <= 0).any():
            raise UserError("A tempo map needs at least one point, and tempi above zero.")
        if (np.abs(table[:, :2]) > _FARTHEST).any() or (self._qpm < _LEAST).any() or (self._qpm > _MOST).any():
            raise UserError("A tempo map has a time or a tempo beyond anything that can be played.")
        if (np.diff(self._sec) < 0).any() or (np.diff(self._quarter) < 0).any():
            raise UserError("The points of a tempo map must stand in order of time.")

    @classmethod
    def steady(cls, tempo: Tempo) -> "TempoMap":
        """One tempo from quarter 0 at second 0."""
        return cls([(0.0, 0.0, tempo.quarters_per_minute)])

    def quarters(self, seconds: ArrayLike) -> NDArray[np.float64]:
        """Positions of moments; any shape."""
        times = np.asarray(seconds, dtype=np.float64)
        at = np.maximum(np.searchsorted(self._sec, times, side="right") - 1, 0)
        return self._quarter[at] + (times - self._sec[at]) * (self._qpm[at] / 60.0)

    def seconds(self, quarters: ArrayLike) -> NDArray[np.float64]:
        """Moments of positions; any shape."""
        places = np.asarray(quarters, dtype=np.float64)
        at = np.maximum(np.searchsorted(self._quarter, places, side="right") - 1, 0)
        return self._sec[at] + (places - self._quarter[at]) * (60.0 / self._qpm[at])
