"""The tab of the loop, for the panel that shows it: which layers it is of, and the thread that
works it out beside the drawing.

Theory of operation
    ``latest`` is asked with every frame that shows the panel. It compares counters; only when they
    have moved does a thread begin to write the loop down (``page.loop``), and until it is done what
    it found before stays. One thread works at a time; what has changed meanwhile is next. Nothing
    is worked out while another panel is shown.

Conventions: ``at_q`` is where a column stands in the cycle as it is played, in quarters, so that a
swung note lies where the lanes above have it. Pure but for its thread: no pygame, no socket.
"""

import threading
import weakref
from collections.abc import Hashable
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from loopdeck.brief.brief import Brief
from loopdeck.errors import UserError
from loopdeck.theory.programs import is_guitar
from loopdeck.window.note_view import NoteView
from loopdeck.window.played import FREE_PASS
from loopdeck.window.spelling import is_silent
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

if TYPE_CHECKING:
    from loopdeck.looper.layers import Layer
    from loopdeck.page.form import Page
    from loopdeck.page.voice import Head


class Wanted(NamedTuple):
    """What is to be written down: the notes of some layers, or of a pass, and what to call it.

    ``instead``: what to show where the layers together have no place on the strings.
    """

    label: str
    layers: tuple[tuple[NoteView, ...], ...]
    brief: Brief
    instead: tuple[str, tuple[NoteView, ...]] | None = None


class TabColumn(NamedTuple):
    """One head of the tab: where it begins and ends in the cycle as played, its bar (from 0)."""

    at_q: float
    end_q: float
    bar: int
    head: "Head"


class LoopTab(NamedTuple):
    """The tab: its columns in order, which of them share a beam, and a sentence where something is
    to be said of it.
    """

    label: str = ""
    columns: tuple[TabColumn, ...] = ()
    beams: tuple[tuple[int, ...], ...] = ()
    said: str = ""

    def at(self, at_q: float) -> int:
        """The column that lasts at ``at_q``; -1 for none."""
        return next((index for index, one in enumerate(self.columns) if one.at_q <= at_q < one.end_q), -1)


NO_LAYER = "No layer yet: Space loops what you just played, and its tab appears here."
NO_TUNING = "No brief yet."


def wanted(view: View, ui: UiState) -> Wanted | str:
    """What the panel is to show: the chosen layer, else all that sound and that no guitar plays,
    else the pass that loop-that would take; a sentence where there is nothing.
    """
    if view.brief is None:
        return NO_TUNING
    notes = view.layer_notes_of
    if any(row.number == ui.chosen for row in view.layers):
        return Wanted(f"layer {ui.chosen}", (notes.get(ui.chosen or 0, ()),), view.brief)
    rows = [row for row in view.layers if not is_silent(row, view.layers)]
    heard = [row.number for row in rows if not is_guitar(row.program)] or [row.number for row in rows]
    if len(heard) == 1:
        return Wanted(f"layer {heard[0]}", (notes.get(heard[0], ()),), view.brief)
    if heard:
        newest = (f"layer {heard[-1]}", notes.get(heard[-1], ()))
        return Wanted("layers", tuple(notes.get(number, ()) for number in heard), view.brief, newest)
    if view.layers:
        return "Every layer is muted; choose one with the arrows to see its tab."
    if view.loops_next is None or view.loops_next == FREE_PASS:
        return NO_LAYER
    played = tuple(view.played.by_pass.get(view.loops_next, ()))
    return Wanted(f"pass {view.loops_next + 1}", (played,), view.brief) if played else NO_LAYER


def _key(view: View, ui: UiState) -> Hashable:
    """Changes whenever ``wanted`` does."""
    changed = view.changed
    notes = 0 if view.layers else changed["before"]
    return changed["layers"], changed["brief"], changed["cycle_layout"], ui.chosen, view.loops_next, notes


