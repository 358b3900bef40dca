"""What was played: the notes of the last passes, and of free playing, placed and named for the
lanes.

Conventions: passes count from 0; notes played while nothing runs belong to ``FREE_PASS`` and are
laid out on pages as long as the cycle, so that free playing looks like playing in time. Times are
seconds on the common monotonic clock. Pure.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from loopdeck.looper.recorder import REMEMBERED
from loopdeck.rhythm.anchor import Anchor
from loopdeck.window.note_view import NoteView
from loopdeck.window.remarks import Remarks
from loopdeck.window.taken_out import TakenOut
from loopdeck.window.target.state import Practising
from loopdeck.window.technique import HowPlayed
from loopdeck.window.timeline import PassPosition

FREE_PASS = -1
#: As many passes as can be looped, the one that runs, and one to come.
PASSES_KEPT = REMEMBERED


@dataclass
class PlayedNotes:
    """The notes by pass. ``cycle_q`` and ``qpm`` lay out free playing."""

    by_pass: dict[int, list[NoteView]] = field(default_factory=dict)
    last: NoteView | None = None
    remarks: Remarks = field(default_factory=Remarks)
    how: dict[int, HowPlayed] = field(default_factory=dict)
    """How notes were played, by their ids."""
    reads_later: bool = False
    """Whether somebody calls ``technique.catch_up`` now and then."""
    unread: dict[tuple[int, bool], dict[int, NoteView]] = field(default_factory=dict)
    """The notes that are to be read then, by their ids; by string, free playing apart (True)."""
    how_in_layers: dict[int, dict[int, HowPlayed]] = field(default_factory=dict)
    """The same of the notes of layers, by the layer's number."""
    taken_out: TakenOut = field(default_factory=TakenOut)
    practising: Practising = field(default_factory=Practising)
    """The target that is played against."""
    on_strings: bool = True
    """Whether the lanes are strings."""
    cycle_q: float = 4.0
    qpm: float = 120.0
    _by_id: dict[int, NoteView] = field(default_factory=dict)
    _free_from_sec: float | None = None

    def clear(self) -> None:
        """Forget everything."""
        self.by_pass.clear()
        self._by_id.clear()
        self.how.clear()
        self.unread.clear()
        self.last, self._free_from_sec = None, None
        self.remarks = Remarks()

    def end_run(self) -> None:
        """Time stops: what was played in time stays in sight, without what lay outside the passes.
        A note that is still held goes on as free playing. A pass without notes may never have
        begun.
        """
        for empty in [index for index, notes in self.by_pass.items() if not notes]:
            del self.by_pass[empty]
        if self.by_pass.keys() - {FREE_PASS} and all(
            mark.length_q is not None for mark in self.by_pass.get(FREE_PASS, ())
        ):
            self._forget_free()

    def begin_run(self) -> None:
        """Time runs: what was played before it is over."""
        self._forget_free()

    def _forget_free(self) -> None:
        for mark in self.by_pass.pop(FREE_PASS, []):
            self._by_id.pop(mark.id, None)
            self.how.pop(mark.id, None)
        self._free_from_sec = None

    def add(self, mark: NoteView) -> list[NoteView]:
        """Take in a note; returns the notes of its pass. A note known already is replaced."""
        if mark.pass_index == FREE_PASS:
            self._place_free(mark)
        known = self._by_id.get(mark.id)
        if known is not None and known in self.by_pass.get(known.pass_index, ()):
            self.by_pass[known.pass_index].remove(known)
        notes = self.by_pass.setdefault(mark.pass_index, [])
        notes.append(mark)
        self._by_id[mark.id] = mark
        self.last = mark
        return notes

    def end(self, note_id: int, length_q: float) -> NoteView | None:
        """A note has ended; returns it, None for one that is not known."""
        mark = self._by_id.get(note_id)
        if mark is not None:
            mark.length_q = max(0.0, length_q)
        return mark

    def withdraw(self, note_id: int) -> None:
        """Forget a note that was an error of the pickup."""
        mark = self._by_id.pop(note_id, None)
        self.how.pop(note_id, None)
        if mark is None:
            return
        notes = self.by_pass.get(mark.pass_index, [])
        if mark in notes:
            notes.remove(mark)
        if self.last is mark:
            self.last = next(reversed(self._by_id.values()), None)

    def find(self, note_id: int) -> NoteView | None:
        """The note by its number."""
        return self._by_id.get(note_id)

    def forget_before(self, pass_index: int) -> None:
        """Forget the passes nobody can ask for any more."""
        for old in [one for one in self.by_pass if FREE_PASS < one < pass_index - PASSES_KEPT + 1]:
            for mark in self.by_pass.pop(old):
                self._by_id.pop(mark.id, None)
                self.how.pop(mark.id, None)

    def each(self, do: Callable[[NoteView], None]) -> None:
        """Do something with every note."""
        for notes in self.by_pass.values():
            for mark in notes:
                do(mark)

    # ---- asking ----------------------------------------------------------------------------------

    def shown(self, place: PassPosition, now_sec: float) -> tuple[list[NoteView], list[NoteView]]:
        """The notes of this pass (with an early downbeat of the next one) and of the pass
        before.
        """
        if not place.running and FREE_PASS not in self.by_pass:
            # Stopped, and nothing played since: what was last played stays in sight.
            last = max(self.by_pass, default=0)
            return self.by_pass.get(last, []), self.by_pass.get(last - 1, [])
        if not place.running:
            turn = self.turn(now_sec)
            free = self.by_pass.get(FREE_PASS, [])
            return [m for m in free if self.turn(m.stamp_sec) == turn], [
                m for m in free if self.turn(m.stamp_sec) == turn - 1
            ]
        if place.at_q < 0:
            # An early first downbeat, played while the count-in still runs: of the pass to come,
            # which is the newest.
            coming = max(self.by_pass, default=0)
            return [m for m in self.by_pass.get(coming, []) if m.at_q < 0 and m.length_q is None], []
        this = self.by_pass.get(place.pass_index, [])
        return this, self.by_pass.get(place.pass_index - 1, []) if place.pass_index > 0 else []

    def sounding(self) -> list[NoteView]:
        """The notes that are held now. One that is held for more than a whole pass has lost its
        end on the way.
        """
        oldest = max(self.by_pass, default=0) - 1
        held = [mark for mark in self._by_id.values() if mark.length_q is None]
        return [mark for mark in held if mark.pass_index in (FREE_PASS, oldest, oldest + 1)]

    def with_last(self) -> list[NoteView]:
        """The last note and those struck together with it, from the lowest; empty before the
        first.
        """
        last = self.last
        if last is None:
            return []
        near = [last]
        for mark in reversed(self.by_pass.get(last.pass_index, [])):
            if all(mark.pitch != one.pitch for one in near) and abs(mark.stamp_sec - near[-1].stamp_sec) < 0.04:
                near.append(mark)
        return sorted(near, key=lambda one: one.pitch)

    def free_at(self, now_sec: float) -> float | None:
        """How far free playing has come on its page, in quarters; None before its first note."""
        if self._free_from_sec is None:
            return None
        return self._on_page(now_sec, self._free_from_sec)

    def turn(self, time_sec: float) -> int:
        """The page of free playing at a time."""
        start = self._free_from_sec
        return 0 if start is None else int((time_sec - start) // self._page_sec())

    def _on_page(self, sec: float, from_sec: float) -> float:
        """The position on its page of what is played at ``sec``, in quarters."""
        return Anchor(from_sec, 0.0, self.qpm).quarter_at(sec) % self.cycle_q

    def _page_sec(self) -> float:
        return self.cycle_q * 60 / self.qpm

    def _place_free(self, mark: NoteView) -> None:
        if self._free_from_sec is None:
            self._free_from_sec = mark.stamp_sec
        mark.at_q = mark.slot_q = self._on_page(mark.stamp_sec, self._free_from_sec)
        free = self.by_pass.get(FREE_PASS, [])
        turn = self.turn(mark.stamp_sec)
        for old in [m for m in free if self.turn(m.stamp_sec) < turn - 1]:
            free.remove(old)
            self._by_id.pop(old.id, None)
            self.how.pop(old.id, None)
