"""Practising on a real clock: the parts of a run sound at their seconds, and what is played in them
is judged.

Conventions
    Seconds are ``time.perf_counter``'s. Whoever gives the rig (``Rig``) decides where time, sound
    and notes come from: ports, or a test.
"""

import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from queue import SimpleQueue
from typing import Protocol

import numpy as np

from loopdeck.audio.listening import LiveSound
from loopdeck.capture.bulk_pairing import pair
from loopdeck.capture.events import Event
from loopdeck.looper.strokes import CLICK_NOTES, CLICK_WEIGHT
from loopdeck.midi.ports import Ports
from loopdeck.practice.practising import CALL, EARLY_Q, LEAD_IN, PASS, Judged, Part, PracticeRun
from loopdeck.practice.target import Target
from loopdeck.practice.techniques import HandNote, written_notes
from loopdeck.synth.events import CLICK, LIVE

#: How loud the click is struck.
_CLICK_LEVEL = 90
_CLICK_CHANNEL = 9
#: From being asked to start to the lead-in.
_START_SEC = 0.5
_NAP_SEC = 0.001
#: Events that are remembered, for the techniques of a pass; and how long before a pass a bend that
#: is still in force may have come.
_EVENTS, _BEFORE_SEC = 50_000, 0.5

Row = tuple[float, str, bytes]


class Rig(Protocol):
    """Time, sound and notes."""

    def now(self) -> float:
        """This second."""
        ...

    def play(self, rows: Sequence[Row]) -> None:
        """Let messages (second, part, data) sound at their seconds; they are to come."""
        ...

    def wait(self, until: float) -> None:
        """Return at that second; what is played meanwhile is remembered."""
        ...

    def take(self, before: float) -> list[tuple[float, int]]:
        """The notes (second, pitch) that were played before that second, and not taken yet."""
        ...

    def hands(self, start: float, end: float, quarter: float) -> Sequence[HandNote]:
        """What was played between two seconds as a player would write it, at so many seconds a
        quarter; empty where nobody looks at that.
        """
        ...


def run_practice(practice: PracticeRun, rig: Rig, say: Callable[[Judged], None], most: int = 0) -> None:
    """Drive a run to its end, or for ``most`` passes (0: no limit)."""
    at = rig.now() + _START_SEC
    while (part := practice.next()) is not None:
        quarter = 60.0 / part.qpm
        end = at + part.length_q * quarter
        rig.play(rows_of(practice.target, part, at))
        rig.wait(end - EARLY_Q * quarter)
        notes = rig.take(end - EARLY_Q * quarter)
        if part.kind == PASS:
            hands = rig.hands(at - EARLY_Q * quarter, end - EARLY_Q * quarter, quarter)
            hands = [note._replace(onset_q=note.onset_q - EARLY_Q) for note in hands]
            say(practice.judge([(sec - at) / quarter for sec, _ in notes], [pitch for _, pitch in notes], hands))
            if most and len(practice.judged) >= most:
                return
        at = end


def rows_of(target: Target, part: Part, at: float) -> list[Row]:
    """What sounds in a part that begins at a second: the click, and in a call the riff."""
    quarter = 60.0 / part.qpm
    clicks = target.clicks
    if part.kind == LEAD_IN:
        clicks = tuple((float(click.position), click.kind) for click in target.lead.clicks)
    rows: list[Row] = []
    for place, kind in clicks:
        velocity = max(round(_CLICK_LEVEL * CLICK_WEIGHT[kind]), 1)
        rows.append((at + place * quarter, CLICK, bytes((0x90 | _CLICK_CHANNEL, CLICK_NOTES[kind], velocity))))
    if part.kind == CALL:
        columns = (target.onset_q, target.duration_q, target.pitch, target.velocity)
        for onset, long, pitch, velocity in zip(*(column.tolist() for column in columns), strict=True):
            start = at + max(onset, 0.0) * quarter
            stop = min(start + max(long, 0.02) * quarter, at + part.length_q * quarter - 0.002)
            rows.append((start, LIVE, bytes((0x90, pitch, min(max(velocity, 1), 127)))))
            rows.append((stop, LIVE, bytes((0x80, pitch, 64))))
    return sorted(rows, key=lambda row: row[0])


class LiveRig:
    """MIDI in through ``ports``; out on the ports' outputs, and on the built-in ``sound`` if there
    is one. ``late`` gives the seconds to take off a note of a pitch; ``strings`` the string of each
    channel, where that is known.
    """

    def __init__(
        self,
        ports: Ports,
        sound: LiveSound | None,
        late: Callable[[int], float] = lambda pitch: 0.0,
        strings: Mapping[int, int] | None = None,
    ) -> None:
        self._ports, self._sound, self._late, self._strings = ports, sound, late, strings
        self._due: list[Row] = []
        #: Both are filled by the thread of an input.
        self._heard: SimpleQueue[tuple[float, int]] = SimpleQueue()
        self._events: deque[Event] = deque(maxlen=_EVENTS)
        self._kept: list[tuple[float, int]] = []

    def now(self) -> float:
        """The machine's clock."""
        return time.perf_counter()

    def play(self, rows: Sequence[Row]) -> None:
        """To the outputs when it is time; to the sound at once, which keeps them until then."""
        self._due = sorted([*self._due, *rows], key=lambda row: row[0])
        if self._sound is not None:
            self._sound.feed(rows)

    def hear(self, data: bytes, sec: float) -> None:
        """A message from an input."""
        self._events.append(Event(sec, 0, bytes(data)))
        if len(data) == 3 and data[0] & 0xF0 == 0x90 and data[2] > 0:
            self._heard.put((sec - self._late(data[1]), data[1]))

    def wait(self, until: float) -> None:
        """Send what is due and listen, in steps of a millisecond."""
        while True:
            now = time.perf_counter()
            while self._due and self._due[0][0] <= now:
                self._ports.send(self._due.pop(0)[2])
            if self._ports.polled:
                self._ports.poll()
            if now >= until:
                return
            time.sleep(min(_NAP_SEC, until - now))

    def take(self, before: float) -> list[tuple[float, int]]:
        """Those before the second, in order."""
        while not self._heard.empty():
            self._kept.append(self._heard.get_nowait())
        found = sorted(note for note in self._kept if note[0] < before)
        self._kept = [note for note in self._kept if note[0] >= before]
        return found

    def hands(self, start: float, end: float, quarter: float) -> list[HandNote]:
        """By the notes and bends of the inputs."""
        events = [event for event in list(self._events) if start - _BEFORE_SEC <= event.time_sec <= end + _BEFORE_SEC]
        notes = pair(events, end + _BEFORE_SEC, self._strings)
        array = notes.array.copy()
        array["onset_sec"] -= [self._late(int(pitch)) for pitch in array["pitch"]]
        rows = np.flatnonzero((array["onset_sec"] >= start) & (array["onset_sec"] < end))
        array = array[rows]
        array["onset_sec"] -= start
        return written_notes(array, [notes.bends[row] for row in rows.tolist()], quarter)
