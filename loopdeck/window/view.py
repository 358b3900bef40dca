"""What the window knows: the engine's messages reduced to what is drawn.

Conventions: ``receive`` takes one message of ``protocol.messages``; this is the only place of the
window that knows them, but for those that a page has for itself. Messages it has no use for are
ignored, so that an engine may say more than this window draws. ``changed`` holds a counter for each
part, so the painter redraws only what is new. Times are seconds on the common monotonic clock.
Pure: no pygame, no socket, no clock of its own.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from operator import attrgetter
from typing import Any

from loopdeck.brief.brief import Brief, brief_from_dict
from loopdeck.protocol import messages
from loopdeck.protocol.messages import LayerRow, Message, Question
from loopdeck.window import layer_hand, layer_notes, taken_out, technique
from loopdeck.window.annotator import NoteAnnotator
from loopdeck.window.gear import Gear
from loopdeck.window.note_view import Lanes, NoteView
from loopdeck.window.notices import Notices
from loopdeck.window.played import FREE_PASS, PlayedNotes
from loopdeck.window.shelf_news import ShelfNews
from loopdeck.window.spoken import Context, Sentence
from loopdeck.window.timeline import ClockReading, CycleLayout, PassPosition

BACK = "The engine is back with everything you played; Tab starts."


@dataclass
class View:
    """Everything drawn, but for what the player is doing with the window itself (``ui``)."""

    brief: Brief | None = None
    brief_texts: dict[str, Any] = field(default_factory=dict)
    clock: ClockReading = field(default_factory=ClockReading)
    cycle_layout: CycleLayout = field(default_factory=lambda: CycleLayout("4/4"))
    annotator: NoteAnnotator = field(default_factory=NoteAnnotator)
    played: PlayedNotes = field(default_factory=PlayedNotes)
    layers: tuple[LayerRow, ...] = ()
    loops_next: int | None = None
    """The pass that loop-that would take: FREE_PASS for playing before the start, None for none."""
    layer_notes_of: dict[int, tuple[NoteView, ...]] = field(default_factory=dict)
    shelf: ShelfNews = field(default_factory=ShelfNews)
    gear: Gear = field(default_factory=Gear)
    notices: Notices = field(default_factory=Notices)
    engine_lost: str = ""
    changed: Counter[str] = field(default_factory=Counter)

    # ---- receiving -------------------------------------------------------------------------------

    def receive(self, message: Message) -> None:
        """Take in one message of the engine."""
        handler = _HANDLERS.get(type(message))
        if handler is not None:
            handler(self, message)
        elif type(message) in _FOR_PARTS:
            part, changes = _FOR_PARTS[type(message)]
            part(self).receive(message)
            self.changed[changes] += 1

    def _on_welcome(self, _: messages.Welcome) -> None:
        """A fresh engine: what the old one said is forgotten, what it knows follows."""
        lost, self.engine_lost = self.engine_lost, ""
        self.played.clear()
        self.layers, self.layer_notes_of, self.loops_next = (), {}, None
        self.shelf, self.notices, self.gear.devices = ShelfNews(), Notices(), ()
        if lost:
            self.notices.spoken.announce(BACK)
        self.annotator.forget_channels()
        self.changed.update(("notes", "before", "layers", "keeps", "devices", "message", "waiting"))

    def _on_clock(self, message: messages.ClockChanged) -> None:
        clock = ClockReading.of(message)
        if clock.running and not self.clock.running:
            self.played.begin_run()
            self.changed.update(("notes", "before"))
        elif self.clock.running and not clock.running:
            self.played.end_run()
            self.changed.update(("notes", "before"))
        if (clock.running, clock.pass_index) != (self.clock.running, self.clock.pass_index):
            self.played.remarks.turn()
        self.clock = clock
        self._set_cycle(clock.cycle)
        self.changed["clock"] += 1
        self.played.forget_before(clock.pass_index)
        if self.notices.spoken.enter(_context(clock), message.time_sec):
            self.changed["message"] += 1

    def _on_brief(self, message: messages.BriefChanged) -> None:
        before, self.brief_texts = self.brief_texts, dict(message.fields)
        self.brief = brief_from_dict(self.brief_texts)
        if before.get("scale") != self.brief_texts.get("scale"):
            self.played.remarks.another_scale()
        if not self.clock.running:
            self._set_cycle(str(self.brief.cycle))
        self._annotate_all()

    def _on_note_started(self, message: messages.NoteStarted) -> None:
        mark = NoteView(
            id=message.id,
            pass_index=message.pass_index,
            at_q=message.at_q,
            slot_q=message.slot_q,
            pitch=message.pitch,
            velocity=message.velocity,
            string=self.annotator.string_of(message, self.brief),
            stamp_sec=message.stamp_sec,
            length_q=message.length_q,
            bend=message.bend,
        )
        self._annotate(mark, self.played.add(mark))
        self._note_changed(mark)

    def _on_note_bent(self, message: messages.NoteBent) -> None:
        mark = self.played.find(message.id)
        if mark is not None:
            mark.bend = message.bend
            self._note_changed(mark)

    def _on_note_ended(self, message: messages.NoteEnded) -> None:
        mark = self.played.end(message.id, message.length_q)
        if mark is not None:
            mark.bend = message.bend
            self._note_changed(mark)

    def _on_layers(self, message: messages.LayersChanged) -> None:
        self.layers, self.loops_next = message.layers, message.loops_next
        active = {row.number for row in self.layers}
        for known in (self.layer_notes_of, self.played.how_in_layers):
            for number in known.keys() - active:
                del known[number]
        self.changed["layers"] += 1

    def _on_layer_notes(self, message: messages.LayerNotes) -> None:
        self.layer_notes_of[message.number] = layer_notes.marks_of(message.notes)
        self._annotate_layer(self.layer_notes_of[message.number])
        marks = self.layer_notes_of[message.number]
        self.played.how_in_layers[message.number] = technique.how_in_layer(marks, self.clock.qpm)
        self.changed["layers"] += 1

    # ---- telling ---------------------------------------------------------------------------------

    def tell(self, text: str, wrong: bool, now_sec: float, about: str = "") -> None:
        """Show a sentence of the window's own, or the engine's, in place of the one before."""
        self.notices.spoken.say(text, wrong, now_sec, about)
        self.changed["message"] += 1

    def lose_engine(self, sentence: str) -> None:
        """The engine is gone: nothing runs, nothing sounds, and the sentence stays."""
        self.engine_lost = sentence
        self.shelf.heard = 0
        self.clock = ClockReading(cycle=self.clock.cycle, cycle_q=self.clock.cycle_q, qpm=self.clock.qpm)
        self.layers = tuple(replace(row, sounding=False) for row in self.layers)
        self.changed.update(("message", "clock", "layers", "shelf"))

    def message(self, now_sec: float) -> Sentence | None:
        """The one sentence at the foot: the engine's loss before anything else, and what the last
        pass brought when nothing else is to be said. While one practises, the pass is told by what
        is judged.
        """
        if self.engine_lost:
            return Sentence(self.engine_lost, True, 0.0)
        if (said := self.notices.spoken.now(now_sec)) is not None:
            return said
        if self.played.practising.run is not None:
            return None
        text = self.played.remarks.sentence(self.clock.state, self.layers, space_takes(self, now_sec))
        return Sentence(text, False, 0.0, "pass") if text else None

    def waiting(self) -> Question | None:
        """What waits for an answer, the oldest first."""
        questions = self.notices.questions
        return questions[0] if questions and not self.engine_lost else None

    # ---- asking ----------------------------------------------------------------------------------

    def place(self, now_sec: float) -> PassPosition:
        """Where we are; while nothing runs, where we are on the page of free playing."""
        if self.clock.running:
            return self.clock.place(now_sec)
        return PassPosition(FREE_PASS, 0.0, False)

    def free_at(self, now_sec: float) -> float | None:
        """While nothing runs: how far free playing has come on its page, in quarters; None before
        its first note.
        """
        return None if self.clock.running else self.played.free_at(now_sec)

    def shown(self, now_sec: float) -> tuple[list[NoteView], list[NoteView]]:
        """The notes of this pass (with an early downbeat of the next one) and of the pass
        before.
        """
        return self.played.shown(self.place(now_sec), now_sec)

    def shown_key(self, now_sec: float) -> tuple[str, int]:
        """Changes whenever ``shown`` does without a note having come or gone."""
        if not self.clock.running:
            return "free", self.played.turn(now_sec)
        place = self.clock.place(now_sec)
        return "pass" if place.at_q >= 0 else "count-in", place.pass_index

    def early_next(self, now_sec: float) -> list[NoteView]:
        """Notes that already belong to the pass after this one."""
        place = self.place(now_sec)
        running = place.running and place.at_q >= 0
        return self.played.by_pass.get(place.pass_index + 1, []) if running else []

    @property
    def lanes(self) -> Lanes:
        """The lanes in force."""
        return self.annotator.lanes(self.brief)

    def set_lanes(self, kind: str) -> None:
        """Show strings or pitches."""
        self.annotator.lanes_kind, self.played.on_strings = kind, kind == "strings"
        self._annotate_all()

    # ---- within ----------------------------------------------------------------------------------

    def _set_cycle(self, cycle: str) -> None:
        grid = str(self.brief.grid) if self.brief is not None else ""
        if (cycle, grid) != (self.cycle_layout.text, self.cycle_layout.grid):
            self.cycle_layout = CycleLayout(cycle, grid)
            self.changed["cycle_layout"] += 1
        self.played.cycle_q, self.played.qpm = self.cycle_layout.quarters, self.clock.qpm

    def _annotate_all(self) -> None:
        for notes in self.played.by_pass.values():
            for index, mark in enumerate(notes):
                self._annotate(mark, notes[:index])
            technique.put_on_one_string(self.played, notes)
        for layer in self.layer_notes_of.values():
            self._annotate_layer(layer)
        self._set_cycle(self.cycle_layout.text)
        self.changed.update(("brief", "notes", "before", "layers"))

    def _annotate_layer(self, notes: tuple[NoteView, ...]) -> None:
        layer_notes.place(notes, self.brief)
        strings = layer_hand.strings_of(notes, self.brief, self.clock.qpm)
        for index, (mark, string) in enumerate(zip(notes, strings, strict=True)):
            self._annotate(mark, notes[max(0, index - 8) : index], string)

    def _annotate(self, mark: NoteView, before: Sequence[NoteView], string: int = 0) -> None:
        self.annotator.annotate(mark, before, self.brief, self.cycle_layout, self.clock.qpm, string)

    def _note_changed(self, mark: NoteView) -> None:
        self.changed["notes"] += 1
        technique.read_again(self.played, mark)
        if mark.pass_index < self.clock.pass_index or mark.pass_index == FREE_PASS:
            self.changed["before"] += 1


def _context(clock: ClockReading) -> Context:
    """What a sentence may speak of."""
    coming = [one for one in clock.next.split(", ") if one]
    lasting = [one for one in coming if not one.endswith(" beat")]
    return Context(clock.state, ", ".join(lasting), clock.pass_index, clock.qpm, len(lasting) < len(coming))


def space_takes(view: View, now_sec: float) -> int | None:
    """The pass that loop-that would take now, as the engine has told it; in its last half beat
    the pass that runs. A pass that runs is named only once something was played in it.
    """
    place = view.place(now_sec)
    if not place.running or place.at_q < 0.0:
        return view.loops_next
    if view.played.by_pass.get(place.pass_index):
        return place.pass_index if view.cycle_layout.is_ending(place.at_q) else view.loops_next
    # The news of this pass may be on their way: the last ones were of the pass before.
    told = view.clock.pass_index
    empty = {place.pass_index} if view.played.by_pass.get(told) else {place.pass_index, told}
    return view.loops_next if view.loops_next not in empty else None


def _on_heard(view: View, message: messages.PassHeard) -> None:
    pass_index = view.clock.pass_index if view.clock.running else None
    view.played.remarks.receive(message, pass_index)
    view.changed["heard"] += 1


_HANDLERS: Mapping[type[Message], Callable[[View, Any], None]] = {
    messages.Welcome: View._on_welcome,
    messages.ClockChanged: View._on_clock,
    messages.BriefChanged: View._on_brief,
    messages.NoteStarted: View._on_note_started,
    messages.NoteBent: View._on_note_bent,
    messages.NoteEnded: View._on_note_ended,
    messages.LayersChanged: View._on_layers,
    messages.LayerNotes: View._on_layer_notes,
    messages.PassHeard: _on_heard,
    messages.NoteWithdrawn: taken_out.on_withdrawn,
    messages.CleanUpChanged: taken_out.on_cleaned,
}

#: What a part of the view takes in by itself: the part, and what has changed for the painter.
_FOR_PARTS: Mapping[type[Message], tuple[Callable[[View], Any], str]] = {
    messages.TakeKept: (attrgetter("shelf"), "keeps"),
    messages.ShelfChanged: (attrgetter("shelf"), "shelf"),
    messages.DevicesChanged: (attrgetter("gear"), "devices"),
    messages.MixerChanged: (attrgetter("gear"), "levels"),
    messages.Said: (attrgetter("notices"), "message"),
    messages.QuestionsPending: (attrgetter("notices"), "waiting"),
}
