"""What the window knows: the engine's messages reduced to what is drawn.

Conventions: ``receive`` takes one message of ``protocol.messages``; types it has no use for are ignored. ``changed`` holds a counter for each part, so the painter redraws only what is new.
Times are seconds on the common monotonic clock. Pure: no pygame, no socket, no clock of its own.
"""

from collections import Counter
from dataclasses import dataclass, field, replace
from typing import Any

from loopdeck.brief.brief import Brief, brief_from_dict
from loopdeck.protocol import messages
from loopdeck.window import marks
from loopdeck.window.levels import Level, Levels
from loopdeck.window.marks import Lanes, Mark
from loopdeck.window.place import Clock, Course, Place

PASSES_KEPT = 2  # passes older than the one before this are forgotten
MESSAGE_SEC = 12.0
# Free playing (nothing runs) is laid out on pages as long as one cycle, so it looks like playing in time.
FREE_PASS = -1


@dataclass(frozen=True)
class LayerRow:
    """One layer as its row shows it."""

    number: int
    muted: bool
    sounding: bool
    notes: int

    @property
    def word(self) -> str:
        """The layer's state in a word."""
        return "MUTED" if self.muted else "SOUNDING" if self.sounding else "READY"


@dataclass(frozen=True)
class KeptRow:
    """One take kept in this session."""

    number: int
    name: str
    when: str
    passes: int
    rating: int


@dataclass(frozen=True)
class Device:
    """One connection: ``role`` "in", "out" or "controls"; ``state`` "connected", "not found, looking" or "none"."""

    role: str
    name: str
    state: str


@dataclass(frozen=True)
class Message:
    """The one sentence at the bottom. ``until_sec`` None: it stays until something takes its place."""

    text: str
    wrong: bool
    until_sec: float | None


@dataclass(frozen=True)
class Offer:
    """Something the engine offers; ``accept`` and ``refuse`` are the commands (name, arguments) that answer it."""

    text: str
    accept: tuple[str, dict[str, Any]]
    refuse: tuple[str, dict[str, Any]]


