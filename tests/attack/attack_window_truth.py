"""Attacks on what the window is told: whatever is pressed and played, it shows what the looper has,
``Space`` does what the window says it would, and a keep stands where it was played.
"""

import random
from pathlib import Path
from typing import Any

from loopdeck.looper.keep import Keep
from loopdeck.looper.keep_command import counted
from loopdeck.looper.recorder import FREE
from loopdeck.rhythm.meter import MAX_BARS
from loopdeck.session.session import Session
from loopdeck.shelf.material import material_of
from loopdeck.shelf.take import take_of_keep
from loopdeck.window.view import View, space_takes
from tests.attack.attack import Attack
from tests.attack.looper_script import script
from tests.unit.looper_tools import brief

STEPS = 250
#: With these, notes are placed or taken out otherwise than their events say.
JUDGED_ELSEWHERE = {"nudge", "follow", "late", "pickup", "clean", "loop-free"}


class Watched:
    """A session and the window that watches it."""

    def __init__(self) -> None:
        self.keeps: list[Keep] = []
        self.session = Session(brief(tempo="240"), keep=self.keeps.append)
        self.view = View()
        self.elsewhere = False
        for one in self.session.snapshot():
            self.view.receive(one)

    def look(self) -> None:
        """Tell the window what there is, and compare."""
        for one in self.session.take_messages():
            self.view.receive(one)
        self.session.take_outs()
        core, view = self.session.looper._core, self.view
        assert view.clock.state == core.state.name
        assert view.brief is not None and view.brief.to_dict() == core.brief.to_dict()
        assert view.loops_next == core.picker.promise(), "the window offers another pass than Space would take"
        rows = [(row.number, row.muted, row.solo, row.pass_index, row.notes) for row in view.layers]
        stack = core.stack
        assert rows == [
            (layer.number, one in stack.muted, one == stack.solo, layer.pass_index, len(layer))
            for one, layer in stack.rows()
        ]
        for layer in stack.layers():
            shown = [(mark.slot_q, mark.pitch, mark.length_q) for mark in view.layer_notes_of[layer.number]]
            assert shown == [tuple(row) for row in layer.notes[["onset_q", "pitch", "duration_q"]].tolist()]
        self._notes()

    def _notes(self) -> None:
        recorder = self.session.looper._core.recorder
        shown = {mark.id: mark for marks in self.view.played.by_pass.values() for mark in marks}
        for record in recorder.passes.values():
            for note in record.notes:
                assert note.pass_index == record.index and not note.hidden
                if record.index <= self.view.clock.pass_index - 40:
                    continue
                mark = shown.get(note.id)
                assert mark is not None and mark.at_q == note.at_q, f"note {note.id} is shown elsewhere, or not at all"
        last = max(recorder.passes, default=FREE)
        assert all(note.pass_index <= last for note in recorder.notes.values()), "a note of a pass that never began"

    def press(self, name: str, args: dict[str, Any], now: float) -> None:
        """A command, and what must come of it."""
        core = self.session.looper._core
        promise, before = space_takes(self.view, now), core.stack.active
        waits, kept = len(core.state.waiting), len(self.keeps)
        self.elsewhere = self.elsewhere or name in JUDGED_ELSEWHERE
        self.session.command(name, args, now)
        self.look()
        made = [core.stack[one].pass_index for one in core.stack.active if one not in before]
        if name == "loop-that" and not args and promise is None:
            assert not made, "a pass is looped that was not promised"
        elif name == "loop-that" and not args:
            waiting = core.state.waiting and core.record().index == promise
            assert made == [promise] or waiting, f"{promise} was promised, {made} is looped"
        if name == "keep" and len(self.keeps) > kept and len(core.state.waiting) == waits:
            self._placed(self.keeps[-1])

    def _placed(self, keep: Keep) -> None:
        """The notes of a keep stand where they stood in their passes, one behind the other."""
        found, recorder = material_of(take_of_keep(keep), layers=False), self.session.looper._core.recorder
        if self.elsewhere or keep.first_pass is None:
            return
        records = [record for record in counted(recorder) if record.index >= keep.first_pass]
        if not records:
            # The first pass runs still.
            return
        starts_q = [sum(float(one.cycle_q) for one in records[:number]) for number in range(len(records))]
        if len({str(one.cycle) for one in records}) > 1 and sum(len(one.bar_starts) for one in records) > MAX_BARS:
            # Together they are longer than a cycle can be.
            return
        assert keep.brief.cycle.quarters * keep.passes == sum(one.cycle_q for one in records)
        played = [
            (note.pitch, start_q + note.at_q)
            for start_q, one in zip(starts_q, records, strict=True)
            for note in one.notes
        ]
        kept = zip(found.notes.array["pitch"].tolist(), found.onset_q.tolist(), strict=True)
        for (pitch, at_q), (was, was_q) in zip(sorted(kept), sorted(played), strict=True):
            # What came before the first pass is placed by its first tempo.
            assert pitch == was and (abs(at_q - was_q) < 2e-3 or was_q < 0.0), (pitch, at_q, was, was_q)


def watched(rng: random.Random, folder: Path) -> None:
    """A session of many presses and notes."""
    one = Watched()
    for now, what in script(rng, STEPS):
        one.session.advance(now)
        one.look()
        if isinstance(what, bytes):
            continue
        if isinstance(what[0], str):
            one.press(what[0], what[1], now)
        else:
            one.session.midi(0, what[1], what[0], now)
            one.look()


ATTACKS = [
    Attack(
        "looper: what the window says",
        "the window shows what the looper has; Space does what it says; a keep stands where it was played",
        watched,
        short=4,
        nightly=2000,
        limit_sec=60.0,
    )
]
