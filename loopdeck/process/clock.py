"""Where the time comes from.

Conventions
    Seconds on one axis that never goes backwards. Everything in ``live`` asks a ``Clock`` and
    nothing else, so that a sound device's sample clock can take the lead by being one. ``now`` may
    be called from any thread and must be cheap.
"""

import time
from typing import Protocol


class Clock(Protocol):
    """A source of time."""

    def now(self) -> float:
        """The time, in seconds."""
        ...

    def left(self, until_sec: float) -> float:
        """Seconds of the system's clock until ``until_sec``; negative when it is past."""
        ...


class PerfClock:
    """``time.perf_counter``: monotonic, and the same for all processes of a machine."""

    def now(self) -> float:
        """The time, in seconds."""
        return time.perf_counter()

    def left(self, until_sec: float) -> float:
        """Seconds until ``until_sec``; negative when it is past."""
        return until_sec - time.perf_counter()


class SimClock:
    """A clock that moves only when told to: for the demo, for tests, for replay."""

    def __init__(self, start_sec: float = 0.0) -> None:
        self._now = start_sec

    def now(self) -> float:
        """The time, in seconds."""
        return self._now

    def left(self, until_sec: float) -> float:
        """Nothing need be waited for: the clock is moved instead."""
        return 0.0

    def move_to(self, sec: float) -> None:
        """Let it be ``sec``; never backwards."""
        self._now = max(self._now, sec)