@dataclass
class View:
    """Everything drawn, but for what the player is doing with the window itself (``desk``)."""

    brief: Brief | None = None
    brief_texts: dict[str, Any] = field(default_factory=dict)
    clock: Clock = field(default_factory=Clock)
    course: Course = field(default_factory=lambda: Course("4/4"))
    lanes_kind: str = "strings"
    notes: dict[int, list[Mark]] = field(default_factory=dict)
    last: Mark | None = None
    layers: tuple[LayerRow, ...] = ()
    outlines: dict[int, tuple[tuple[float, float, int], ...]] = field(default_factory=dict)
    kepts: tuple[KeptRow, ...] = ()
    devices: tuple[Device, ...] = ()
    levels: Levels = field(default_factory=Levels)
    offer: Offer | None = None
    engine_lost: str = ""
    changed: Counter[str] = field(default_factory=Counter)
    _said: Message | None = None
    _by_id: dict[int, Mark] = field(default_factory=dict)
    _free_from_sec: float | None = None

    # ---- receiving ------------------------------------------------------------------------------------------------------

    def receive(self, message: messages.Message) -> None:
        """Take in one message of the engine."""
        handler = _HANDLERS.get(type(message))
        if handler is not None:
            getattr(self, handler)(message)

    def _on_welcome(self, _: messages.Welcome) -> None:
        """A fresh engine: what the old one said is forgotten, its snapshot follows."""
        self.engine_lost = ""
        self.notes.clear()
        self._by_id.clear()
        self.layers, self.outlines, self.kepts, self.devices = (), {}, (), ()
        self.last, self.offer, self._said = None, None, None
        self.changed.update(("notes", "before", "layers", "kepts", "devices", "message"))

    def _on_clock(self, message: messages.ClockChanged) -> None:
        clock = Clock.of(message)
        if clock.cycle != self.course.text:
            self.course = Course(clock.cycle)
            self.changed["course"] += 1
        if clock.running and not self.clock.running:
            # A new start counts its passes from 0 again.
            self.notes.clear()
            self._by_id.clear()
            self._free_from_sec = None
            self.changed.update(("notes", "before"))
        self.clock = clock
        self.changed["clock"] += 1
        self._forget(clock.pass_index)

    def _on_brief(self, message: messages.BriefChanged) -> None:
        self.brief = brief_from_dict(message.fields)
        self.brief_texts = dict(message.fields)
        if not self.clock.running and self.course.text != str(self.brief.cycle):
            self.course = Course(str(self.brief.cycle))
            self.changed["course"] += 1
        for notes in self.notes.values():
            for mark in notes:
                self._dress(mark)
        if self.last is not None:
            marks.spell(self.last, self.brief)
        self.changed.update(("brief", "notes", "before"))

    def _on_note_started(self, note: messages.NoteStarted) -> None:
        mark = Mark(
            id=note.id,
            pass_index=note.pass_index,
            at_q=note.at_q,
            slot_q=note.slot_q,
            pitch=note.pitch,
            velocity=note.velocity,
            string=note.string,
            stamp_sec=note.stamp_sec,
            length_q=note.length_q,
        )
        if mark.pass_index == FREE_PASS:
            self._free_place(mark)
        notes = self.notes.setdefault(mark.pass_index, [])
        # A snapshot may repeat a note that is known already.
        notes[:] = [other for other in notes if other.id != mark.id]
        notes.append(mark)
        self._by_id[mark.id] = mark
        self._dress(mark)
        self.last = mark
        self._note_changed(mark)

    def _on_note_ended(self, note: messages.NoteEnded) -> None:
        mark = self._by_id.get(note.id)
        if mark is not None:
            mark.length_q = max(0.0, note.length_q)
            self._note_changed(mark)

    def _on_layers(self, message: messages.LayersChanged) -> None:
        self.layers = tuple(LayerRow(row.number, row.muted, row.sounding, row.notes) for row in message.layers)
        self.changed["layers"] += 1

    def _on_layer_notes(self, message: messages.LayerNotes) -> None:
        self.outlines[message.number] = tuple((note.onset_q, note.duration_q, note.pitch) for note in message.notes)
        self.changed["layers"] += 1

    def _on_kept(self, take: messages.TakeKept) -> None:
        row = KeptRow(take.number, take.name, take.when, take.passes, take.rating)
        self.kepts = (row, *(old for old in self.kepts if old.number != row.number))[:8]
        self.changed["kepts"] += 1

    def _on_devices(self, message: messages.DevicesChanged) -> None:
        self.devices = tuple(Device(row.role, row.name, row.state) for row in message.devices)
        self.changed["devices"] += 1

    def _on_mixer(self, message: messages.MixerChanged) -> None:
        self.levels = Levels.of(message)
        self.changed["levels"] += 1

    def _on_said(self, message: messages.Said) -> None:
        self.tell(message.text, message.wrong, message.time_sec)

    def _on_questions(self, message: messages.QuestionsPending) -> None:
        self.offer = None
        if message.questions:
            first = message.questions[0]
            accept, refuse = ((call.name, dict(call.args)) for call in (first.accept, first.refuse))
            self.offer = Offer(f"{first.text} (Shift+F5: yes; Shift+F8: no.)", accept, refuse)
        self.changed["message"] += 1

    # ---- telling --------------------------------------------------------------------------------------------------------

    def tell(self, text: str, wrong: bool, now_sec: float, stays: bool = False) -> None:
        """Show a sentence of the window's own, or the engine's, in place of the one before."""
        self._said = Message(text, wrong, None if stays else now_sec + MESSAGE_SEC) if text else None
        self.changed["message"] += 1

    def lose_engine(self, sentence: str) -> None:
        """The engine is gone: nothing runs, nothing sounds, and the sentence stays."""
        self.engine_lost = sentence
        self.clock = Clock(cycle=self.clock.cycle, cycle_q=self.clock.cycle_q, qpm=self.clock.qpm)
        self.layers = tuple(replace(row, sounding=False) for row in self.layers)
        self.changed.update(("message", "clock", "layers"))

    def message(self, now_sec: float) -> Message | None:
        """The one message: the engine's loss before an offer before what was said last."""
        if self.engine_lost:
            return Message(self.engine_lost, True, None)
        if self._said is not None and (self._said.until_sec is None or now_sec < self._said.until_sec):
            # An offer waits while a fresh sentence answers what the player has just done.
            return self._said
        return Message(self.offer.text, False, None) if self.offer is not None else None

    # ---- asking ---------------------------------------------------------------------------------------------------------

    def place(self, now_sec: float) -> Place:
        """Where we are; while nothing runs, where we are on the page of free playing."""
        if self.clock.running:
            return self.clock.place(now_sec)
        return Place(FREE_PASS, 0.0, False)

    def free_at(self, now_sec: float) -> float | None:
        """While nothing runs: how far free playing has come on its page, in quarters; None before its first note."""
        if self.clock.running or self._free_from_sec is None:
            return None
        return (now_sec - self._free_from_sec) % self._cycle_sec() * self.clock.qpm / 60

    def shown(self, now_sec: float) -> tuple[list[Mark], list[Mark]]:
        """The notes of this pass (with an early downbeat of the next one) and of the pass before."""
        place = self.place(now_sec)
        if not place.running and FREE_PASS not in self.notes:
            # Stopped, and nothing played since: what was last played stays in sight.
            last = max(self.notes, default=0)
            return self.notes.get(last, []), self.notes.get(last - 1, [])
        if not place.running:
            turn = self._turn(now_sec)
            free = self.notes.get(FREE_PASS, [])
            return [m for m in free if self._turn(m.stamp_sec) == turn], [
                m for m in free if self._turn(m.stamp_sec) == turn - 1
            ]
        if place.at_q < 0:
            # An early first downbeat, played while the count-in still runs.
            return self.notes.get(0, []), []
        this = self.notes.get(place.pass_index, [])
        return this, self.notes.get(place.pass_index - 1, []) if place.pass_index > 0 else []

    def shown_key(self, now_sec: float) -> tuple[bool, int]:
        """Changes whenever ``shown`` does without a note having come or gone."""
        if not self.clock.running:
            return False, self._turn(now_sec)
        place = self.clock.place(now_sec)
        return place.at_q >= 0, place.pass_index

    def early_next(self, now_sec: float) -> list[Mark]:
        """Notes that already belong to the pass after this one."""
        place = self.place(now_sec)
        return self.notes.get(place.pass_index + 1, []) if place.running and place.at_q >= 0 else []

    @property
    def lanes(self) -> Lanes:
        """The lanes in force."""
        return marks.lanes_of(self.brief, self.lanes_kind)

    def set_lanes(self, kind: str) -> None:
        """Show strings or pitches."""
        self.lanes_kind = kind
        for notes in self.notes.values():
            for mark in notes:
                self._dress(mark)
        self.changed.update(("brief", "notes", "before"))

    def sound_lines(self) -> list[Level]:
        """The lines of the sound page; empty where nothing sounds built in."""
        return self.levels.lines((row.number, row.muted) for row in self.layers)

    def has_input(self) -> bool:
        """True when an instrument is connected."""
        return any(one.role == "in" and one.state == "connected" for one in self.devices)

    # ---- within ---------------------------------------------------------------------------------------------------------

    def _dress(self, mark: Mark) -> None:
        """Name, lane and timing of a note, by the brief of the moment."""
        marks.spell(mark, self.brief)
        earlier = [other for other in self.notes.get(mark.pass_index, []) if other.id < mark.id]
        first = self.course.arches[0]
        marks.time(mark, earlier, self.clock.qpm, first.length_q / first.units)
        lanes = self.lanes
        if lanes.kind == "pitches":
            mark.lane = lanes.classes.index(mark.pitch % 12)
        elif self.brief is not None:
            mark.lane = marks.string_lane(mark, earlier[-8:], self.brief.tuning)

    def _note_changed(self, mark: Mark) -> None:
        self.changed["notes"] += 1
        if mark.pass_index < self.clock.pass_index or mark.pass_index == FREE_PASS:
            self.changed["before"] += 1

    def _forget(self, pass_index: int) -> None:
        for old in [p for p in self.notes if FREE_PASS < p < pass_index - PASSES_KEPT + 1]:
            for mark in self.notes.pop(old):
                self._by_id.pop(mark.id, None)

    def _cycle_sec(self) -> float:
        return self.course.quarters * 60 / self.clock.qpm

    def _turn(self, time_sec: float) -> int:
        start = self._free_from_sec
        return 0 if start is None else int((time_sec - start) // self._cycle_sec())

    def _free_place(self, mark: Mark) -> None:
        """Free playing has no place of its own: it is laid on pages as long as the cycle, from its first note on."""
        if self._free_from_sec is None:
            self._free_from_sec = mark.stamp_sec
        since = (mark.stamp_sec - self._free_from_sec) % self._cycle_sec()
        mark.at_q = mark.slot_q = since * self.clock.qpm / 60
        free = self.notes.get(FREE_PASS, [])
        turn = self._turn(mark.stamp_sec)
        for old in [m for m in free if self._turn(m.stamp_sec) < turn - 1]:
            free.remove(old)
            self._by_id.pop(old.id, None)


_HANDLERS: dict[type[messages.Message], str] = {
    messages.Welcome: "_on_welcome",
    messages.ClockChanged: "_on_clock",
    messages.BriefChanged: "_on_brief",
    messages.NoteStarted: "_on_note_started",
    messages.NoteEnded: "_on_note_ended",
    messages.LayersChanged: "_on_layers",
    messages.LayerNotes: "_on_layer_notes",
    messages.TakeKept: "_on_kept",
    messages.DevicesChanged: "_on_devices",
    messages.MixerChanged: "_on_mixer",
    messages.Said: "_on_said",
    messages.QuestionsPending: "_on_questions",
}
