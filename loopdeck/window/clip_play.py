"""A riff as a window would hear of it, from moment to moment: for the frames of a clip.

Conventions
    Quarters count from the start of the first pass. Pure.
"""

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

from loopdeck.brief.brief import Brief
from loopdeck.errors import UserError
from loopdeck.protocol.messages import (
    BendPoint,
    BriefChanged,
    ClockChanged,
    LayerNote,
    LayerNotes,
    LayerRow,
    LayersChanged,
    NoteEnded,
    NoteStarted,
)
from loopdeck.rhythm.quantize import quantize
from loopdeck.window.loop_tab import LoopTab, Wanted, written
from loopdeck.window.view import View

#: Nearer than this, in quarters, two moments are one.
_SAME_Q = 1e-6


class ClipNote(NamedTuple):
    """One note: where it lies in quarters, on which string (1 the highest, 0 not known), and how
    its pitch moves: (quarters after its onset, semitones).
    """

    onset_q: float
    duration_q: float
    pitch: int
    velocity: int
    string: int
    bend: tuple[tuple[float, float], ...] = ()


class ClipPlay:
    """``view`` knows the riff of the pass ``turn`` as a layer, and what of it was reached as
    played.

    ``tab``: that of the pass, where it is wanted.
    """

    def __init__(self, brief: Brief, notes: Sequence[ClipNote], qpm: float, with_tab: bool) -> None:
        self.notes, self._qpm, self._with_tab = sorted(notes), qpm, with_tab
        self._cycle_q, self._half_q = float(brief.cycle.quarters), brief.slots.half_q
        self.view = View()
        # The riff stands where it was played, not where a layer of it would sound.
        self.view.receive(BriefChanged(fields=brief.replace(strength=0).to_dict()))
        self.turn, self._reached_q = -1, 0.0
        self.tab = LoopTab()
        self._due: list[tuple[float, Callable[[], None]]] = []
        # The cycle is known from the clock on.
        self._begin(0)

    def sec(self, here_q: float) -> float:
        """The second of the view's clock at a place in the pass."""
        return here_q * 60 / self._qpm

    def reach(self, at_q: float) -> float:
        """Let the view know all up to a moment; returns the place in its pass, in quarters."""
        turn = max(math.floor(at_q / self._cycle_q + _SAME_Q), 0)
        here = max(at_q - turn * self._cycle_q, 0.0)
        if turn != self.turn or here < self._reached_q:
            self._begin(turn)
        self._reached_q = here
        while self._due and self._due[0][0] <= here + _SAME_Q:
            self._due.pop(0)[1]()
        return here

    def _begin(self, turn: int) -> None:
        """A pass begins: its riff as a layer, and its notes to come."""
        self.turn = turn
        start = turn * self._cycle_q
        view = self.view
        view.played.clear()
        view.receive(
            ClockChanged(
                state="LISTENING", running=True, pass_index=turn, anchor_sec=0.0, anchor_q=0.0, qpm=self._qpm, pass_start_q=0.0,
                cycle=view.cycle_layout.text, cycle_q=self._cycle_q,
            )
        )  # fmt: skip
        # An early downbeat belongs to the pass it begins.
        first = start - self._half_q
        own = [one for one in self.notes if first <= one.onset_q < first + self._cycle_q]
        layer = tuple(
            LayerNote(one.onset_q - start, one.duration_q, *one[2:5], tuple(BendPoint(*p) for p in one.bend))
            for one in own
        )
        view.receive(LayersChanged(layers=(LayerRow(number=1, muted=False, sounding=True, notes=len(own)),)))
        view.receive(LayerNotes(number=1, notes=layer))
        self._due = sorted(self._events(layer), key=lambda row: row[0])
        if self._with_tab and view.brief is not None:
            try:
                self.tab = written(Wanted("", (view.layer_notes_of[1],), view.brief))
            except UserError as error:
                self.tab = LoopTab(said=str(error))

    def _events(self, notes: Sequence[LayerNote]) -> list[tuple[float, Callable[[], None]]]:
        """Each note begins and ends as it was played, and says so at its moment."""
        brief = self.view.brief
        assert brief is not None
        slots = quantize([one.onset_q for one in notes], brief.slots, 1.0, 1.0).tolist() if notes else []
        found: list[tuple[float, Callable[[], None]]] = []
        for number, (one, slot_q) in enumerate(zip(notes, slots, strict=True)):
            begun = NoteStarted(
                id=number, pass_index=self.turn, at_q=one.onset_q, slot_q=slot_q, pitch=one.pitch, velocity=max(one.velocity, 1),
                string=one.string, stamp_sec=one.onset_q * 60 / self._qpm, bend=one.bend,
            )  # fmt: skip
            ended = NoteEnded(id=number, length_q=one.duration_q, bend=one.bend)
            found.append((one.onset_q, lambda begun=begun: self.view.receive(begun)))  # type: ignore[misc]
            found.append((one.onset_q + one.duration_q, lambda ended=ended: self.view.receive(ended)))  # type: ignore[misc]
        return found
