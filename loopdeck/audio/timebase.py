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
    callback would have come had nothing been late; the constant time from there to the
    sound is the output latency, which is measured elsewhere.

Method
    1. Callbacks are late, never early, so the truth is the lower envelope of the observations, not
       their mean (a mean would lie half a buffer late under the jitter of a buffer). Every
       BLOCK_SEC the least late observation is kept. Under the kept ones of the last WINDOW_SEC a
       straight line is laid, offset and rate: the edge of the lower convex hull that crosses the
       middle of the window. That is the line below all points with the least sum of distances:
       Moon, Skelly & Towsley, "Estimation and removal of clock skew from network delay
       measurements", IEEE INFOCOM 1999. A lone early observation is thrown out against the median
       of the kept ones.
    2. The map follows that line as a delay-locked loop does, a segment a block, each correcting a
       share of the distance and carrying the rate on (F. Adriaensen, "Using a DLL to filter time",
       Linux Audio Conference 2005, does it buffer by buffer and to the mean). Correction is at most
       SLEW of the time that passes. Segments join end to end, so what is behind the last callback
       never moves again: buffers rendered from [sec_of(a), sec_of(b)) and then [sec_of(b),
       sec_of(c)) leave nothing out and nothing twice.
    3. When callbacks stay late for longer than their usual scatter explains, the counter stood
       still: an underrun or a suspended machine. The scatter of the kept observations is taken as
       exponential with the mean m they show, so n in a row above d happen by chance with exp(-n d /
       m); at exp(-CHANCE) it is a step. The line starts anew from there with the rate it had, and
       the map steps forward at once, as the sound did. ``sample_of`` any moment inside such a step
       is the sample where it happened. When observations come early for a while (a server that now
       asks further ahead), the line starts anew as well, but the map only slews: time must not run
       backwards.

Settling, as ``tests/unit/test_timebase.py`` measures it: with 128 to 1024 frames at 48 kHz,
callbacks uniformly late by up to a buffer and a device 200 ppm off, the error is below 1 ms from 3
s after the first callback on, and below 0.25 ms from 60 s on. After a stall of 5 ms or more it is
so again within 4 s; a shorter one that hides in the jitter of 1024 frames is found within 12 s.
"""

from bisect import bisect_right
from typing import NamedTuple

from loopdeck.audio.lower_line import BLOCK_SEC, LowerLine, Point

#: The most the map is corrected, as a share of the time that passes: 1 %, a tempo change below what
#: is noticed (Friberg & Sundberg, JASA 98, 1995: 2.5 % of an interval); five times that while the
#: clock is SETTLING_SEC young.
SLEW = 0.01
SETTLING_SEC = 3.0
#: The share of the distance that one segment corrects.
GAIN = 0.4
#: Segments kept for looking back: about two minutes.
KEPT_SEGMENTS = 512


class _Segment(NamedTuple):
    """From ``sample`` on: ``sec`` plus ``period`` seconds a sample."""

    sample: float
    sec: float
    period: float


class _SegmentMap:
    """Samples to seconds and back, by segments that follow one another."""

    def __init__(self) -> None:
        self._segments: list[_Segment] = []

    def __bool__(self) -> bool:
        return bool(self._segments)

    def append(self, segment: _Segment) -> None:
        """Go on from here along a new segment."""
        self._segments.append(segment)
        if len(self._segments) > 2 * KEPT_SEGMENTS:
            del self._segments[:KEPT_SEGMENTS]

    def sec_of(self, sample: float) -> float:
        """The moment of a sample."""
        if not self._segments:
            raise ValueError("no callback has come yet")
        segment = self._segments[max(bisect_right(self._segments, sample, key=lambda one: one.sample) - 1, 0)]
        return segment.sec + (sample - segment.sample) * segment.period

    def sample_of(self, sec: float) -> float:
        """The sample of a moment."""
        if not self._segments:
            raise ValueError("no callback has come yet")
        index = max(bisect_right(self._segments, sec, key=lambda one: one.sec) - 1, 0)
        segment = self._segments[index]
        sample = segment.sample + (sec - segment.sec) / segment.period
        # Inside a step forward every moment is the sample of the step.
        return sample if index + 1 == len(self._segments) else min(sample, self._segments[index + 1].sample)


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
        self._map = _SegmentMap()
        self._line = LowerLine()
        self._block: Point | None = None
        self._block_start = 0.0
        self._first_sample, self._first_sec = 0, 0.0
        self._last_sample, self._last_sec = -1, float("-inf")

    # ---- reading ---------------------------------------------------------------------------------

    @property
    def running(self) -> bool:
        """Whether a callback has come yet; before, there is nothing to map."""
        return bool(self._map)

    @property
    def rate_error(self) -> float:
        """How much faster than nominal the device runs, as a share (0.0002 is 200 ppm); 0.0 until
        it is known.
        """
        return 1.0 / (1.0 + self._line.slope) - 1.0

    def sec_of(self, sample: float) -> float:
        """The moment of a sample.

        Rising in ``sample``; what lies before the last callback is never changed. Raises ValueError
        before the first.
        """
        return self._map.sec_of(sample)

    def sample_of(self, sec: float) -> float:
        """The sample, with fraction, that is heard at a moment; never falling in ``sec``. Raises
        ValueError before the first callback.
        """
        return self._map.sample_of(sec)

    # ---- feeding ---------------------------------------------------------------------------------

    def callback(self, sample: int, host_sec: float) -> None:
        """The device asked for the buffer that begins with ``sample``, at ``host_sec``.

        An observation out of order is passed over.
        """
        if sample <= self._last_sample or host_sec < self._last_sec:
            return
        if self._map:
            self._line.buffer_sec = (sample - self._last_sample) / self.rate
        self._last_sample, self._last_sec = sample, host_sec
        if not self._map:
            self._first_sample, self._first_sec = sample, host_sec
            self._map.append(_Segment(sample, host_sec, 1.0 / self.rate))
        x = (sample - self._first_sample) / self.rate
        point = Point(x, host_sec - self._first_sec - x)
        if self._block is None or self._line.beyond(point) < self._line.beyond(self._block):
            self._block = point
        if x - self._block_start >= BLOCK_SEC:
            self._block_start = x
            if self._line.take(self._block):
                self._step_forward()
            self._block = None
            self._turn(sample)

    # ---- the map ---------------------------------------------------------------------------------

    def _period(self) -> float:
        return (1.0 + self._line.slope) / self.rate

    def _target(self, sample: float) -> float:
        x = (sample - self._first_sample) / self.rate
        return self._first_sec + x + self._line.at(x)

    def _step_forward(self) -> None:
        sample = self._last_sample
        here, there = self.sec_of(sample), self._target(sample)
        if there > here:
            self.steps, self.stepped_sec = self.steps + 1, self.stepped_sec + there - here
            self._map.append(_Segment(sample, there, self._period()))

    def _turn(self, sample: int) -> None:
        """A new segment from here, towards the line."""
        here = self.sec_of(sample)
        slew = SLEW * (5.0 if sample - self._first_sample < SETTLING_SEC * self.rate else 1.0)
        share = GAIN * (self._target(sample) - here) / BLOCK_SEC
        self._map.append(_Segment(sample, here, self._period() * (1.0 + min(max(share, -slew), slew))))
