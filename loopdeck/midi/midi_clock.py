"""MIDI clock: which messages another machine needs to run with us, and where we are when we follow
another one.

Conventions
    Seconds are perf_counter's, positions quarters from the start of pass 0, tempi quarters a
    minute. Messages are bytes of MIDI 1.0: F8 clock (24 a quarter), FA start, FB continue, FC stop,
    F2 song position (14 bits, least significant seven first, in sixteenths, which are six clocks).
    The first clock after start is position 0; the first one after continue is the song position. No
    clock, port or thread here: the sender says what to send when, the follower is told what came
    when.

Sender
    The time of clock k comes from the transport's map, so no error adds up. Clocks run through
    the count-in (a follower has the tempo before it must play); start falls at position 0. Start,
    continue and song positions go out half a clock before the clock they belong to, so that on a
    cable (960 us for three bytes) they do not push it back. A song position is sent for every cycle
    start that lies on a sixteenth (all but cycles that are odd in 1/32); beyond 16383 it counts on
    from a cycle start, since the message holds no more.

Follower
    A phase-locked loop of second order over the clocks, an alpha-beta filter with the gains of a
    least-squares line through the n clocks seen, n growing to MEMORY and then held: alpha =
    2(2n-1)/(n(n+1)), beta = 6/(n(n+1)) (E. Brookner, "Tracking and Kalman Filtering Made Easy",
    Wiley 1998, expanding-memory polynomial filter). So it locks fast and then rejects jitter. What
    does not fit, three clocks in a row beyond the jitter or a mean of the last RECENT ones beyond
    chance, is compared with two explanations: whole clocks lost or doubled (all off by the same
    number of periods: the line stands, the count is corrected) or another tempo (further off each
    time: the line is found anew, and every clock counts as one). A silence of PAUSE_CLOCKS and more
    is a pause: the next clock is the next position. Where jitter is a fifth of a period and more
    the two look alike in a few cases of a hundred; the next song position corrects the count.

    Measured in ``tests/unit/test_midi_clock.py`` at a steady tempo with the jitter of each clock
    independent, from the fourth beat on: uniform within 2 ms either way, p99 of the phase's error
    0.36 ms; gaussian with 2 ms of standard deviation, 0.59 ms.
"""

from collections import deque
from collections.abc import Callable
from fractions import Fraction
from math import ceil, lcm, sqrt
from typing import NamedTuple

CLOCK, START, CONTINUE, STOP = b"\xf8", b"\xfa", b"\xfb", b"\xfc"
SONG_POSITION = 0xF2
CLOCKS_A_QUARTER = 24
CLOCKS_A_SIXTEENTH = 6
SONG_POSITIONS = 1 << 14


class Sent(NamedTuple):
    """One message and the moment it is to be sent."""

    time_sec: float
    data: bytes


def song_position(sixteenths: int) -> bytes:
    """The song position message, 0 to 16383 sixteenths."""
    if not 0 <= sixteenths < SONG_POSITIONS:
        raise ValueError("a song position lies between 0 and 16383 sixteenths")
    return bytes((SONG_POSITION, sixteenths & 0x7F, sixteenths >> 7))


