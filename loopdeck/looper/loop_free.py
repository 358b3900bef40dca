"""The command loop-free: playing before the start becomes the loop, at a tempo and in a cycle of
its own.

Theory of operation
    Whoever gives the command has found tempo and cycle in the playing (``analysis.induction``) and
    says where the stretch to be looped begins; all of it stands in the arguments, so a replay needs
    no guess. Only while time stands, and while no layer does: a layer goes by the tempo and the
    cycle it was made in. It is one step of the undo, which brings back the brief of before.
"""

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from itertools import islice
from typing import Any

from loopdeck.brief.brief import Brief
from loopdeck.looper.bring_back import change_fields, changed
from loopdeck.looper.core import Core
from loopdeck.looper.free_playing import MOST_NOTES
from loopdeck.looper.layering import Layering
from loopdeck.looper.news import Answer, tell_clock, tell_layer, tell_layers
from loopdeck.looper.recorder import FREE, PassRecord, Recorder
from loopdeck.looper.state import Refused

GONE = "What was played before the start is not remembered so far back."
STANDING = "Layers stand already, which go by another tempo; clear them first."


class LoopFree:
    """Acts on the parts of one looper."""

    def __init__(self, core: Core, layering: Layering) -> None:
        self._core, self._layering = core, layering

    def loop_free(self, fields: Mapping[str, Any], note: int, after_sec: float, qpm: float) -> Answer:
        """Loop what was played for a cycle of the brief with these ``fields``, from ``after_sec``
        seconds after the onset of ``note`` on; ``qpm`` is the tempo it was played at. Raises
        UserError.
        """
        core, stack = self._core, self._core.stack
        if stack.active:
            raise Refused(STANDING)
        before, now = changed(core, fields), core.brief.to_dict()
        brief = core.brief.replace(**dict(fields))
        counted_qpm = core.brief.tempo.quarters_per_minute
        first = core.recorder.notes.get(note)
        if first is None or first.pass_index != FREE:
            raise Refused(GONE)
        start_sec = first.stamp_sec + float(after_sec)
        record = _stretch(core.recorder, brief, start_sec, float(qpm), counted_qpm, core.now_sec)
        if not record.notes:
            raise Refused(GONE)
        if before:
            change_fields(core, {name: str(fields[name]) for name in before})
        layer = self._layering.layer_of(record, 1)
        (record.layer,), _ = stack.exchange([layer], False, {name: now[name] for name in before})
        core.picker.forget()
        tell_clock(core)
        tell_layer(core, layer)
        tell_layers(core)
        bars = len(core.brief.cycle.meters)
        what = f"{bars} bar{'' if bars == 1 else 's'} at {core.brief.tempo}"
        return Answer(f"What you played is layer 1: {what}; Tab starts it, undo takes it back.")


def _stretch(
    recorder: Recorder, brief: Brief, start_sec: float, qpm: float, counted_qpm: float, now_sec: float
) -> PassRecord:
    """The pass that began at ``start_sec``, as it arrived: its notes are moved by what their inputs
    are late. Their lengths were counted at ``counted_qpm``; a note still held lasts until now.
    """
    cycle_q, half_q = float(brief.cycle.quarters), brief.slots.half_q
    quarter = 60.0 / qpm
    newest = islice(reversed(recorder.notes.values()), MOST_NOTES)
    free = [note for note in newest if note.pass_index == FREE]
    within = [note for note in free if -half_q <= (note.stamp_sec - start_sec) / quarter < cycle_q - half_q]
    early = [recorder.judged_early(note) for note in within]
    start_sec -= sum(early) / len(early) if early else 0.0
    end_sec = start_sec + cycle_q * quarter
    record = PassRecord(FREE, Fraction(0), start_sec, brief.cycle.quarters, brief.slots, end_sec=end_sec, qpm=qpm)
    for note, late in sorted(zip(within, early, strict=True), key=lambda one: (one[0].stamp_sec, one[0].id)):
        at_q = (note.stamp_sec - late - start_sec) / quarter
        held_q = (now_sec - note.stamp_sec) / quarter
        long_q = (note.end_q - note.at_q) * qpm / counted_qpm if note.end_q is not None else held_q
        record.notes.append(replace(note, at_q=at_q, end_q=at_q + min(max(long_q, 0.0), cycle_q)))
    return record
