"""The recorder of passes: what was played, pass by pass, whatever the state. It makes "loop that"
and "keep" possible afterwards.

Conventions
    ``at_q`` and ``end_q`` of a played note count quarters from the start of the pass it belongs to.
    A note played within half a slot before the end of a cycle belongs to the next pass (``at_q`` a
    little below zero): an early downbeat is a downbeat. Notes played while no time ran, or during
    the count-in, belong to pass FREE; ``free_playing`` cuts them into passes afterwards. The last
    REMEMBERED passes are held, and the raw events of the last KEEPABLE; everything older is in the
    journal.
"""

from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise, takewhile

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.curve import up_to_next
from loopdeck.capture.events import Event
from loopdeck.capture.pairing import Ended, Pairer, Started
from loopdeck.looper.heard import Heard
from loopdeck.rhythm.meter import Cycle
from loopdeck.rhythm.quantize import Slots, locate

FREE = -1
#: How many passes are held, those of the last minutes: each of them can be looped.
REMEMBERED = 48
#: Of so many the raw events are held: the sixteen a keep can ask for, the one that runs, and one to
#: spare for late notes.
KEEPABLE = 18
#: Raw events held while no time runs.
FREE_EVENTS = 20_000


@dataclass
class Played:
    """One note that was played. ``end_q`` is None while it is held."""

    id: int
    pass_index: int
    at_q: float
    end_q: float | None
    pitch: int
    velocity: int
    channel: int
    port: int
    string: int
    stamp_sec: float
    slot: int = 0
    slot_q: float = 0.0
    #: Why it is out of view: an error of the pickup (``ghost``, ``octave``, ...), or ``held`` while
    #: that is not sure yet; "" for a note that counts.
    hidden: str = ""
    #: The notes that go on from this one because a bend cut it apart, by their ids.
    rest: tuple[int, ...] = ()


@dataclass
class PassRecord:
    """One pass: where it began, what the grid was, what was played in it, and the layer made of it
    (its id), if any.
    """

    index: int
    start_q: Fraction
    start_sec: float
    cycle_q: Fraction
    slots: Slots
    controls: tuple[Event, ...] = ()
    notes: list[Played] = field(default_factory=list)
    layered: bool = False
    layer: int | None = None
    end_q: float | None = None
    end_sec: float | None = None
    #: The tempo it is taken to have, where the transport does not know: of what was played while no
    #: time ran.
    qpm: float | None = None
    #: How many passes and bars of its run came before it.
    run_pass: int = 0
    first_bar: int = 0
    #: The cycle it goes round, once it has begun.
    cycle: Cycle | None = None

    @property
    def finished(self) -> bool:
        """True once the pass has ended, by itself or by a stop."""
        return self.end_sec is not None

    @property
    def cut_short(self) -> bool:
        """True when it was stopped before its end."""
        return self.end_q is not None and self.end_q < float(self.start_q + self.cycle_q) - 1e-6

    @property
    def bar_starts(self) -> tuple[Fraction, ...]:
        """Where its bars start; none before it has begun."""
        return self.cycle.bar_starts if self.cycle is not None else ()


class Controls:
    """The controllers in force, as the raw events that set them: bend, its range, the sustain
    pedal, the program.
    """

    _KEPT_CC = (6, 38, 64, 100, 101)

    def __init__(self) -> None:
        self._latest: dict[tuple[int, int, int], Event] = {}

    def feed(self, event: Event) -> None:
        """Remember the event if it sets something that lasts."""
        status = event.data[0]
        kind = status & 0xF0
        if kind == 0xB0 and event.data[1] in self._KEPT_CC:
            # Re-inserting keeps the order of arrival, which registered parameters depend on.
            self._latest.pop((event.port, status, event.data[1]), None)
            self._latest[event.port, status, event.data[1]] = event
        elif kind in (0xE0, 0xC0):
            self._latest.pop((event.port, status, 0), None)
            self._latest[event.port, status, 0] = event

    def in_force(self) -> tuple[Event, ...]:
        """The events that would bring a fresh receiver to the present state, in order of
        arrival.
        """
        return tuple(self._latest.values())


