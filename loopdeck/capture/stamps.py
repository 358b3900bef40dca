"""When was it played? The arrival time of a message, smoothed by the driver's own delta times,
which are not trusted far.

Task
    The driver hands over each message with the time since the one before, taken near the hardware;
    we see it some jitter later, when the interpreter gets to run. The sum of the deltas is a second
    clock that runs beside ours. A message cannot arrive before it was played, so the smallest
    distance seen between the two clocks is the one with the least jitter in it: the stamp is the
    driver's clock plus that distance. (The minimum filter of clock synchronisation, as in NTP, RFC
    5905 section 10.)

Conventions
    Seconds; arrivals are ``time.perf_counter`` and do not go backwards. One Stamper a port, a new
    one each time it is opened. A stamp is never after the arrival, never more than
    ``max_early_sec`` before it, and never before the stamp of the message before.

What deltas do wrong, and what is done about it
    - The first one after opening is 0: it says nothing, so the first stamp is the arrival.
    - They drift: the distance may grow by ``DRIFT`` of the time that passes, and shrink by any
      amount.
    - Some systems give all messages of a packet the same delta: a delta that repeats while hardly
      any time passed counts as 0, if that agrees better with what was seen before.
    - Some are nonsense, or missing, or jump: negative ones, infinities and None are replaced by
      what arrived; when the two clocks disagree by more than ``LOST_SEC``, or for longer than
      ``DOUBT_SEC``, the distance is taken afresh.
"""

from math import isfinite

#: The most two crystals are believed to differ (common practice, no source: 100 ppm each).
DRIFT = 200e-6
#: A message later than this against the driver's clock is a jump of that clock rather than our own
#: lateness.
LOST_SEC = 0.25
#: For so long every message may be later than ``max_early_sec`` before the driver's clock is
#: doubted.
DOUBT_SEC = 0.25


class Stamper:
    """Stamps for the messages of one port."""

    def __init__(self, max_early_sec: float = 0.004) -> None:
        self._max_early_sec = max_early_sec
        self._driver_sec = 0.0
        self._distance_sec: float | None = None
        self._arrived_sec = 0.0
        self._stamp_sec = 0.0
        self._delta_sec: float | None = None
        self._late_since_sec: float | None = None
        self._late_least_sec = 0.0

    def stamp(self, arrived_sec: float, delta_sec: float | None) -> float:
        """When a message that arrived at ``arrived_sec`` was played; ``delta_sec`` is the driver's
        time since the one before, or None.
        """
        if self._distance_sec is None:
            self._distance_sec = arrived_sec
            self._arrived_sec = self._stamp_sec = arrived_sec
            return arrived_sec
        arrived_sec = max(arrived_sec, self._arrived_sec)
        passed_sec = arrived_sec - self._arrived_sec
        self._arrived_sec = arrived_sec
        self._distance_sec += DRIFT * passed_sec
        if delta_sec is None or not isfinite(delta_sec) or delta_sec < 0.0:
            self._driver_sec = arrived_sec - self._distance_sec
            self._delta_sec = None
            played_sec = arrived_sec
        else:
            played_sec = arrived_sec - self._lateness(arrived_sec, delta_sec)
        self._stamp_sec = min(max(played_sec, arrived_sec - self._max_early_sec, self._stamp_sec), arrived_sec)
        return self._stamp_sec

    def _lateness(self, arrived_sec: float, delta_sec: float) -> float:
        """How late the message arrived, by the driver's clock; moves that clock on, and the
        distance where need be.
        """
        assert self._distance_sec is not None
        late_sec = arrived_sec - (self._driver_sec + delta_sec) - self._distance_sec
        if delta_sec == self._delta_sec and abs(late_sec + delta_sec) < abs(late_sec):
            late_sec += delta_sec
        else:
            self._driver_sec += delta_sec
            self._delta_sec = delta_sec
        if late_sec > self._max_early_sec:
            if self._late_since_sec is None:
                self._late_since_sec, self._late_least_sec = arrived_sec, late_sec
            self._late_least_sec = min(self._late_least_sec, late_sec)
            if late_sec > LOST_SEC:
                self._late_least_sec = late_sec
            elif arrived_sec - self._late_since_sec <= DOUBT_SEC:
                return late_sec
            self._distance_sec += self._late_least_sec
            late_sec -= self._late_least_sec
        elif late_sec < 0.0:
            self._distance_sec += late_sec
            late_sec = 0.0
        self._late_since_sec = None
        return late_sec