class ClockSender:
    """What to send, in order, while the transport runs.

    ``cycle_q``: the length of the cycle in quarters.
    """

    def __init__(self, cycle_q: Fraction) -> None:
        self.running = False
        self._cycle_clocks, self._cycle_start = 0, 0
        self.set_cycle(cycle_q, Fraction(0))
        #: The next clock, and the first one that the follower counts.
        self._clock, self._entry = 0, 0
        self._led, self._counting = False, False
        self._last_sec = float("-inf")

    def set_cycle(self, cycle_q: Fraction, start_q: Fraction) -> None:
        """From now on cycles of this length begin at ``start_q`` and every ``cycle_q`` after it."""
        clocks = cycle_q * CLOCKS_A_QUARTER
        if clocks <= 0 or clocks.denominator != 1:
            raise ValueError("a cycle is a whole number of clocks, as every meter is")
        self._cycle_clocks = int(clocks)
        self._cycle_start = ceil(start_q * CLOCKS_A_QUARTER)

    def run(self, quarter: Fraction | float) -> None:
        """The transport runs from this position: negative in a count-in, 0 from the start, anything
        else to continue there.
        """
        self.running, self._counting, self._led = True, False, False
        self._clock = ceil(quarter * CLOCKS_A_QUARTER)
        # Only whole sixteenths can be told; the clocks up to the next one give the tempo alone.
        self._entry = max(-(-self._clock // CLOCKS_A_SIXTEENTH) * CLOCKS_A_SIXTEENTH, 0)

    def halt(self, at_sec: float) -> tuple[Sent, ...]:
        """The transport stops; what is still to be said of it."""
        counting, self.running, self._counting = self._counting, False, False
        return (self._sent(at_sec, STOP),) if counting else ()

    def next_due(self, sec_at: Callable[[float], float]) -> float | None:
        """When the next message is due by the transport's map from quarters to seconds; None while
        it stands.
        """
        if not self.running:
            return None
        return self._lead_sec(sec_at) if self._lead() and not self._led else self._clock_sec(sec_at)

    def due(self, until_sec: float, sec_at: Callable[[float], float]) -> tuple[Sent, ...]:
        """All messages up to ``until_sec`` that were not handed out yet, in order, each once;
        ``sec_at`` is the transport's map.
        """
        out: list[Sent] = []
        while self.running:
            if not self._led:
                lead = self._lead()
                if lead:
                    at = self._lead_sec(sec_at)
                    if at > until_sec:
                        break
                    out += [self._sent(at, data) for data in lead]
                    self._counting |= self._clock == self._entry
                self._led = True
            at = self._clock_sec(sec_at)
            if at > until_sec:
                break
            out.append(self._sent(at, CLOCK))
            self._clock, self._led = self._clock + 1, False
        return tuple(out)

    def _lead(self) -> tuple[bytes, ...]:
        """What goes before the next clock."""
        clock = self._clock
        if clock == self._entry:
            return (START,) if clock == 0 else (song_position(self._sixteenths(clock)), CONTINUE)
        on_cycle = clock > self._entry and (clock - self._cycle_start) % self._cycle_clocks == 0
        if on_cycle and clock % CLOCKS_A_SIXTEENTH == 0:
            return (song_position(self._sixteenths(clock)),)
        return ()

    def _sixteenths(self, clock: int) -> int:
        sixteenths = clock // CLOCKS_A_SIXTEENTH
        if sixteenths < SONG_POSITIONS:
            return sixteenths
        # Beyond what the message holds, count from the cycle start that the most whole cycles lie
        # behind.
        span = lcm(self._cycle_clocks, CLOCKS_A_SIXTEENTH) // CLOCKS_A_SIXTEENTH
        return (
            ((clock - self._cycle_start) // CLOCKS_A_SIXTEENTH) % max(SONG_POSITIONS // span * span, 1) % SONG_POSITIONS
        )

    def _clock_sec(self, sec_at: Callable[[float], float]) -> float:
        return sec_at(self._clock / CLOCKS_A_QUARTER)

    def _lead_sec(self, sec_at: Callable[[float], float]) -> float:
        return max(sec_at((self._clock - 0.5) / CLOCKS_A_QUARTER), self._last_sec)

    def _sent(self, at_sec: float, data: bytes) -> Sent:
        # A tempo change between two clocks may ask for a moment that is behind the last one.
        self._last_sec = max(self._last_sec, at_sec)
        return Sent(self._last_sec, data)


#: Clocks the loop looks back over once locked: eight quarters.
MEMORY = 192
#: Locked after a beat of clocks that fit.
LOCKED_CLOCKS = 24
#: From so many clocks on the line is good enough to judge others by.
KNOWN_CLOCKS = 8
#: Clocks the test for a slow drift looks at, and how improbable (in standard deviations of their
#: mean) is too much.
RECENT, IMPROBABLE = 12, 4.5
#: How many clocks in a row beyond the jitter are looked into.
STRAYS = 3
#: A third of a quarter without a clock is a pause; the position stands after as much.
PAUSE_CLOCKS = 8
#: The least jitter reckoned with: a byte on the cable takes 320 us.
LEAST_JITTER_SEC = 0.00005
#: Slower than 5 quarters a minute there is no clock, nor faster than 1250.
LONGEST_PERIOD_SEC, SHORTEST_PERIOD_SEC = 0.5, 0.002


class ClockFollower:
    """Where another machine's clock is.

    Feed it messages in order of arrival; ask it for position and tempo at any moment.
    """

    def __init__(self) -> None:
        #: Between start or continue and stop.
        self.running = False
        # The line: song clock _song at _sec, one clock every _period (0.0 while unknown); n clocks
        # of weight.
        self._song, self._sec, self._period, self._weight = -1, 0.0, 0.0, 0
        self._last_sec = float("-inf")
        self._jitter = 0.001
        self._offs: deque[float] = deque(maxlen=RECENT)
        self._strays = 0
        self._awaited: int | None = None

    @property
    def qpm(self) -> float:
        """The tempo; 0.0 while unknown."""
        return 60.0 / (CLOCKS_A_QUARTER * self._period) if self._period > 0 else 0.0

    @property
    def locked(self) -> bool:
        """Whether a beat of clocks has fitted the line."""
        return self._weight >= LOCKED_CLOCKS

    @property
    def jitter_ms(self) -> float:
        """The source's jitter: the standard deviation of its clocks about the line."""
        return self._jitter * 1000

    def position(self, at_sec: float) -> float:
        """The position in quarters at a moment.

        It stands while stopped, before the first clock after start, and in a pause.
        """
        if self._awaited is not None:
            return self._awaited / CLOCKS_A_QUARTER
        if not self.running or self._period <= 0:
            return max(self._song, 0) / CLOCKS_A_QUARTER
        ahead = min((at_sec - self._sec) / self._period, float(PAUSE_CLOCKS))
        return (self._song + ahead) / CLOCKS_A_QUARTER

    def feed(self, time_sec: float, data: bytes) -> None:
        """One complete message and when it came.

        All but clock, start, continue, stop and song position are passed over.
        """
        if data == CLOCK:
            self._tick(time_sec)
        elif data == START:
            self.running, self._awaited = True, 0
        elif data == CONTINUE:
            self.running = True
            if self._awaited is None:
                self._awaited = self._song + 1
        elif data == STOP:
            self.running = False
        elif len(data) == 3 and data[0] == SONG_POSITION:
            self._told((data[1] | data[2] << 7) * CLOCKS_A_SIXTEENTH)

    def _told(self, clock: int) -> None:
        """The next clock's position.

        A source that sends it while running (as ours does) corrects a lost count by it.
        """
        if not self.running or clock != self._song + 1:
            self._awaited = clock

    # ---- the loop --------------------------------------------------------------------------------

    def _tick(self, sec: float) -> None:
        first = self._awaited is not None and self.running
        if first:
            self._song, self._awaited = self._awaited or 0, None
        elif self.running:
            self._song += 1
        silence, self._last_sec = sec - self._last_sec, sec
        if self._weight == 0 or (silence > LONGEST_PERIOD_SEC and self._weight < KNOWN_CLOCKS):
            self._sec, self._weight, self._period = sec, 1, 0.0
        elif self._weight >= KNOWN_CLOCKS and silence > PAUSE_CLOCKS * self._period:
            self._jump(sec)
        else:
            self._follow(sec, first)

    def _jump(self, sec: float) -> None:
        """The same tempo from another moment on."""
        self._sec, self._weight, self._strays = sec, min(self._weight, 4), 0
        self._offs.clear()

    def _follow(self, sec: float, first: bool) -> None:
        off = sec - self._sec - self._period
        known = self._weight >= KNOWN_CLOCKS
        limit = 5.0 * self._jitter * (1.0 + 6.0 / self._weight) + 0.02 * self._period
        if known and first and abs(off) > limit:
            # The count is certain here: only where on the line this clock lies is asked.
            off -= round(off / self._period) * self._period
            self._offs.clear()
            self._strays = 0
            if abs(off) > limit:
                self._jump(sec)
                return
            self._sec = sec - self._period - off
        self._offs.append(off)
        if known and abs(off) > limit:
            self._sec += self._period
            self._strays += 1
            if self._strays >= STRAYS:
                self._explain()
            return
        self._strays = 0
        self._correct(off)
        if self._weight > LOCKED_CLOCKS and len(self._offs) == RECENT:
            mean = sum(self._offs) / RECENT
            if abs(mean) > IMPROBABLE * self._jitter / sqrt(RECENT):
                self._explain()

    def _correct(self, off: float) -> None:
        self._weight = n = min(self._weight + 1, MEMORY)
        self._sec += self._period + off * 2 * (2 * n - 1) / (n * (n + 1))
        self._period = min(max(self._period + off * 6 / (n * (n + 1)), SHORTEST_PERIOD_SEC), LONGEST_PERIOD_SEC)
        if n > 3:
            # An innovation holds the clock's jitter and the error of the line, which is 4/n of it.
            share = 1.0 / min(n, 96)
            square = (1 - share) * self._jitter**2 + share * off**2 / (1 + 4 / n)
            self._jitter = max(sqrt(square), LEAST_JITTER_SEC)

    def _explain(self) -> None:
        """What made the recent clocks come off the line: whole clocks lost or doubled, another
        tempo, or another moment.
        """
        offs, doubt = list(self._offs), 9.0 * (self._jitter + 0.01 * self._period) ** 2
        slip = min(_slips(offs, self._period), default=None)
        tempo, moment = min(_tempos(offs)), min(_moments(offs))
        if slip is not None and slip.misfit <= min(tempo.misfit, moment.misfit) + doubt:
            if slip.misfit + doubt > tempo.misfit and self._strays < PAUSE_CLOCKS and slip.clocks < RECENT:
                # Too close to call, and one clock more tells more; meanwhile the line stands.
                return
            if slip.misfit + doubt < tempo.misfit:
                self._sec += slip.amount * self._period
                if self.running:
                    self._song += int(slip.amount)
                self._offs.clear()
                self._strays = 0
                return
        if self._strays and moment.misfit + doubt < tempo.misfit:
            self._sec, self._weight = self._sec + moment.amount, 4
        elif self._strays:
            # The strays did not move the line: it is laid where the other tempo has come to.
            self._period = min(max(self._period + tempo.amount, SHORTEST_PERIOD_SEC), LONGEST_PERIOD_SEC)
            self._sec, self._weight = self._sec + tempo.amount * tempo.clocks, max(tempo.clocks, 4)
        else:
            self._weight = KNOWN_CLOCKS
        self._offs.clear()
        self._strays = 0


class _Guess(NamedTuple):
    """One explanation of how far clocks are off: the sum of squares it leaves, since how many
    clocks, and by how much.
    """

    misfit: float
    clocks: int
    amount: float


def _cuts(offs: list[float]) -> list[tuple[float, list[float]]]:
    """Every way to cut off the newest clocks: what the older ones are worth if nothing was wrong
    with them, and the newest.
    """
    return [(sum(off * off for off in offs[:cut]), offs[cut:]) for cut in range(len(offs) - min(STRAYS, len(offs)) + 1)]


def _slips(offs: list[float], period: float) -> list[_Guess]:
    """Whole clocks lost (amount above 0) or doubled (below)."""
    found = []
    for before, new in _cuts(offs):
        slip = round(sum(new) / len(new) / period)
        if slip:
            found.append(_Guess(before + sum((off - slip * period) ** 2 for off in new), len(new), slip))
    return found


def _tempos(offs: list[float]) -> list[_Guess]:
    """Every clock further off by the same amount."""
    found = []
    for before, new in _cuts(offs):
        growth = sum(i * off for i, off in enumerate(new, 1)) / sum(i * i for i in range(1, len(new) + 1))
        found.append(_Guess(before + sum((off - i * growth) ** 2 for i, off in enumerate(new, 1)), len(new), growth))
    return found


def _moments(offs: list[float]) -> list[_Guess]:
    """All off by the same amount, whatever it is."""
    found = []
    for before, new in _cuts(offs):
        mean = sum(new) / len(new)
        found.append(_Guess(before + sum((off - mean) ** 2 for off in new), len(new), mean))
    return found
