"""MIDI clock in a session: sent along with everything else, or followed.

Conventions
    Positions are quarters from the start of the run (a start to a stop); seconds are the session's. Sending is a function of the looper's state, so
    it needs no thread: what is due is handed out with the looper's own messages. Following turns the source's messages into commands to the
    looper: ``start``, ``stop`` and ``follow``, which sets tempo and phase. Those are written into the journal like a foot's, so a session that
    followed a clock replays like any other.
    A source that continues in the middle of something is joined at its next start of our cycle.
"""

from fractions import Fraction
from math import ceil
from typing import NamedTuple

from loopdeck.live.midi_clock import (
    CLOCK,
    CLOCKS_A_QUARTER,
    CONTINUE,
    SONG_POSITION,
    START,
    STOP,
    ClockFollower,
    ClockSender,
    Sent,
)
from loopdeck.looper.machine import Looper, Out
from loopdeck.looper.table import STOPPED
from loopdeck.rhythm.tempo import FASTEST_QPM, SLOWEST_QPM

#: Below these nothing is corrected: a hundredth of a quarter a minute, and a twentieth of a millisecond.
_LEAST_QPM, _LEAST_MS = 0.01, 0.05
#: Corrected every sixteenth for the first two beats, then every beat.
_SOON, _SOON_EVERY = 48, 6
#: Further off than this is another place: stop, and join again.
_LOST_Q = 1.0


class ClockOut:
    """The clock that goes out with a looper's messages."""

    def __init__(self, looper: Looper) -> None:
        self._looper = looper
        self._sender = ClockSender(looper.brief.cycle.quarters)
        self._cycle_q = looper.brief.cycle.quarters
        self._origin_q = Fraction(0)
        self._running = False

    def take(self) -> list[Out]:
        """What the present state asks for, up to where the looper has got to."""
        looper = self._looper
        running = looper.state != STOPPED
        sent: list[Sent] = []
        if running and not self._running:
            self._origin_q = looper.pass_start_q
            self._cycle_q = looper.brief.cycle.quarters
            self._sender.set_cycle(self._cycle_q, Fraction(0))
            self._sender.run(looper.transport.anchors[-1].quarter - float(self._origin_q))
        elif self._running and not running:
            sent += self._sender.halt(looper.now_sec)
        self._running = running
        if running:
            if looper.brief.cycle.quarters != self._cycle_q:
                self._cycle_q = looper.brief.cycle.quarters
                self._sender.set_cycle(self._cycle_q, looper.pass_start_q - self._origin_q)
            sent += self._sender.due(looper.now_sec, self._sec_at)
        return [Out(one.time_sec, one.data, "clock") for one in sent]

    def next_due(self) -> float | None:
        """When the next message is due; None while time stands."""
        return self._sender.next_due(self._sec_at) if self._running else None

    def _sec_at(self, quarter: float) -> float:
        return self._looper.transport.sec_at(float(self._origin_q) + quarter)


class Order(NamedTuple):
    """A command for the looper."""

    name: str
    args: dict[str, float]


class ClockIn:
    """Follows another machine's clock with a looper."""

    def __init__(self, looper: Looper) -> None:
        self._looper = looper
        self.follower = ClockFollower()
        self._goal: Fraction | None = None
        self._ours = False
        self._since = 0

    def feed(self, stamp_sec: float, data: bytes) -> list[Order]:
        """One message of the source; what the looper is to do because of it."""
        if data not in (CLOCK, START, CONTINUE, STOP) and data[:1] != bytes((SONG_POSITION,)):
            return []
        self.follower.feed(stamp_sec, data)
        if data == START:
            self._goal, self._ours = Fraction(0), False
            return [Order("stop", {})] if self._looper.state != STOPPED else []
        if data == CONTINUE:
            self._goal, self._ours = None, False
            return [Order("stop", {})] if self._looper.state != STOPPED else []
        if data == STOP:
            ours, self._ours = self._ours, False
            return [Order("stop", {})] if ours and self._looper.state != STOPPED else []
        return self._tick(stamp_sec) if data == CLOCK else []

    def _tick(self, stamp_sec: float) -> list[Order]:
        follower, looper = self.follower, self._looper
        if not follower.running:
            return []
        position = follower.position(stamp_sec)
        if not self._ours:
            cycle_q = looper.brief.cycle.quarters
            if self._goal is None:
                self._goal = ceil(Fraction(position) / cycle_q - Fraction(1, 1000)) * cycle_q
            if position < float(self._goal) - 0.5 / CLOCKS_A_QUARTER:
                return []
            self._ours, self._since = True, 0
            return [*self._correction(tempo_only=True), Order("start-now", {})]
        if looper.state == STOPPED:
            return []
        self._since += 1
        every = _SOON_EVERY if self._since <= _SOON else CLOCKS_A_QUARTER
        return self._correction() if self._since % every == 0 else []

    def _correction(self, tempo_only: bool = False) -> list[Order]:
        follower, looper = self.follower, self._looper
        qpm = follower.qpm
        if not SLOWEST_QPM <= qpm <= FASTEST_QPM:
            return []
        if tempo_only:
            return [Order("follow", {"qpm": qpm})]
        at_sec = looper.now_sec
        ours_q = looper.transport.quarter_at(at_sec) - float(looper.run_start_q)
        off_q = ours_q - (follower.position(at_sec) - float(self._goal or 0))
        if abs(off_q) > _LOST_Q:
            self._goal, self._ours = None, False
            return [Order("stop", {})]
        shift_ms = off_q * 60_000.0 / qpm
        if abs(qpm - looper.transport.qpm) < _LEAST_QPM and abs(shift_ms) < _LEAST_MS:
            return []
        return [Order("follow", {"qpm": qpm, "ms": shift_ms})]
