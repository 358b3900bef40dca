"""Two clocks, one time: which moment of ``time.perf_counter`` each sample of the audio device
belongs to.

Task
    The device asks for a buffer of frames; the callback reads the frame counter and
    ``perf_counter``. The counter is exact but runs at the device's own rate (some 100 ppm beside
    the nominal one); the moments come late by whatever the scheduler and the sound server did, up
    to a buffer and more. From these pairs comes a map that is smooth, never runs backwards, and
    along whose whole length the click heard and the grid that judges the player agree.

Conventions
    ``sample`` counts frames handed to the device since the clock was made and only grows; who
    reopens a device counts on. Seconds are perf_counter's. The map gives the moment a sample's
    callback would have come had nothing been late; the constant way from there to the ear is
    latency, and measured elsewhere.

Method
    1. Callbacks are late, never early, so the truth is the lower envelope of the observations, not their mean (a mean would lie half
       a buffer late under the jitter of a buffer). Every BLOCK_SEC the least late observation is
       kept. Under the kept ones of the last WINDOW_SEC a straight line is laid, offset and rate:
       the edge of the lower convex hull that crosses the middle of the window. That is the line
       below all points with the least sum of distances: Moon, Skelly & Towsley, "Estimation and
       removal of clock skew from network delay measurements", IEEE INFOCOM 1999. A lone early
       observation is thrown out against the median of the kept ones.
    2. The map follows that line as a delay-locked loop does, a segment a block, each correcting a share of the distance and carrying
       the rate on (F. Adriaensen, "Using a DLL to filter time", Linux Audio Conference 2005, does
       it buffer by buffer and to the mean). Correction is at most SLEW of the time that passes.
       Segments join end to end, so what is behind the last callback never moves again: buffers
       rendered from [sec_of(a), sec_of(b)) and then [sec_of(b), sec_of(c)) leave nothing out and
       nothing twice.
    3. When callbacks stay late for longer than their usual scatter explains, the counter stood still: an underrun or a suspended machine.
       The scatter of the kept observations is taken as exponential with the mean m they show, so n
       in a row above d happen by chance with exp(-n d / m); at exp(-CHANCE) it is a step. The line
       starts anew from there with the rate it had, and the map steps forward at once, as the sound
       did. ``sample_of`` any moment inside such a step is the sample where it happened. When
       observations come early for a while (a server that now asks further ahead), the line starts
       anew as well, but the map only slews: time must not run backwards.

Settling, as ``tests/unit/test_timebase.py`` measures it: with 128 to 1024 frames at 48 kHz,
callbacks uniformly late by up to a buffer and a device 200 ppm off, the error is below 1 ms from 3
s after the first callback on, and below 0.25 ms from 60 s on. After a stall of 5 ms or more it is
so again within 4 s; a shorter one that hides in the jitter of 1024 frames is found within 12 s.
"""

from bisect import bisect_right
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
#: The most the map is corrected, as a share of the time that passes: 1 %, a tempo change below what
#: is noticed (Friberg & Sundberg, JASA 98, 1995: 2.5 % of an interval); five times that while the
#: clock is SETTLING_SEC young.
SLEW = 0.01
SETTLING_SEC = 3.0
#: The share of the distance that one segment corrects.
GAIN = 0.4
#: What is a step: at least so many seconds off, so improbable, and lasting for STEP_BLOCKS (for one
#: block from LARGE_STEP_SEC on).
STEP_SEC, CHANCE, STEP_BLOCKS, LARGE_STEP_SEC = 0.001, 25.0, 4, 0.05
#: An observation this much below the line may be thrown out: callbacks are not early.
EARLY_SEC = 0.0002
#: Segments kept for looking back: about two minutes.
KEPT_SEGMENTS = 512


class _Segment(NamedTuple):
    """From ``sample`` on: ``sec`` plus ``period`` seconds a sample."""

    sample: float
    sec: float
    period: float


class _Point(NamedTuple):
    """A callback: nominal seconds since the first one, and how much later than nominal it came."""

    x: float
    late: float


