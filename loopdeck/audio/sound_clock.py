"""The time of a session whose clock source is the sound device, and how it maps to
``perf_counter``.

Task
    One time for everything: what the player hears, what the grid judges, and what goes out by MIDI.
    While a device runs, session seconds are counted in its samples, so a click lies at its exact
    sample for hours; every moment the host sees (a note that came in, a key, the time to send a
    message) is converted by ``timebase.SampleClock``, the filtered estimate of offset and rate.
    While none runs, ``perf_counter`` is the clock source. A change of the source causes no jump,
    and ``now`` never goes backwards.

Conventions
    Session seconds are those ``now`` counts; host seconds are ``perf_counter``'s. ``delay_sec`` is
    the output latency, from the callback that asks for a sample to its sound, so that ``now`` is
    the time of what is heard now. Samples count from 0 at the callback at which the device became
    the clock source.
    ``asked`` is called in the device's thread and never waits; everything else may be called from
    any thread.
"""

import threading
import time
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import replace

from loopdeck.audio.timebase import SampleClock
from loopdeck.protocol.messages import ClockChanged, Message, NoteStarted

#: A device becomes the clock source after so many seconds of even callbacks: sound servers stumble
#: at the start.
STEADY_SEC = 0.25
#: A pause, or being ahead or behind by so many buffers, is not a steady run. Some servers ask for a
#: few buffers at once.
STUMBLE_SEC, STUMBLE_BUFFERS = 0.1, 8
#: It is lost when no callback comes for so long, or when they come too fast by that share for so
#: long: SDL goes on asking, at some pace of its own, for a device that was pulled out. Thirty times
#: what the worst sound card does.
LOST_SEC, LOST_SHARE, LOST_RUN_SEC = 2.0, 0.03, 4.0


class SoundClock:
    """A ``clock.Clock``. ``rate`` in samples a second, ``host`` the clock of the machine."""

    def __init__(self, rate: int, delay_sec: float, host: Callable[[], float] = time.perf_counter) -> None:
        self.rate, self.delay_sec = rate, delay_sec
        self._host = host
        self._lock = threading.Lock()
        self._seen: deque[tuple[int, float]] = deque(maxlen=16_384)
        self._map: SampleClock | None = None
        #: Session seconds of sample 0 as it is heard; None while perf_counter is the source.
        self._origin: float | None = None
        self._shift = 0.0
        self._last = float("-inf")
        # The run of callbacks that may become steady, or stop being so: where it began, and how
        # many samples since.
        self._run_sec, self._run_samples, self._before_sec = 0.0, 0, float("-inf")
        self._watch: tuple[int, float] | None = None
        #: The last callback that was looked at.
        self._latest: tuple[int, float] = (0, 0.0)

    # ---- the device's thread ---------------------------------------------------------------------

    def asked(self, sample: int, frames: int) -> int | None:
        """The device asks for ``frames`` samples. ``sample``: how many it was given since it took
        the lead (what this returned, and its frames).

        Returns the sample its buffer begins with, or None while the device does not lead yet.
        """
        host_sec = self._host()
        if self._origin is None:
            if not self._steady(frames, host_sec):
                return None
            # In this order: who sees the origin finds the rest in place.
            mapped = SampleClock(self.rate)
            mapped.callback(0, host_sec)
            self._latest, self._watch = (0, host_sec), None
            self._map = mapped
            self._origin = host_sec + self._shift + self.delay_sec
            return 0
        self._before_sec = host_sec
        self._seen.append((sample, host_sec))
        return sample

    def _steady(self, frames: int, host_sec: float) -> bool:
        gap_sec, self._before_sec = host_sec - self._before_sec, host_sec
        since_sec = host_sec - self._run_sec
        off_sec = self._run_samples / self.rate - since_sec
        if gap_sec > STUMBLE_SEC or abs(off_sec) > STUMBLE_BUFFERS * frames / self.rate + 0.002:
            self._run_sec, self._run_samples = host_sec, frames
            return False
        self._run_samples += frames
        return since_sec >= STEADY_SEC

    # ---- any thread ------------------------------------------------------------------------------

    @property
    def leads(self) -> bool:
        """True while the device is the clock source."""
        return self._origin is not None

    def now(self) -> float:
        """The time, in session seconds; never backwards."""
        with self._lock:
            self._last = max(self._last, self._at(self._host()))
            return self._last

    def left(self, until_sec: float) -> float:
        """Seconds until ``until_sec``; negative when it is past."""
        return until_sec - self.now()

    def of_host(self, host_sec: float) -> float:
        """The session second of a moment of the host's."""
        with self._lock:
            return self._at(host_sec)

    def to_host(self, sec: float) -> float:
        """The host's moment of a session second."""
        with self._lock:
            self._learn()
            if self._origin is None or self._map is None:
                return sec - self._shift
            return self._map.sec_of((sec - self._origin + self.delay_sec) * self.rate)

    def sample_of(self, sec: float) -> int | None:
        """The sample that is heard at a session second, exactly; None without a device."""
        origin = self._origin
        return None if origin is None else round((sec - origin) * self.rate)

    def sample_for(self, sec: float, frames: int, more_sec: float) -> int | None:
        """The sample for what came in at ``sec`` and is to sound as soon as can be, but always
        equally late: a buffer and a little more.
        """
        return self.sample_of(sec + self.delay_sec + frames / self.rate + more_sec)

    def skip_to(self, sec: float) -> None:
        """Before any device is the clock source: let it be at least ``sec``, which a resumed
        session had reached.
        """
        with self._lock:
            if self._origin is None:
                self._shift += max(sec - self._at(self._host()), 0.0)

    @property
    def rate_error(self) -> float:
        """How much faster than nominal the device runs, as a share; 0.0 until it is known."""
        return 0.0 if self._map is None else self._map.rate_error

    @property
    def steps(self) -> int:
        """How often the device's counter stood still (an underrun) while it led."""
        return 0 if self._map is None else self._map.steps

    def lost(self) -> bool:
        """Whether the leading device has stopped counting, or counts something else than time;
        asked now and then.
        """
        if self._origin is None:
            return False
        with self._lock:
            host_sec = self._host()
            self._learn()
            sample, seen_sec = self._latest
            if host_sec - seen_sec > LOST_SEC:
                return True
            if self._watch is None:
                self._watch = (sample, seen_sec)
            elif seen_sec - self._watch[1] >= LOST_RUN_SEC:
                run_sec = seen_sec - self._watch[1]
                share = (sample - self._watch[0]) / self.rate / run_sec - 1.0
                self._watch = (sample, seen_sec)
                return share > LOST_SHARE
            return False

    def let_go(self) -> None:
        """``perf_counter`` is the clock source from here on, without a jump.

        No callback may be running any more.
        """
        with self._lock:
            host_sec = self._host()
            self._last = max(self._last, self._at(host_sec))
            self._shift = self._last - host_sec
            self._origin = self._map = None
            self._seen.clear()
            self._run_sec, self._run_samples, self._before_sec = host_sec, 0, float("-inf")

    # ---- inside, with the lock -------------------------------------------------------------------

    def _learn(self) -> None:
        if self._origin is None or self._map is None:
            return
        while self._seen:
            self._latest = self._seen.popleft()
            self._map.callback(*self._latest)

    def _at(self, host_sec: float) -> float:
        self._learn()
        origin = self._origin
        if origin is None or self._map is None:
            return host_sec + self._shift
        return origin - self.delay_sec + self._map.sample_of(host_sec) / self.rate

    # ---- the window ------------------------------------------------------------------------------

    def for_window(self, messages: Iterable[Message]) -> list[Message]:
        """Messages as the window is to have them, which knows the host's clock only.

        The anchor of the clock is moved to now: from there the host's seconds are good for minutes,
        but not for hours.
        """
        return [self._for_window(one) for one in messages]

    def _for_window(self, one: Message) -> Message:
        time_sec = self.to_host(one.time_sec)
        if isinstance(one, ClockChanged):
            if not one.running:
                return replace(one, time_sec=time_sec, anchor_sec=self.to_host(one.anchor_sec))
            now, host_sec = self.now(), self._host()
            return replace(one, time_sec=time_sec, anchor_sec=host_sec, anchor_q=one.anchor.quarter_at(now))
        if isinstance(one, NoteStarted):
            return replace(one, time_sec=time_sec, stamp_sec=self.to_host(one.stamp_sec))
        return replace(one, time_sec=time_sec)


