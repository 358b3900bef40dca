"""MIDI clock in a session: sent along with everything else, or followed.

Conventions
    Positions are quarters from the start of the run (a start to a stop); seconds are the session's.
    Sending is a function of the looper's state, so it needs no thread: what is due is handed out
    with the looper's own messages. Following turns the source's messages into commands to the
    looper: ``start``, ``stop`` and ``follow``, which sets tempo and phase. Those are written into
    the journal like a foot's, so a session that followed a clock replays like any other. A source
    that continues in the middle of something is joined at its next start of our cycle.
"""

from fractions import Fraction
from math import ceil
from typing import NamedTuple

from loopdeck.looper.machine import Looper, Out
from loopdeck.looper.state import STOPPED
from loopdeck.midi.midi_clock import (
    CLOCK,
    CLOCKS_A_QUARTER,
    CONTINUE,
    PAUSE_CLOCKS,
    SONG_POSITION,
    START,
    STOP,
    ClockFollower,
    ClockSender,
    Sent,
)
from loopdeck.rhythm.tempo import FASTEST_QPM, SLOWEST_QPM

#: Below these nothing is corrected: a hundredth of a quarter a minute, and a twentieth of a
#: millisecond.
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


class ClockCommand(NamedTuple):
    """A command for the looper; ``at_sec`` is when it is to take effect, None: now."""

    name: str
    args: dict[str, float]
    at_sec: float | None = None


class ClockIn:
    """Makes a looper follow a clock source.

    ``ahead_sec``: how long before its moment the looper must know of a start (the output latency).
    """

    def __init__(self, looper: Looper, ahead_sec: float = 0.0) -> None:
        self._looper = looper
        self._ahead_sec = ahead_sec
        self.follower = ClockFollower()
        self._goal: Fraction | None = None
        self._ours = False
        self._since = 0
        self._last_sec = float("-inf")

    def feed(self, stamp_sec: float, data: bytes) -> list[ClockCommand]:
        """One message of the source; what the looper is to do because of it."""
        if data not in (CLOCK, START, CONTINUE, STOP) and data[:1] != bytes((SONG_POSITION,)):
            return []
        self.follower.feed(stamp_sec, data)
        if data == START:
            self._goal, self._ours = Fraction(0), False
            return [ClockCommand("stop", {})] if self._looper.state != STOPPED else []
        if data == CONTINUE:
            self._goal, self._ours = None, False
            return [ClockCommand("stop", {})] if self._looper.state != STOPPED else []
        if data == STOP:
            ours, self._ours = self._ours, False
            return [ClockCommand("stop", {})] if ours and self._looper.state != STOPPED else []
        return self._tick(stamp_sec) if data == CLOCK else []

    # ---- a source that falls silent --------------------------------------------------------------

    def next_due(self) -> float | None:
        """When ``rest`` has something to do, unless another clock comes before; None while we do
        not follow.
        """
        if not self._ours or self._looper.state == STOPPED or self.follower.qpm <= 0.0:
            return None
        return self._last_sec + PAUSE_CLOCKS * 60.0 / (CLOCKS_A_QUARTER * self.follower.qpm)

    def rest(self, now_sec: float) -> list[ClockCommand]:
        """A source that has sent no clock for a third of a quarter pauses: we stop, and join it
        again at a start of our cycle.
        """
        due = self.next_due()
        if due is None or now_sec < due:
            return []
        self._goal, self._ours = None, False
        return [ClockCommand("stop", {})]

    # ---- inside ----------------------------------------------------------------------------------

    def _tick(self, stamp_sec: float) -> list[ClockCommand]:
        follower, looper = self.follower, self._looper
        self._last_sec = stamp_sec
        if not follower.running:
            return []
        if not self._ours:
            return self._join(stamp_sec)
        if looper.state == STOPPED:
            return []
        self._since += 1
        every = _SOON_EVERY if self._since <= _SOON else CLOCKS_A_QUARTER
        return self._correction(stamp_sec) if self._since % every == 0 else []

    def _join(self, stamp_sec: float) -> list[ClockCommand]:
        """Start where the source starts, or where it comes to a start of our cycle; foreseen, if
        that is possible, so that the first click is in time.
        """
        follower = self.follower
        position, qpm = follower.position(stamp_sec), follower.qpm
        if self._goal is None:
            cycle_q = self._looper.brief.cycle.quarters
            # What is nearer than the output latency could not be reached in time.
            least = Fraction(position) + Fraction(self._ahead_sec * qpm / 60.0)
            self._goal = ceil(least / cycle_q - Fraction(1, 1000)) * cycle_q
        left_q = float(self._goal) - position
        if left_q > self._ahead_sec * qpm / 60.0 + 1.0 / CLOCKS_A_QUARTER:
            return []
        if self._ahead_sec == 0.0 and left_q > 0.5 / CLOCKS_A_QUARTER:
            return []
        at_sec = stamp_sec + left_q * 60.0 / qpm if left_q > 0.0 and qpm > 0.0 and self._ahead_sec else None
        self._ours, self._since = True, 0
        tempo = [ClockCommand("follow", {"qpm": qpm})] if SLOWEST_QPM <= qpm <= FASTEST_QPM else []
        return [*tempo, ClockCommand("start-now", {}, at_sec)]

    def _correction(self, stamp_sec: float) -> list[ClockCommand]:
        follower, looper = self.follower, self._looper
        qpm = follower.qpm
        if not SLOWEST_QPM <= qpm <= FASTEST_QPM or not looper.transport.anchors:
            return []
        # Both lines at the moment of this clock: the source's is known up to there only, and ours
        # is the newest one carried back, which holds what was corrected beyond it already.
        ours = looper.transport.anchors[-1]
        ours_q = ours.quarter_at(stamp_sec) - float(looper.run_start_q)
        off_q = ours_q - (follower.position(stamp_sec) - float(self._goal or 0))
        if abs(off_q) > _LOST_Q:
            self._goal, self._ours = None, False
            return [ClockCommand("stop", {})]
        # What the tempo changes between this clock and the moment of the change is part of the way.
        off_q += (looper.now_sec - stamp_sec) * (ours.qpm - qpm) / 60.0
        shift_ms = off_q * 60_000.0 / qpm
        if abs(qpm - ours.qpm) < _LEAST_QPM and abs(shift_ms) < _LEAST_MS:
            return []
        return [ClockCommand("follow", {"qpm": qpm, "ms": shift_ms})]
