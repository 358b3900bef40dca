"""A run of practising in a session: passes are judged as they end, notes as they come, and the
tempo follows.

Theory of operation
    The session plays on as usual: the run is its cycle, its click and its count-in, and everything
    that is played goes into the journal. Before every frame ``step`` looks at where time is. In a
    pass of the player's each note is held against the target when it comes. When a pass has ended,
    and what is late of it has had time to arrive, it is judged as a whole, and the tempo moves.
    Another tempo begins with a bar of lead-in: time stops at the next beat and starts anew. Where
    target and player take turns the target leads in, and the tempo changes under it.

Conventions: seconds on the common monotonic clock; quarters from the start of a pass. Pure.
"""

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from loopdeck.capture.notes import NOTE_DTYPE
from loopdeck.practice.live import LivePass
from loopdeck.practice.practising import CALL, LEAD_IN, PASS, Plan, PracticeRun
from loopdeck.practice.target import Target
from loopdeck.practice.techniques import HandNote, written_notes
from loopdeck.protocol.messages import BendPoint, Command, LayerNote, TargetSet
from loopdeck.rhythm.anchor import Anchor
from loopdeck.window.note_view import NoteView
from loopdeck.window.target import TURNS
from loopdeck.window.technique import is_on_the_way
from loopdeck.window.timeline import ClockReading

if TYPE_CHECKING:
    from loopdeck.window.view import View

#: What is played at the end of a pass may arrive so much later: a low string of a slow pickup.
GRACE_SEC = 0.12
#: So long after its beginning it is told how a note was reached that still sounds.
TOLD_SEC = 0.15
#: Where time has been stopped by somebody else.
STANDS = "stands"


