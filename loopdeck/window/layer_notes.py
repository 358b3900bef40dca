"""The notes of layers as they are drawn: where they sound, which is not where they were played
once they are quantized.

Conventions: ``slot_q`` of such a mark is the onset as it was played, ``at_q`` the place where it
sounds by the brief of the moment, both in quarters from the start of a pass. A note beyond the end
of a cycle that was made shorter since is silent and not drawn. Pure.
"""

from collections.abc import Sequence

from loopdeck.brief.brief import Brief
from loopdeck.protocol.messages import LayerNote
from loopdeck.rhythm.quantize import quantize
from loopdeck.window.note_view import NoteView


def marks_of(notes: Sequence[LayerNote]) -> tuple[NoteView, ...]:
    """The marks of a layer, numbered below 0, as they were played."""
    return tuple(
        NoteView(
            -1 - index, 0, one.onset_q, one.onset_q, one.pitch, one.velocity, one.string, 0.0, one.duration_q, one.bend
        )
        for index, one in enumerate(notes)
    )


def place(marks: Sequence[NoteView], brief: Brief | None) -> None:
    """Set where the notes sound."""
    if brief is None or not marks:
        return
    moved = quantize([mark.slot_q for mark in marks], brief.slots, brief.strength / 100.0, brief.window / 100.0)
    cycle_q = float(brief.cycle.quarters)
    for mark, at_q in zip(marks, moved.tolist(), strict=True):
        mark.at_q = at_q if mark.slot_q < cycle_q else float("inf")
