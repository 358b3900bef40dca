"""Measuring a rig: notes go out at known moments, what comes in is stamped as in a session, and the
two are compared.

Task
    A *loop*: notes at slightly irregular moments through an output that leads back to an input.
    *Taps*: a steady click goes out, or sounds built in, and a player taps along on the input.
    Neither needs anything but ports, a sound and a clock, so tests bring their own.

Conventions
    Seconds on the clock, which is the sound's where the click is built in: a click's moment is then
    the one at which it is heard. A note's moment is read straight before it is sent; that of what
    comes in is made by the same ``Stamper`` as in ``jam``, so what is measured is what a session
    would get. Note-ons count, everything else is passed over.
"""

from collections import deque
from collections.abc import Callable
from typing import NamedTuple, Protocol

import numpy as np

from loopdeck.analysis.latency import Latency, measure
from loopdeck.audio.sounding import Sound
from loopdeck.capture.bytestream import ByteParser
from loopdeck.capture.stamps import Stamper
from loopdeck.errors import UserError
from loopdeck.looper.voices import Out
from loopdeck.process.clock import Clock

#: The note of a loop, on the first channel, and how long it is held; the click's notes and channel
#: are those of ``jam``.
LOOP_NOTE, LOOP_VELOCITY, HELD_SEC = 60, 80, 0.03
CLICK_STATUS, CLICK_NOTE, CLICK_VELOCITY = 0x99, 37, 100
#: Notes of a loop come so far apart, give or take the second number: no answer can be mistaken for
#: the next one's.
GAP_SEC, UNEVEN_SEC = 0.1, 0.03
#: One click a tap; 100 a minute is a comfortable pace.
CLICK_SEC = 0.6
#: How long is waited for the first answer, how often it is asked for, and how long for answers that
#: are still on their way.
FIRST_SEC, FIRST_TAP_SEC, ASK_SEC, LAST_SEC = 20.0, 30.0, 0.25, 1.0
#: How long a sound device may take to begin.
DEVICE_SEC = 5.0
_LOOK_SEC, _SPIN_SEC = 0.0005, 0.0015


class Wires(Protocol):
    """Ports, as much of them as is needed here."""

    def send(self, data: bytes) -> None:
        """Send at once."""
        ...

    def poll(self) -> object:
        """Take in what waits, where nothing comes by itself."""
        ...


class Clicks(Protocol):
    """Where the click of the taps is heard."""

    #: How long before its moment a click has to be prepared.
    ahead_sec: float

    def prepare(self, at_sec: float) -> None:
        """A click is to be heard then."""
        ...

    def strike(self, at_sec: float) -> float:
        """That moment has come; returns when the click was heard."""
        ...


class MidiClicks:
    """A click sent through ports at its moment."""

    ahead_sec = 0.0

    def __init__(self, wires: Wires, clock: Clock) -> None:
        self._wires, self._clock = wires, clock

    def prepare(self, at_sec: float) -> None:
        """Nothing to do."""

    def strike(self, at_sec: float) -> float:
        """Send it."""
        sent = self._clock.now()
        self._wires.send(bytes((CLICK_STATUS, CLICK_NOTE, CLICK_VELOCITY)))
        self._wires.send(bytes((CLICK_STATUS & 0xEF, CLICK_NOTE, 64)))
        return sent


class SoundClicks:
    """A click of the built-in sound, at its sample.

    Raises UserError when the device does not play, or has gone.
    """

    def __init__(self, sound: Sound, sleep: Callable[[float], None]) -> None:
        self._sound = sound
        self.ahead_sec = sound.ahead_sec
        self._gone = ""
        sound.begin(self._say)
        for _ in range(round(DEVICE_SEC / 0.01)):
            if sound.clock.leads:
                return
            sleep(0.01)
        raise UserError(f"The sound device {sound.name} does not play; --click midi sends the click to an output.")

    def _say(self, text: str, wrong: bool) -> None:
        if wrong:
            self._gone = text

    def prepare(self, at_sec: float) -> None:
        """Hand it over."""
        self._sound.hand(Out(at_sec, bytes((CLICK_STATUS, CLICK_NOTE, CLICK_VELOCITY)), "click"))

    def strike(self, at_sec: float) -> float:
        """It is heard now, if the device is still there."""
        self._sound.rest()
        if self._gone:
            raise UserError(f"The sound device {self._sound.name} has gone, so nothing was measured.")
        return at_sec