class TargetRun:
    """One run. ``kind`` is what goes on: LEAD_IN, CALL, PASS or STANDS."""

    def __init__(self, target: Target, plan: Plan, most: int = 0) -> None:
        self.practice = PracticeRun(target, plan)
        self.live: LivePass | None = None
        self.kind = LEAD_IN
        self.changed = 0
        self._most = most
        self._pass: int | None = None
        #: A pass that has ended: when to judge it, its number and its tempo.
        self._ended: tuple[float, int, float] | None = None
        self._turn_sec: float | None = None
        self._qpm = target.qpm

    @property
    def target(self) -> Target:
        """What is practised."""
        return self.practice.target

    @property
    def over(self) -> bool:
        """Nothing is left to do."""
        return self.practice.over or bool(self._most and len(self.practice.judged) >= self._most)

    def words(self) -> str:
        """What goes on, in words."""
        what = {LEAD_IN: "lead-in", CALL: "listen", STANDS: "Tab goes on"}.get(self.kind, "your turn")
        return f"practising {self.practice.qpm:g}: {what}"

    def begin(self) -> list[Command]:
        """Start: a bar of lead-in."""
        self.kind, self._pass, self._turn_sec = LEAD_IN, None, None
        return [Command(name="start", args={"bars": 1})]

    def tell_target(self, sounds: str) -> TargetSet:
        """The message that lets it sound."""
        columns = (target_column.tolist() for target_column in self._columns())
        notes = tuple(
            LayerNote(onset, long, pitch, velocity, string, tuple(BendPoint(*point) for point in curve.tolist()))
            for (onset, long, pitch, velocity, string), curve in zip(
                zip(*columns, strict=True), self.target.bends, strict=True
            )
        )
        return TargetSet(notes=notes, cycle_q=self.target.length_q, sounds=sounds)

    def _columns(self) -> tuple[NDArray[Any], ...]:
        target = self.target
        return target.onset_q, target.duration_q, target.pitch, target.velocity, target.string

    # ---- before every frame ----------------------------------------------------------------------

    def step(self, view: "View", now: float, sounds: str) -> list[Command]:
        """What has happened since the last frame; the commands that follow from it."""
        self._follow(view, now, sounds)
        if self.live is not None and self._pass is not None:
            self._listen(view, now)
        if self._ended is not None and now >= self._ended[0]:
            _, pass_index, qpm = self._ended
            self._ended = None
            return self._judge(view, now, pass_index, qpm, sounds)
        if self._turn_sec is not None and now >= self._turn_sec:
            return [Command(name="stop"), self._tempo(), *self.begin()]
        return []

    def _follow(self, view: "View", now: float, sounds: str) -> None:
        clock = view.clock
        here = clock.pass_index if clock.running and clock.pass_index >= 0 else None
        kind = self.kind
        if here is None:
            kind = LEAD_IN if clock.running or self._turn_sec is not None else STANDS
            self._turn_sec = None if not clock.running else self._turn_sec
        if here != self._pass:
            if here is not None and self._pass is not None and self.kind == PASS and self._turn_sec is None:
                start_sec = _anchor(clock).sec_at(clock.pass_start_q)
                self._ended = (max(start_sec, now) + GRACE_SEC, self._pass, self._qpm)
            self._pass = here
            self.live = None
            if here is not None:
                kind = CALL if sounds == TURNS and clock.run_pass % 2 == 0 else PASS
                self._qpm = clock.qpm
            if kind == PASS and here is not None:
                self.live = LivePass(self.target, clock.qpm, self.practice.plan.within_ms)
            self.changed += 1
        if kind != self.kind:
            self.kind = kind
            self.changed += 1

    def _listen(self, view: "View", now: float) -> None:
        assert self.live is not None and self._pass is not None
        news = [self.live.hear(mark.id, mark.at_q, mark.pitch) for mark in view.played.by_pass.get(self._pass, ())]
        place = view.clock.place(now)
        if place.running and place.pass_index == self._pass:
            news.append(self.live.reach(place.at_q))
        news.append(self.live.read_hands(_told_for_sure(view, self._pass, now)))
        self.changed += any(news)

    def _judge(self, view: "View", now: float, pass_index: int, qpm: float, sounds: str) -> list[Command]:
        notes = view.played.by_pass.get(pass_index, [])
        practice = self.practice
        # The player may have changed the tempo by hand.
        practice.qpm = qpm
        written = written_of(notes, self.target.length_q, 60.0 / qpm)
        practice.judge([mark.at_q for mark in notes], [mark.pitch for mark in notes], written)
        self.changed += 1
        if self.over or abs(practice.qpm - qpm) < 0.01:
            return []
        if sounds == TURNS:
            return [self._tempo()]
        clock = view.clock
        beat_q = np.ceil(_anchor(clock).quarter_at(now) - clock.pass_start_q)
        self._turn_sec = float(_anchor(clock).sec_at(clock.pass_start_q + max(beat_q, 1.0)))
        self.live = None
        return []

    def _tempo(self) -> Command:
        return Command(name="brief", args={"fields": {"tempo": f"{self.practice.qpm:.6g}"}})


def _told_for_sure(view: "View", pass_index: int, now: float) -> dict[int, str]:
    """How the notes of a pass were reached, as far as that can be told by now: of those that have
    ended, or have sounded for a while, and on strings that have been read since.
    """
    found: dict[int, str] = {}
    unread = view.played.unread
    for mark in view.played.by_pass.get(pass_index, ()):
        how = None if (mark.string, False) in unread else view.played.how.get(mark.id)
        told = mark.length_q is not None or now - mark.stamp_sec >= TOLD_SEC
        if how is not None and told and not how.unsure and not is_on_the_way(how):
            found[mark.id] = how.reached
    return found


def _anchor(clock: ClockReading) -> Anchor:
    return Anchor(clock.anchor_sec, clock.anchor_q, clock.qpm)


def written_of(notes: list[NoteView], length_q: float, quarter_sec: float) -> list[HandNote]:
    """The notes of a pass as a player would write them."""
    array = np.zeros(len(notes), NOTE_DTYPE)
    bends = []
    for row, mark in enumerate(notes):
        # A note that is still held sounds to the end of the pass.
        long = mark.length_q if mark.length_q is not None else max(length_q - mark.at_q, 0.0)
        array[row] = (mark.at_q * quarter_sec, long * quarter_sec, mark.pitch, mark.velocity, 0, mark.string)
        curve = np.array(mark.bend, float).reshape(-1, 2) * [quarter_sec, 1.0]
        if not len(curve) or curve[0, 0] > 0.0:
            curve = np.vstack([[0.0, curve[0, 1] if len(curve) else 0.0], curve])
        bends.append(curve)
    return written_notes(array, bends, quarter_sec)
