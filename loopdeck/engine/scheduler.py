"""When to do what: lets the looper run a little ahead, sends every message at its moment, and wakes
for what comes in.

Theory of operation
    One thread. Between events it sleeps in ``select`` on a socket that any other thread can write
    to, until shortly before the next message is due; the last ``SPIN_SEC`` it spends looking at the
    clock, because a sleeping thread is woken late by some tenths of a millisecond, and does not let
    go of the interpreter meanwhile, because it might not get it back in time (``SPIN_SEC`` is
    shorter than ``process.priority.SWITCH_SEC``, for which a thread may keep it). The looper is
    advanced to what falls due ``AHEAD_SEC`` before it does: laying out a new pass can take
    milliseconds, and the messages it makes wait here, so that they leave on time all the same. An
    input takes effect when it comes, or where the looper has got to already, a few milliseconds
    later. A note-on that is later than ``LATE_SEC`` (the machine was asleep) is dropped: better no
    note than a burst. Note-offs are always sent.

Conventions: seconds on the clock of the session.
"""

from bisect import insort
from collections import deque
from collections.abc import Callable

from loopdeck.engine.events import Waker
from loopdeck.looper.machine import Out
from loopdeck.process.clock import Clock
from loopdeck.session.session import Session

AHEAD_SEC = 0.012
SPIN_SEC = 0.00035
POLL_SEC = 0.001
LATE_SEC = 0.25
#: What the looper does at once takes so long at most, and what it makes has to be there so long
#: before it is due.
WORK_SEC, IN_TIME_SEC = 0.002, 0.004
#: The longest sleep, so that a clock that was set or a system that slept is noticed.
LONGEST_SEC = 1.0


class Scheduler:
    """Drives a session against a clock. ``send`` gets each message at its moment, ``hand`` gets
    everything as soon as it is made.

    ``ahead_sec`` is how far the looper has to run ahead at least, ``wake_sec`` how long before its
    moment it is woken at the latest for what falls due (0: half of the time ahead; a sound device
    needs more).
    """

    def __init__(
        self,
        clock: Clock,
        session: Session,
        send: Callable[[Out], None],
        hand: Callable[[Out], None] = lambda out: None,
        ahead_sec: float = 0.0,
        wake_sec: float = 0.0,
    ) -> None:
        self._clock = clock
        self.session = session
        self._send, self._hand = send, hand
        self._waiting: deque[Out] = deque()
        self.ahead_sec = max(ahead_sec, AHEAD_SEC)
        self.wake_sec = wake_sec or AHEAD_SEC / 2.0
        #: The notes (channel, pitch) that were not begun; their note-off is still to come.
        self._dropped: set[tuple[int, bytes]] = set()

    def turn(self) -> float | None:
        """Send what is due and let the looper run ahead; returns when to come again (None: when
        something comes in).
        """
        self.collect()
        self.send_due()
        ahead_sec = self._clock.now() + self.ahead_sec
        while (due := self.session.next_due()) is not None and due <= ahead_sec:
            if self._comes_first(due):
                return self._waiting[0].time_sec
            self.session.advance(due)
            self.collect()
            # Laying out may have taken its time, and something else may be due by now.
            self.send_due()
        # Nobody need wake for this at the first moment possible, and often a message is due before.
        wake_sec = due - self.wake_sec if due is not None else None
        if self._waiting:
            sending = self._waiting[0].time_sec
            return sending if wake_sec is None else min(wake_sec, sending)
        return wake_sec

    def _comes_first(self, due_sec: float) -> bool:
        """Whether a message leaves so soon that work for what falls due later had better wait for
        it. Not beside a sound device, which is to have everything early.
        """
        if not self._waiting or self.ahead_sec > AHEAD_SEC:
            return False
        now = self._clock.now()
        return self._waiting[0].time_sec < now + WORK_SEC and due_sec > now + IN_TIME_SEC

    def collect(self) -> None:
        """Take what the looper wants to be sent. Live notes do not wait: they are late already."""
        for out in self.session.take_outs():
            self._hand(out)
            if out.part == "live":
                self._send(out)
            else:
                self._put(out)

    def next_sending(self) -> float | None:
        """When the next queued message is due; None if none is queued."""
        return self._waiting[0].time_sec if self._waiting else None

    def put(self, out: Out) -> None:
        """Queue a message that is not the looper's, before it is due."""
        self._hand(out)
        self._put(out)

    def _put(self, out: Out) -> None:
        if self._waiting and self._waiting[-1].time_sec > out.time_sec:
            insort(self._waiting, out, key=lambda one: one.time_sec)
        else:
            self._waiting.append(out)

    def send_due(self) -> None:
        """Send every message whose moment has come."""
        waiting = self._waiting
        while waiting and waiting[0].time_sec <= (now := self._clock.now()):
            out = waiting.popleft()
            self._send_or_drop(out, now - out.time_sec > LATE_SEC)

    def send_imminent(self) -> None:
        """Before some work that takes a few tenths of a millisecond: send what would leave late by
        it, at its moment. Not beside a sound device: its callback needs the interpreter meanwhile.
        """
        if self.ahead_sec > AHEAD_SEC:
            return
        if self._waiting and self._clock.left(self._waiting[0].time_sec) < SPIN_SEC:
            while self._clock.left(self._waiting[0].time_sec) > 0.0:
                pass
            self.send_due()

    def drop_notes(self) -> None:
        """Forget the note-ons that wait, and send everything else now: the end has come."""
        self.collect()
        while self._waiting:
            self._send_or_drop(self._waiting.popleft(), True)

    def _send_or_drop(self, out: Out, drop_ons: bool) -> None:
        """Send a message, or drop it if it begins a note that shall not begin, or ends one that did
        not.
        """
        kind, place = out.data[0] & 0xF0, (out.data[0] & 0x0F, out.data[1:2])
        if kind == 0x90 and drop_ons:
            self._dropped.add(place)
        elif kind == 0x80 and place in self._dropped:
            self._dropped.discard(place)
        else:
            self._send(out)

    def wait(self, until_sec: float | None, waker: Waker, poll: Callable[[], bool] | None = None) -> bool:
        """Sleep until then, to a hair's breadth; True when woken by something that came in.

        ``poll``, where given, is asked every ``POLL_SEC`` whether something came in.
        """
        longest = self._clock.now() + LONGEST_SEC
        sleep_until = longest if until_sec is None else min(until_sec, longest)
        # Only a message is worth looking at the clock for.
        exact = bool(self._waiting) and self._waiting[0].time_sec <= sleep_until
        early_sec = SPIN_SEC if exact else 0.0
        while (left := self._clock.left(sleep_until) - early_sec) > 0.0:
            if poll is not None and poll():
                return True
            if waker.sleep(left if poll is None else min(left, POLL_SEC)):
                return True
        if exact:
            while self._clock.left(sleep_until) > 0.0:
                pass
            self.send_due()
        return False