class NoteOnInput:
    """Hears note-ons: give its ``hear`` to the ports. ``heard`` has (seconds, pitch)."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._came: deque[tuple[bytes, float, float]] = deque()
        self._stamper, self._parser = Stamper(), ByteParser()
        self.heard: list[tuple[float, int]] = []

    def hear(self, port: int, data: bytes, delta_sec: float) -> None:
        """Bytes as they came; may be called in another thread."""
        self._came.append((data, delta_sec, self._clock.now()))

    def take(self) -> None:
        """Make note-ons of what came."""
        while self._came:
            data, delta_sec, arrived_sec = self._came.popleft()
            stamp_sec = self._stamper.stamp(arrived_sec, delta_sec)
            for one in self._parser.feed(data):
                if len(one) == 3 and one[0] & 0xF0 == 0x90 and one[2]:
                    self.heard.append((stamp_sec, one[1]))


class LoopPlan(NamedTuple):
    """What a loop sends: seconds after its beginning, shape (n,)."""

    after_sec: tuple[float, ...]


def loop_plan(count: int, seed: int = 1) -> LoopPlan:
    """``count`` moments, unevenly apart so that an answer fits only the note it answers."""
    gaps = GAP_SEC + np.random.default_rng(seed).uniform(-UNEVEN_SEC, UNEVEN_SEC, count)
    return LoopPlan(tuple(np.cumsum(gaps).tolist()))


class Measuring:
    """One measurement through ``wires``, heard by ``note_ons``.

    ``sleep`` is ``time.sleep``, or moves a clock of a test's own.
    """

    def __init__(
        self,
        wires: Wires,
        note_ons: NoteOnInput,
        clock: Clock,
        sleep: Callable[[float], None],
        progress: Callable[[int], None] = lambda done: None,
        clicks: Clicks | None = None,
    ) -> None:
        self._wires, self._note_ons, self._clock, self._sleep = wires, note_ons, clock, sleep
        self._progress = progress
        self._clicks: Clicks = clicks or MidiClicks(wires, clock)
        #: When the clicks of the taps were heard.
        self.clicked: list[float] = []

    def loop(self, count: int) -> Latency:
        """Send ``count`` notes and compare.

        Raises UserError when nothing, or too little, comes back.
        """
        self._first_answer()
        # What was asked for until then is still coming in and does not count.
        self._wait(self._clock.now() + LAST_SEC)
        begin = self._clock.now()
        sent = []
        for index, after in enumerate(loop_plan(count).after_sec):
            self._wait(begin + after)
            sent.append(self._strike())
            self._wait(sent[-1] + HELD_SEC)
            self._wires.send(bytes((0x80, LOOP_NOTE, 64)))
            self._progress(index + 1)
        self._wait(self._clock.now() + LAST_SEC)
        heard = sorted(sec for sec, _ in self._note_ons.heard if sec >= begin)
        return measure(sent, heard, "loop")

    def taps(self, count: int) -> Latency:
        """Click until ``count`` clicks could be tapped to.

        Raises UserError when nobody taps, or too few taps fit.
        """
        clicks = self._clicks
        begin = self._clock.now() + 0.5 + clicks.ahead_sec
        sent = self.clicked
        counted = prepared = 0
        for index in range(100_000):
            at_sec = begin + index * CLICK_SEC
            while begin + prepared * CLICK_SEC <= at_sec + clicks.ahead_sec + CLICK_SEC:
                clicks.prepare(begin + prepared * CLICK_SEC)
                prepared += 1
            self._wait(at_sec)
            sent.append(clicks.strike(at_sec))
            if not self._note_ons.heard:
                if sent[-1] - begin > FIRST_TAP_SEC:
                    raise UserError(
                        f"Nobody tapped within {FIRST_TAP_SEC:g} seconds; tap along to the click on the input "
                        "that is to be measured."
                    )
                continue
            counted += 1
            self._progress(min(counted, count))
            if counted >= count:
                break
        self._wait(self._clock.now() + CLICK_SEC)
        taps = sorted(self._note_ons.heard)
        # Clicks before the player joined in were not missed.
        joined = taps[0][0] - CLICK_SEC / 2.0
        return measure(
            [sec for sec in sent if sec >= joined], [sec for sec, _ in taps], "tap", None, [pitch for _, pitch in taps]
        )

    def _strike(self) -> float:
        sent = self._clock.now()
        self._wires.send(bytes((0x90, LOOP_NOTE, LOOP_VELOCITY)))
        return sent

    def _first_answer(self) -> None:
        """Ask until the loop answers: virtual ports are connected by hand, and real ones take a
        moment.
        """
        until = self._clock.now() + FIRST_SEC
        while not self._note_ons.heard:
            if self._clock.now() >= until:
                raise UserError(
                    f"Nothing came back within {FIRST_SEC:g} seconds; check that the output leads back to the input."
                )
            self._strike()
            self._wires.send(bytes((0x80, LOOP_NOTE, 64)))
            self._wait(self._clock.now() + ASK_SEC)

    def _wait(self, until_sec: float) -> None:
        """Until then, taking in what comes; the last moment is spun away, for sleeping is not
        exact.
        """
        while (left := until_sec - self._clock.now()) > 0.0:
            if left > _SPIN_SEC:
                self._wires.poll()
                self._sleep(min(_LOOK_SEC, left - _SPIN_SEC))
            else:
                self._sleep(0.0)
        self._wires.poll()
        self._note_ons.take()