class Recorder:
    """The passes and raw events of a session, as far back as they may be asked for."""

    def __init__(self) -> None:
        self.passes: dict[int, PassRecord] = {}
        #: The pass that runs, or ran last; in a count-in the one that will begin.
        self.current: PassRecord | None = None
        #: What was played while no time ran, cut into passes when time began to run; oldest first.
        self.free: list[PassRecord] = []
        #: What was played up to here while no time ran stands in ``free``.
        self.free_until_sec = float("-inf")
        self.events: deque[tuple[Event, int | None]] = deque()
        self.notes: dict[int, Played] = {}
        #: Those that may still be held: all notes are too many to look at for every bend.
        self._open: dict[int, Played] = {}
        self.controls = Controls()
        self.pairer = Pairer()
        #: How much earlier than it arrives each input is judged.
        self.late_sec: dict[int, float] = {}
        #: How an input with a pickup hears its strings.
        self.pickups: dict[int, Heard] = {}
        #: The notes that the player brought back from what the clean-up had taken out, by their
        #: ids.
        self.brought_back: set[int] = set()

    # ---- passes ----------------------------------------------------------------------------------

    def next_index(self) -> int:
        """The index of the next pass to begin with a start."""
        return max(self.passes, default=FREE) + 1

    def open_pass(self, index: int, start_q: Fraction, start_sec: float, cycle_q: Fraction, slots: Slots) -> PassRecord:
        """The record of a pass that begins, now the current one; it may have been made already by
        an early downbeat.
        """
        record = self.passes.get(index)
        if record is None:
            record = PassRecord(index, start_q, start_sec, cycle_q, slots)
            self.passes[index] = record
        record.start_sec, record.cycle_q, record.slots = start_sec, cycle_q, slots
        record.controls = self.controls.in_force()
        self._forget_passes(index - REMEMBERED)
        self.current = record
        return record

    def _forget_passes(self, newest: int) -> None:
        """Forget the passes up to ``newest`` with their notes. Notes out of view stand in no pass,
        but before the younger ones in the order of arrival.
        """
        for old in [index for index in self.passes if index <= newest]:
            for note in self.passes.pop(old).notes:
                self.notes.pop(note.id, None)
        first = list(takewhile(lambda note: note.pass_index <= newest, self.notes.values()))
        for note in first:
            if note.pass_index != FREE:
                del self.notes[note.id]
        self._forget_ended()

    def _forget_ended(self) -> None:
        self._open = {one: note for one, note in self._open.items() if note.end_q is None and one in self.notes}

    def oldest_sec(self) -> float:
        """When the oldest pass that is held began."""
        return self.passes[min(self.passes)].start_sec

    def finished(self) -> list[PassRecord]:
        """The passes that have ended, oldest first."""
        return [self.passes[index] for index in sorted(self.passes) if self.passes[index].finished]

    def follower(self, record: PassRecord) -> PassRecord | None:
        """The pass that goes on from a pass; none after a stop, and for what was played while no
        time ran.
        """
        return self.passes.get(record.index + 1) if record.index != FREE and not record.cut_short else None

    def played_free(self) -> bool:
        """True when something was played while no time ran that does not stand in ``free`` yet."""
        newest = next((note for note in reversed(self.notes.values()) if not note.hidden), None)
        return newest is not None and newest.pass_index == FREE and newest.stamp_sec > self.free_until_sec

    def add_free(self, records: list[PassRecord], until_sec: float) -> None:
        """Remember what was played while no time ran, up to ``until_sec``."""
        self.free = [*self.free, *records][-REMEMBERED:]
        self.free_until_sec = until_sec

    # ---- notes -----------------------------------------------------------------------------------

    def begin(self, note: Started, quarter_at: Callable[[float], float] | None) -> tuple[Played, PassRecord | None]:
        """Enter a note that begins; returns it with its pass. ``quarter_at``: the position at a
        moment, None while no time runs.
        """
        played = Played(
            note.id, FREE, 0.0, None, note.pitch, note.velocity, note.channel, note.port, note.string, note.time_sec
        )
        return played, self.place(played, quarter_at)

    def place(self, played: Played, quarter_at: Callable[[float], float] | None) -> PassRecord | None:
        """Find the pass of a note and enter it there; None for one of no pass."""
        self.notes[played.id] = played
        if played.end_q is None:
            self._open[played.id] = played
        if quarter_at is None or self.current is None:
            return None
        return self._locate(played, quarter_at(self._judged(played, played.stamp_sec)), self.current)

    def end(
        self, note: Ended, quarter_at: Callable[[float], float] | None, qpm: float
    ) -> tuple[Played | None, PassRecord | None]:
        """A note ends; returns it with its pass, or None when it had ended. Where no time runs, its
        length counts at ``qpm``.
        """
        played = self.notes.get(note.id)
        if played is None or played.end_q is not None:
            return None, None
        record = self.passes.get(played.pass_index)
        if record is not None and quarter_at is not None:
            end_q = quarter_at(self._judged(played, note.time_sec)) - float(record.start_q)
            played.end_q = max(end_q, played.at_q)
        else:
            played.end_q = played.at_q + max(note.time_sec - played.stamp_sec, 0.0) * qpm / 60.0
        return played, record

    def go_on(self, before: Played, rest: Played) -> None:
        """A note goes on: ``rest``, which a bend cut off, is a part of it."""
        before.rest, before.end_q = (*before.rest, rest.id), None
        self._open[before.id] = before

    def hide(self, played: Played, why: str) -> PassRecord | None:
        """Take a note out of view; returns its pass."""
        played.hidden = why
        record = self.passes.get(played.pass_index)
        if record is not None and played in record.notes:
            record.notes.remove(played)
        return record

    def reveal(self, played: Played) -> PassRecord | None:
        """Bring a note back into view; returns its pass."""
        played.hidden = ""
        record = self.passes.get(played.pass_index)
        if record is not None and played not in record.notes:
            record.notes.append(played)
        return record

    def bend_of(self, played: Played) -> NDArray[np.float64]:
        """The bend curve of a note with all that goes on from it: (n, 2) of (seconds after the
        onset, semitones).
        """
        parts = [played, *(self.notes[one] for one in played.rest)]
        curves = [self.pairer.bend_of(one.id) for one in parts]
        if len(parts) == 1:
            return curves[0]
        for place, (part, following) in enumerate(pairwise(parts)):
            curves[place] = up_to_next(curves[place], following.stamp_sec - part.stamp_sec)
        return np.concatenate(
            [
                curve + np.array([part.stamp_sec - played.stamp_sec, part.pitch - played.pitch])
                for curve, part in zip(curves, parts, strict=True)
            ]
        )

    def judged_early(self, played: Played) -> float:
        """How much earlier than it arrives a note is judged, in seconds."""
        heard = self.pickups.get(played.port)
        by_pitch = heard.late_sec(played.pitch) if heard is not None else 0.0
        return self.late_sec.get(played.port, 0.0) + by_pitch

    def _judged(self, played: Played, stamp_sec: float) -> float:
        return stamp_sec - self.judged_early(played)

    def _locate(self, played: Played, position_q: float, current: PassRecord) -> PassRecord | None:
        """Set a note's pass, place and slot, from its position on the session's axis; None for a
        note of the count-in.
        """
        record = current
        relative = position_q - float(record.start_q)
        while relative < -record.slots.half_q:
            before = self.passes.get(record.index - 1)
            if before is None or (before.end_q is not None and position_q >= before.end_q):
                # Time stood between the two, and then the count-in began.
                break
            record = before
            relative = position_q - float(record.start_q)
        if relative < -record.slots.half_q:
            played.pass_index, played.at_q = FREE, relative
            return None
        found = locate([relative], record.slots)
        if found.pass_index[0] > 0:
            record = self._next_pass(record)
            relative = position_q - float(record.start_q)
            found = locate([relative], record.slots)
        played.pass_index, played.at_q = record.index, relative
        played.slot, played.slot_q = int(found.slot[0]), float(found.target_q[0])
        record.notes.append(played)
        return record

    def _next_pass(self, record: PassRecord) -> PassRecord:
        """The pass after one, made before it begins if need be."""
        follower = self.passes.get(record.index + 1)
        if follower is None:
            start_q = record.start_q + record.cycle_q
            follower = PassRecord(record.index + 1, start_q, record.start_sec, record.cycle_q, record.slots)
            self.passes[follower.index] = follower
        return follower

    def held(self) -> Iterator[Played]:
        """The notes that are still held down."""
        self._forget_ended()
        return iter(list(self._open.values()))

    # ---- raw events ------------------------------------------------------------------------------

    def event(self, event: Event, note_id: int | None, running: bool) -> None:
        """Remember a raw event (with the note it begins or ends), and forget those nobody can ask
        for any more.
        """
        self.controls.feed(event)
        self.events.append((event, note_id))
        if not self.passes or not running:
            while len(self.events) > FREE_EVENTS:
                self._forget(self.events.popleft()[1])
            if not self.passes:
                return
        oldest = self.passes[max(min(self.passes), max(self.passes) - KEEPABLE + 1)].start_sec - 1.0
        while self.events and running and self.events[0][0].time_sec < oldest:
            self._forget(self.events.popleft()[1])

    def _forget(self, note_id: int | None) -> None:
        note = self.notes.get(note_id) if note_id is not None else None
        if note is not None and note.pass_index == FREE and note.end_q is not None:
            del self.notes[note.id]

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        return (
            [_pass_parts(record) for _, record in sorted(self.passes.items())],
            [_pass_parts(record) for record in self.free],
            self.free_until_sec,
            list(self.events),
            sorted(self.late_sec.items()),
            sorted((port, repr(heard)) for port, heard in self.pickups.items()),
            sorted(self.brought_back),
        )


def _pass_parts(record: PassRecord) -> tuple[object, ...]:
    notes = [tuple(vars(note).values()) for note in record.notes]
    start = (record.index, str(record.start_q), record.start_sec, record.end_sec)
    return (*start, record.layered, record.layer, record.qpm, notes)
