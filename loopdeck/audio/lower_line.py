"""The line under late observations: offset and rate of a counter whose readings come late, never
early.

Task, sources and conventions are those of ``timebase``, of which this is points 1 and 3 of the
method: the lower edge of what was observed, what is thrown out, and what is a step.
"""

from collections import deque
from itertools import pairwise
from math import log
from statistics import median
from typing import NamedTuple

BLOCK_SEC = 0.25
WINDOW_SEC = 60.0
#: A rate is read from the hull when the kept observations span this much; where one is known
#: already (after a step), this much more.
FIRST_RATE_SEC, NEXT_RATE_SEC = 6.0, 30.0
#: While no rate can be read, the offset is the least of so many seconds: 200 ppm make 0.4 ms over
#: the first.
FIRST_OFFSET_SEC, NEXT_OFFSET_SEC = 2.0, 30.0
#: No sound card is further off its nominal rate than this (common practice, no source; crystals are
#: specified within 100 ppm).
MAX_RATE_ERROR = 1e-3
#: What is a step: at least so many seconds off, so improbable, and lasting for STEP_BLOCKS (for one
#: block from LARGE_STEP_SEC on).
STEP_SEC, CHANCE, STEP_BLOCKS, LARGE_STEP_SEC = 0.001, 25.0, 4, 0.05
#: An observation this much below the line may be thrown out: callbacks are not early.
EARLY_SEC = 0.0002


class Point(NamedTuple):
    """An observation: nominal seconds since the first one, and how much later than nominal it
    came.
    """

    x: float
    late: float


class LowerLine:
    """late = offset + slope * x, under the least late observation of each block."""

    def __init__(self) -> None:
        #: Seconds between two callbacks.
        self.buffer_sec = 0.0
        self.slope = 0.0
        self._offset = 0.0
        self._points: deque[Point] = deque()
        # The slope is known once a window was long enough.
        self._rate_known = False
        self._rate_after = FIRST_RATE_SEC
        self._below: list[Point] = []

    def at(self, x: float) -> float:
        """How late the line says a callback at ``x`` is."""
        return self._offset + self.slope * x

    def beyond(self, point: Point) -> float:
        """How far above the line an observation lies."""
        return point.late - self.at(point.x)

    def take(self, point: Point) -> bool:
        """Take a block's least late callback in, and lay the line anew; True when the counter stood
        still before it.
        """
        if self._far_below(point):
            # One alone is thrown out; STEP_BLOCKS in a row mean that the server asks further ahead
            # now.
            self._below.append(point)
            if len(self._below) >= STEP_BLOCKS:
                self._restart(self._below)
            return False
        self._below = []
        self._points.append(point)
        while self._points[0].x < point.x - WINDOW_SEC:
            self._points.popleft()
        stalled = self._stalled()
        if stalled:
            self._restart(list(self._points)[-stalled:])
        elif point.x - self._points[0].x >= self._rate_after:
            self._lay()
        else:
            since = point.x - (NEXT_OFFSET_SEC if self._rate_known else FIRST_OFFSET_SEC)
            self._offset = min(one.late - self.slope * one.x for one in self._points if one.x >= since)
        return bool(stalled)

    def _over(self) -> list[float]:
        """How far above the line the kept observations lie."""
        return [self.beyond(one) for one in self._points]

    def _stalled(self) -> int:
        """How many of the newest blocks came after a counter that stood still; 0 for none."""
        newest = self._points[-1]
        if self.beyond(newest) < STEP_SEC:
            return 0
        over, least = self._over(), float("inf")
        chance = CHANCE * self._scatter(over)
        found, most, best = False, 0.0, 0
        for blocks, late in enumerate(reversed(over), 1):
            least = min(least, late)
            if least < STEP_SEC:
                break
            found |= blocks * least > chance and (blocks >= STEP_BLOCKS or least >= LARGE_STEP_SEC)
            # The most improbable run is the one after the step; a longer one would take in what was
            # late before it.
            if blocks * least > most:
                most, best = blocks * least, blocks
        return best if found else 0

    def _scatter(self, over: list[float]) -> float:
        """The mean lateness of a block's least late callback, by the median (of an exponential it
        is ln 2 of the mean).

        Before there are many, that of callbacks uniformly late by up to a buffer.
        """
        guess = self.buffer_sec / max(BLOCK_SEC / self.buffer_sec, 1.0)
        return (8 * guess + len(over) * median(over) / log(2)) / (8 + len(over))

    def _restart(self, points: list[Point]) -> None:
        """A new line at the old rate, under ``points``."""
        self._points, self._below = deque(points), []
        self._rate_after = NEXT_RATE_SEC if self._rate_known else FIRST_RATE_SEC
        self._offset = min(point.late - self.slope * point.x for point in points)

    def _far_below(self, point: Point) -> bool:
        """Whether it came earlier than the spread of the kept ones explains; only asked when there
        are enough to know.

        Exponential scatter ends 1.44 median deviations below its median.
        """
        beyond = self.beyond(point)
        if beyond > -EARLY_SEC or len(self._points) < 16 or not self._rate_known:
            return False
        over = self._over()
        middle = median(over)
        spread = median(abs(one - middle) for one in over)
        return beyond < middle - 2.0 * spread - EARLY_SEC

    def _lay(self) -> None:
        hull: list[Point] = []
        for point in self._points:
            while len(hull) > 1 and _turns_down(hull[-2], hull[-1], point):
                hull.pop()
            hull.append(point)
        middle = sum(point.x for point in self._points) / len(self._points)
        for left, right in pairwise(hull):
            if right.x >= middle:
                slope = (right.late - left.late) / (right.x - left.x)
                self.slope = min(max(slope, -MAX_RATE_ERROR), MAX_RATE_ERROR)
                break
        self._offset = min(point.late - self.slope * point.x for point in self._points)
        self._rate_known = True


def _turns_down(a: Point, b: Point, c: Point) -> bool:
    """Whether b lies on or above the line from a to c, so that it is not a corner of the lower
    hull.
    """
    return (b.late - a.late) * (c.x - a.x) >= (c.late - a.late) * (b.x - a.x)