class TabWorker:
    """Writes loops down in a thread of its own."""

    def __init__(self) -> None:
        self._view: weakref.ref[View] | None = None
        self._asked: Hashable = None
        self._thread: threading.Thread | None = None
        self._found = LoopTab()
        self.turn = 0
        """Goes up with every tab that was found."""

    def latest(self, view: View, ui: UiState) -> LoopTab:
        """The newest tab there is; a newer one is begun when something has changed."""
        if self._thread is not None and self._thread.is_alive():
            return self._found
        if self._view is None or self._view() is not view:
            self._view, self._asked, self._found = weakref.ref(view), None, LoopTab()
        if (key := _key(view, ui)) != self._asked:
            self._asked = key
            want = wanted(view, ui)
            if isinstance(want, str):
                self._take(LoopTab(said=want))
            else:
                self._thread = threading.Thread(target=self._work, args=(want,), name="tab of the loop", daemon=True)
                self._thread.start()
        return self._found

    def finish(self, view: View, ui: UiState) -> LoopTab:
        """The tab of this very moment, however long it takes."""
        self.latest(view, ui)
        if self._thread is not None:
            self._thread.join()
        self.latest(view, ui)
        if self._thread is not None:
            self._thread.join()
        return self._found

    def _work(self, want: Wanted) -> None:
        try:
            self._take(written(want))
        except UserError as error:
            self._take(LoopTab(want.label, said=str(error)))

    def _take(self, found: LoopTab) -> None:
        self._found = found
        self.turn += 1


#: The one of this process.
WORKER = TabWorker()


# ---- in the thread -------------------------------------------------------------------------------


def written(want: Wanted) -> LoopTab:
    """The tab of what is wanted. Raises UserError where it cannot be written."""
    from loopdeck.page.loop import loop_page

    page = loop_page([_layer(number, notes) for number, notes in enumerate(want.layers, 1)], want.brief)
    if page.unplayable and want.instead is not None:
        label, notes = want.instead
        page = loop_page([_layer(1, notes)], want.brief)
        return _columns(page, label, _said(page) or f"Together they do not fit on the strings; this is {label} alone.")
    return _columns(page, want.label, _said(page))


def _said(page: "Page") -> str:
    count = len(page.unplayable)
    return f"{count} {'note has' if count == 1 else 'notes have'} no place on these strings." if count else ""


def _columns(page: "Page", label: str, said: str) -> LoopTab:
    from loopdeck.page.beams import beam_groups
    from loopdeck.page.voice import heads_of

    brief = page.brief
    columns: list[TabColumn] = []
    beams: list[tuple[int, ...]] = []
    for number, (bar, start, heads) in enumerate(
        zip(page.bars, brief.cycle.bar_starts, heads_of(page.bars), strict=True)
    ):
        first = len(columns)
        beams += [tuple(first + index for index in group) for group in beam_groups(heads, bar.meter)]
        for head in heads:
            ends = start + head.at + head.value.length
            columns.append(TabColumn(_played(start + head.at, brief), _played(ends, brief), number, head))
    return LoopTab(label, tuple(columns), tuple(beams), said)


def _played(written: Fraction, brief: Brief) -> float:
    """Where a written place is played: with swing, between the slots around it."""
    import numpy as np

    slots = brief.slots
    ends = float(brief.cycle.quarters)
    return float(np.interp(float(written), [*slots.written_q, ends], [*slots.played_q, ends]))


def _layer(number: int, notes: tuple[NoteView, ...]) -> "Layer":
    """Marks of the window as a layer, as they were played."""
    import numpy as np

    from loopdeck.looper.layers import LAYER_DTYPE, Layer

    known = [mark for mark in notes if mark.length_q is not None]
    array = np.zeros(len(known), LAYER_DTYPE)
    bends = []
    for row, mark in enumerate(known):
        # Of a layer's note slot_q is where it was played; of a played one at_q.
        onset = mark.slot_q if mark.id < 0 else mark.at_q
        channel = max(mark.string - 1, 0)
        array[row] = (onset, mark.length_q, mark.pitch, mark.velocity, channel, mark.string, 0)
        bends.append(np.array(mark.bend, float) if mark.bend else np.zeros((1, 2)))
    return Layer(number, array, tuple(bends), 0, 34, 1)