class SampleClock:
    """Device samples to perf_counter seconds and back. Not thread safe: the callback's thread feeds
    it, and others read under its lock.

    ``rate``: the nominal rate in frames a second.
    """

    def __init__(self, rate: float) -> None:
        if not rate > 0:
            raise ValueError("the sample rate must be above zero")
        self.rate = float(rate)
        #: Times the map stepped forward, and seconds stepped in all: what to say of underruns.
        self.steps, self.stepped_sec = 0, 0.0
        self._segments: list[_Segment] = []
        self._points: deque[_Point] = deque()
        self._block: _Point | None = None
        self._block_start = 0.0
        self._first_sample, self._first_sec = 0, 0.0
        self._last_sample, self._last_sec = -1, float("-inf")
        self._buffer_sec = 0.0
        # The line: late = offset + slope * x. slope is known once a window was long enough.
        self._offset, self._slope, self._rate_known = 0.0, 0.0, False
        self._rate_after = FIRST_RATE_SEC
        self._below: list[_Point] = []

    # ---- reading --------------------------------------------------------------------------------------------------------------

    @property
    def running(self) -> bool:
        """Whether a callback has come yet; before, there is nothing to map."""
        return bool(self._segments)

    @property
    def rate_error(self) -> float:
        """How much faster than nominal the device runs, as a share (0.0002 is 200 ppm); 0.0 until
        it is known.
        """
        return 1.0 / (1.0 + self._slope) - 1.0

    def sec_of(self, sample: float) -> float:
        """The moment of a sample.

        Rising in ``sample``; what lies before the last callback is never changed. Raises ValueError
        before the first.
        """
        segment = self._segment(sample)
        return segment.sec + (sample - segment.sample) * segment.period

    def sample_of(self, sec: float) -> float:
        """The sample, with fraction, that is heard at a moment; never falling in ``sec``. Raises
        ValueError before the first callback.
        """
        if not self._segments:
            raise ValueError("no callback has come yet")
        index = max(bisect_right(self._segments, sec, key=lambda one: one.sec) - 1, 0)
        segment = self._segments[index]
        sample = segment.sample + (sec - segment.sec) / segment.period
        # Inside a step forward every moment is the sample of the step.
        return sample if index + 1 == len(self._segments) else min(sample, self._segments[index + 1].sample)

    def _segment(self, sample: float) -> _Segment:
        if not self._segments:
            raise ValueError("no callback has come yet")
        return self._segments[max(bisect_right(self._segments, sample, key=lambda one: one.sample) - 1, 0)]

    # ---- feeding --------------------------------------------------------------------------------------------------------------

    def callback(self, sample: int, host_sec: float) -> None:
        """The device asked for the buffer that begins with ``sample``, at ``host_sec``.

        An observation out of order is passed over.
        """
        if sample <= self._last_sample or host_sec < self._last_sec:
            return
        if self._segments:
            self._buffer_sec = (sample - self._last_sample) / self.rate
        self._last_sample, self._last_sec = sample, host_sec
        if not self._segments:
            self._first_sample, self._first_sec = sample, host_sec
            self._segments.append(_Segment(sample, host_sec, 1.0 / self.rate))
        x = (sample - self._first_sample) / self.rate
        point = _Point(x, host_sec - self._first_sec - x)
        beyond = point.late - self._line(x)
        if self._block is None or beyond < self._block.late - self._line(self._block.x):
            self._block = point
        if x - self._block_start >= BLOCK_SEC:
            self._block_start = x
            self._close_block()
            self._turn(sample)

    def _line(self, x: float) -> float:
        return self._offset + self._slope * x

    def _close_block(self) -> None:
        """Take the block's least late callback in, and lay the line anew."""
        if self._block is None:
            return
        point, self._block = self._block, None
        if self._far_below(point):
            # One alone is thrown out; STEP_BLOCKS in a row mean that the server asks further ahead
            # now.
            self._below.append(point)
            if len(self._below) >= STEP_BLOCKS:
                self._restart(self._below)
            return
        self._below = []
        self._points.append(point)
        while self._points[0].x < point.x - WINDOW_SEC:
            self._points.popleft()
        stalled = self._stalled()
        if stalled:
            self._restart(list(self._points)[-stalled:])
            self._step_forward()
        elif point.x - self._points[0].x >= self._rate_after:
            self._lay_line()
        else:
            since = point.x - (NEXT_OFFSET_SEC if self._rate_known else FIRST_OFFSET_SEC)
            self._offset = min(one.late - self._slope * one.x for one in self._points if one.x >= since)

    def _over(self) -> list[float]:
        """How far above the line the kept observations lie."""
        return [one.late - self._line(one.x) for one in self._points]

    def _stalled(self) -> int:
        """How many of the newest blocks came after a counter that stood still; 0 for none."""
        newest = self._points[-1]
        if newest.late - self._line(newest.x) < STEP_SEC:
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
        guess = self._buffer_sec / max(BLOCK_SEC / self._buffer_sec, 1.0)
        return (8 * guess + len(over) * median(over) / log(2)) / (8 + len(over))

    def _restart(self, points: list[_Point]) -> None:
        """A new line at the old rate, under ``points``."""
        self._points, self._below = deque(points), []
        self._rate_after = NEXT_RATE_SEC if self._rate_known else FIRST_RATE_SEC
        self._offset = min(point.late - self._slope * point.x for point in points)

    def _far_below(self, point: _Point) -> bool:
        """Whether it came earlier than the spread of the kept ones explains; only asked when there
        are enough to know.

        Exponential scatter ends 1.44 median deviations below its median.
        """
        beyond = point.late - self._line(point.x)
        if beyond > -EARLY_SEC or len(self._points) < 16 or not self._rate_known:
            return False
        over = self._over()
        middle = median(over)
        spread = median(abs(one - middle) for one in over)
        return beyond < middle - 2.0 * spread - EARLY_SEC

    def _lay_line(self) -> None:
        hull: list[_Point] = []
        for point in self._points:
            while len(hull) > 1 and _turns_down(hull[-2], hull[-1], point):
                hull.pop()
            hull.append(point)
        middle = sum(point.x for point in self._points) / len(self._points)
        for left, right in pairwise(hull):
            if right.x >= middle:
                slope = (right.late - left.late) / (right.x - left.x)
                self._slope = min(max(slope, -MAX_RATE_ERROR), MAX_RATE_ERROR)
                break
        self._offset = min(point.late - self._slope * point.x for point in self._points)
        self._rate_known = True

    # ---- the map --------------------------------------------------------------------------------------------------------------

    def _period(self) -> float:
        return (1.0 + self._slope) / self.rate

    def _target(self, sample: float) -> float:
        x = (sample - self._first_sample) / self.rate
        return self._first_sec + x + self._line(x)

    def _step_forward(self) -> None:
        sample = self._last_sample
        here, there = self.sec_of(sample), self._target(sample)
        if there > here:
            self.steps, self.stepped_sec = self.steps + 1, self.stepped_sec + there - here
            self._append(_Segment(sample, there, self._period()))

    def _turn(self, sample: int) -> None:
        """A new segment from here, towards the line."""
        here = self.sec_of(sample)
        slew = SLEW * (5.0 if sample - self._first_sample < SETTLING_SEC * self.rate else 1.0)
        share = GAIN * (self._target(sample) - here) / BLOCK_SEC
        self._append(_Segment(sample, here, self._period() * (1.0 + min(max(share, -slew), slew))))

    def _append(self, segment: _Segment) -> None:
        self._segments.append(segment)
        if len(self._segments) > 2 * KEPT_SEGMENTS:
            del self._segments[:KEPT_SEGMENTS]


def _turns_down(a: _Point, b: _Point, c: _Point) -> bool:
    """Whether b lies on or above the line from a to c, so that it is no corner of the lower hull."""
    return (b.late - a.late) * (c.x - a.x) >= (c.late - a.late) * (b.x - a.x)
