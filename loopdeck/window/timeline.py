"""Where we are: from the engine's clock news and the time now to pass, bar, beat, and the page of
time that is shown.

Conventions: positions are quarters from the start of a pass, negative while counting in; times are
seconds on the common monotonic clock; passes count from 0, bars and beats (units of the meter) from
1 as musicians count. Pure.
"""

from bisect import bisect_right
from dataclasses import dataclass
from typing import NamedTuple

from loopdeck.protocol.messages import ClockChanged
from loopdeck.rhythm.anchor import Anchor
from loopdeck.rhythm.meter import Cycle, parse_cycle

# A page of time holds whole bars, up to this many quarters: with more, two sixteenths lie too close
# for a name in each.
PAGE_QUARTERS = 8.0
#: On a grid of thirty-seconds half as many.
FINE_GRID, FINE_PAGE_QUARTERS = "1/32", 4.0
#: A moment before a downbeat.
_MOMENT_Q = 1e-6
#: The state once the engine has been told goodbye; the other states are the looper's.
ENDED = "ENDED"


@dataclass(frozen=True)
class ClockReading:
    """The engine's last word on time. ``run_pass`` and ``first_bar``: the passes and bars of this
    run before the pass.
    """

    state: str = "STOPPED"
    next: str = ""
    pass_index: int = -1
    anchor_sec: float = 0.0
    anchor_q: float = 0.0
    qpm: float = 120.0
    pass_start_q: float = 0.0
    cycle: str = "4/4"
    cycle_q: float = 4.0
    running: bool = False
    run_pass: int = 0
    first_bar: int = 0

    @classmethod
    def of(cls, message: ClockChanged) -> "ClockReading":
        """From the engine's message."""
        return cls(
            state=message.state,
            next=message.coming,
            pass_index=message.pass_index,
            anchor_sec=message.anchor_sec,
            anchor_q=message.anchor_q,
            qpm=message.qpm,
            pass_start_q=message.pass_start_q,
            cycle=message.cycle,
            cycle_q=message.cycle_q,
            running=message.running,
            run_pass=message.run_pass,
            first_bar=message.first_bar,
        )

    def place(self, now_sec: float) -> "PassPosition":
        """Where we are at ``now_sec``. A pass that has ended without news of the next one is
        followed by the next one; before the downbeat of a pass the one before it still runs.
        """
        if not self.running:
            return PassPosition(self.pass_index, 0.0, False)
        at_q = Anchor(self.anchor_sec, self.anchor_q, self.qpm).quarter_at(now_sec) - self.pass_start_q
        if -self.cycle_q <= at_q < 0 and self.run_pass > 0:
            # The news of the next pass came a moment before its downbeat: the pass before still
            # runs.
            return PassPosition(self.pass_index - 1, at_q + self.cycle_q, True)
        if self.pass_index < 0:
            # The count-in has no pass of its own, and does not know which one follows: until that
            # is told it stays on its last count.
            return PassPosition(self.pass_index, min(at_q, -_MOMENT_Q), True)
        if at_q < 0 or self.cycle_q <= 0:
            return PassPosition(self.pass_index, at_q, True)
        further = int(at_q // self.cycle_q)
        return PassPosition(self.pass_index + further, at_q - further * self.cycle_q, True)


class PassPosition(NamedTuple):
    """A pass, and quarters since its start."""

    pass_index: int
    at_q: float
    running: bool


class LanePage(NamedTuple):
    """A stretch of the cycle shown from edge to edge, in quarters, and its bars (first, last,
    counted from 1).
    """

    start_q: float
    end_q: float
    first_bar: int
    last_bar: int


class BeatGroup(NamedTuple):
    """One group of the cycle: quarters, the count it begins with, its units, and whether it opens
    a bar.
    """

    start_q: float
    length_q: float
    label: str
    units: int
    opens_bar: bool
    bar: int
    """From 0."""


class CycleLayout:
    """A cycle prepared for drawing and counting; ``grid`` as a brief writes it decides how much of
    it fits on a page.
    """

    def __init__(self, text: str, grid: str = "") -> None:
        cycle: Cycle = parse_cycle(text)
        self.text, self.grid = text, grid
        self.quarters = float(cycle.quarters)
        self.bar_starts = [float(start) for start in cycle.bar_starts]
        self.bars = len(self.bar_starts)
        self._beat_starts = [float(click.position) for click in cycle.clicks]
        self._beats = [(click.bar, click.beat) for click in cycle.clicks]
        counts = {float(click.position): click.beat for click in cycle.clicks}
        self.first_bar_q = self.bar_starts[1] if self.bars > 1 else self.quarters
        self.groups = tuple(
            BeatGroup(
                float(start),
                float(length),
                str(counts.get(float(start), "")),
                max(1, round(float(length / unit))),
                float(start) in self.bar_starts,
                bisect_right(self.bar_starts, float(start)) - 1,
            )
            for start, length, unit in cycle.groups
        )
        self.pages = self._make_pages()

    def _make_pages(self) -> tuple[LanePage, ...]:
        ends = [*self.bar_starts[1:], self.quarters]
        most = FINE_PAGE_QUARTERS if self.grid == FINE_GRID else PAGE_QUARTERS
        pages: list[LanePage] = []
        for index, (start, end) in enumerate(zip(self.bar_starts, ends, strict=True)):
            if pages and end - pages[-1].start_q <= most:
                pages[-1] = LanePage(pages[-1].start_q, end, pages[-1].first_bar, index + 1)
            else:
                pages.append(LanePage(start, end, index + 1, index + 1))
        return tuple(pages)

    def page_at(self, at_q: float) -> LanePage:
        """The page that ``at_q`` lies on; the first one while counting in."""
        return next((page for page in self.pages if at_q < page.end_q), self.pages[-1] if at_q > 0 else self.pages[0])

    def count(self, at_q: float) -> tuple[int, int]:
        """(bar, beat) at ``at_q``, both from 1. While counting in the bar is 0 and the beat that
        of the first bar.
        """
        bar = 1
        if at_q < 0:
            bar, at_q = 0, at_q % self.first_bar_q
        index = max(0, bisect_right(self._beat_starts, at_q + 1e-9) - 1)
        found, beat = self._beats[index]
        return (found + 1 if bar else 0), beat

    def is_ending(self, at_q: float) -> bool:
        """Whether ``at_q`` lies in the last half beat, where a press means the pass that runs."""
        return at_q >= (self._beat_starts[-1] + self.quarters) / 2

    def beat_phase(self, at_q: float) -> float:
        """How far through its unit of the first bar ``at_q`` is while counting in, 0 to 1."""
        unit = self.groups[0].length_q / self.groups[0].units
        return (at_q % self.first_bar_q) % unit / unit

    def group_at(self, at_q: float) -> tuple[int, float]:
        """(index of the group, how far through it from 0 to 1) at ``at_q`` >= 0."""
        for index, group in enumerate(self.groups):
            if at_q < group.start_q + group.length_q:
                return index, max(0.0, (at_q - group.start_q) / group.length_q)
        return len(self.groups) - 1, 1.0
