"""What falls due by itself while an engine plays, beside the looper's own: each duty is a timer,
and the engine has a list of them.
"""

from collections.abc import Callable, Iterable
from math import inf
from typing import Protocol

from loopdeck.looper.state import STOPPED
from loopdeck.session.clock_sync import ClockCommand, ClockIn
from loopdeck.session.session import Session

#: Others connect to our own outputs when they can: until then, keep sending all-notes-off, as long
#: as nothing plays.
SILENCE_FOR_SEC, SILENCE_EVERY_SEC = 4.0, 0.5


class Timer(Protocol):
    """A duty that falls due by itself. Seconds on the session's clock."""

    def next_due(self) -> float | None:
        """When ``run`` has something to do; None while nothing is waited for."""
        ...

    def run(self, now: float) -> None:
        """Do what is due; harmless when nothing is."""
        ...


def earliest(timers: Iterable[Timer]) -> float | None:
    """When the first of them is due."""
    first = None
    for timer in timers:
        first = sooner(first, timer.next_due())
    return first


def sooner(one: float | None, other: float | None) -> float | None:
    """The earlier of two moments; None stands for never. (Asked some thousand times a second.)"""
    if one is None or other is None:
        return other if one is None else one
    return other if other < one else one


class SilenceAtStart:
    """Sends all-notes-off for a while from its first run on: whoever hangs on notes of an engine
    that died may connect later. Not from its making on, since the MIDI system may take seconds to
    open the ports in between.
    """

    def __init__(self, session: Session, silence: Callable[[], None]) -> None:
        self._session, self._silence = session, silence
        self._due: float | None = -inf
        self._until: float | None = None

    def next_due(self) -> float | None:
        """Every half second, until time runs or it has been long enough."""
        return self._due

    def run(self, now: float) -> None:
        """Send it."""
        if self._due is None or now < self._due:
            return
        if self._until is None:
            self._until = now + SILENCE_FOR_SEC
        if now > self._until or self._session.looper.state != STOPPED:
            self._due = None
            return
        self._due = now + SILENCE_EVERY_SEC
        self._silence()


class FollowTimer:
    """Stops time when the clock source has fallen silent."""

    def __init__(self, clock_in: ClockIn, lead: Callable[[list[ClockCommand], float], None]) -> None:
        self._clock_in, self._lead = clock_in, lead

    def next_due(self) -> float | None:
        """When the source is missed."""
        return self._clock_in.next_due()

    def run(self, now: float) -> None:
        """Stop when it has been silent for too long."""
        self._lead(self._clock_in.rest(now), now)