class DrivenClock(SoundClock):
    """A clock that stands still between two callbacks, for a device that asks as fast as it gets
    (SDL's disk driver): nothing is estimated.

    The callback waits until the thread that plays has done everything up to the moment asked for;
    ``rest`` is where they meet.
    """

    def __init__(self, rate: int, delay_sec: float) -> None:
        super().__init__(rate, delay_sec)
        self._meet = threading.Condition()
        self._asked, self._seen_asked, self._served = 0, 0, -1
        self._over = False
        self._origin = 0.0
        self._start = self._host()
        self._origin = self._start

    def asked(self, sample: int, frames: int) -> int | None:
        """As above, but waits for the thread that plays."""
        with self._meet:
            self._asked = sample + frames
            self._meet.notify_all()
            self._meet.wait_for(lambda: self._over or self._served >= self._asked)
        return sample

    def rest(self) -> None:
        """The thread that plays has done all there was to do up to ``now`` and a little ahead."""
        with self._meet:
            self._served = self._seen_asked
            self._meet.notify_all()
            self._meet.wait_for(lambda: self._asked > self._seen_asked, timeout=0.02)
            self._seen_asked = self._asked

    def end(self) -> None:
        """Release whoever waits: the device or the thread that plays has ended."""
        with self._meet:
            self._over = True
            self._meet.notify_all()

    def now(self) -> float:
        """The session second up to which the device has asked."""
        return self._start + self._seen_asked / self.rate

    def left(self, until_sec: float) -> float:
        """0: the device moves this clock, so nothing has to be waited for."""
        return 0.0

    def of_host(self, host_sec: float) -> float:
        """Now, whenever it was: the host's clock has no part in this."""
        return self.now()

    def to_host(self, sec: float) -> float:
        """Unchanged: this clock is its own host."""
        return sec

    def skip_to(self, sec: float) -> None:
        """Begin at this second."""
        ahead = max(sec - self.now(), 0.0)
        self._start, self._origin = self._start + ahead, self._start + ahead

    def lost(self) -> bool:
        """False: nothing is estimated that could be lost."""
        return False
