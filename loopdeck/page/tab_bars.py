"""What readers of text tab share: the bars as they stand in the text, its faults, and the repeats
written out.
"""

from dataclasses import dataclass, replace
from typing import NamedTuple

from loopdeck.errors import UserError
from loopdeck.page.form import PageBar
from loopdeck.rhythm.meter import Meter


class TabError(UserError):
    """A fault in a text, with its line and column from 1."""

    def __init__(self, line: int, column: int, what: str) -> None:
        super().__init__(f"line {line}, column {column}: {what}")


class Token(NamedTuple):
    column: int
    text: str


@dataclass
class Measure:
    """One bar of a system: tokens of the line of values and of each string, columns from the bar's
    own start.
    """

    line: int
    column: int
    values: list[Token]
    strings: list[list[Token]]
    slack: list[int]
    times: int = 0
    ending: int = 0
    opens: bool = False
    closes: bool = False
    pickup: bool = False
    meter: Meter | None = None


@dataclass
class ReadBar:
    """A bar with the tie that leads into it still open."""

    bar: PageBar
    measure: Measure


def unfolded(bars: list[ReadBar]) -> list[PageBar]:
    """The bars in playing order."""
    out: list[PageBar] = []
    # What is repeated begins at its sign, or behind the repeat before it.
    at = behind = 0
    while at < len(bars):
        opens = bars[at].measure.opens
        end = _closing(bars, at) if opens or at == behind else None
        if not opens and end is None:
            out.append(bars[at].bar)
            behind += at == behind and bars[at].bar.pickup
            at += 1
            continue
        if end is None:
            raise TabError(
                bars[at].measure.line + 1, bars[at].measure.column, "a repeat begins here that ends nowhere."
            )
        at, played = _repeated(bars, at, end)
        behind = at
        out += played
    return out


def _closing(bars: list[ReadBar], at: int) -> int | None:
    """The bar that closes the repeat which begins at ``at``, by its sign or without one."""
    for row in range(at, len(bars)):
        if row > at and bars[row].measure.opens:
            break
        if bars[row].measure.closes:
            return row
    return None


def _repeated(bars: list[ReadBar], at: int, end: int) -> tuple[int, list[PageBar]]:
    """(where it goes on, the bars as played) of the repeat from ``at`` to ``end``."""
    first = next((row for row in range(at, end + 1) if bars[row].measure.ending == 1), None)
    body = [one.bar for one in bars[at : end + 1]]
    if first is None:
        return end + 1, body * max(bars[at].measure.times, 2)
    if end + 1 >= len(bars) or bars[end + 1].measure.ending != 2:
        raise TabError(
            bars[end].measure.line + 1, bars[end].measure.column, "a first ending has no second one behind it."
        )
    size = end + 1 - first
    second = [one.bar for one in bars[end + 1 : end + 1 + size]]
    return end + 1 + size, [*body, *body[: first - at], *second]


def numbered(bars: list[PageBar]) -> tuple[PageBar, ...]:
    """The bars by their numbers."""
    number = 0 if bars and bars[0].pickup else 1
    return tuple(replace(bar, number=number + place) for place, bar in enumerate(bars))
