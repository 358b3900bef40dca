"""The notes of layers as they are drawn: where they sound, which is not where they were played
once they are quantized.

Conventions: ``slot_q`` of such a mark is the onset as it was played, ``at_q`` the place where it
sounds by the brief of the moment, both in quarters from the start of a pass. A note beyond the end
of a cycle that was made shorter since is silent and not drawn. Pure.
"""

from collections.abc import Sequence
from dataclasses import replace

from loopdeck.brief.brief import Brief
from loopdeck.protocol.messages import LayerNote
from loopdeck.rhythm.quantize import quantize
from loopdeck.theory.chord import together_name
from loopdeck.window.note_view import CHORD_Q, Lanes, NoteView, Spelling, lay
from loopdeck.window.spelling import pretty_chord


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


# ---- a guitar beside the bass --------------------------------------------------------------------


def chords_of(marks: Sequence[NoteView], brief: Brief | None, lanes: Lanes) -> tuple[NoteView, ...]:
    """A guitar's notes as marks between the strings of the bass: what is struck together is one
    mark with the name of the chord, where the bass would play its lowest note, and has no fret.
    """
    struck: list[list[NoteView]] = []
    for mark in sorted(marks, key=lambda one: (one.at_q, one.pitch)):
        if struck and mark.at_q - struck[-1][0].at_q < CHORD_Q:
            struck[-1].append(mark)
        else:
            struck.append([mark])
    return tuple(_chord(notes, brief, lanes) for notes in struck)


def _chord(notes: Sequence[NoteView], brief: Brief | None, lanes: Lanes) -> NoteView:
    lowest = min(notes, key=lambda one: one.pitch)
    scale, tuning = (brief.scale, brief.tuning) if brief is not None else (None, None)
    name = together_name([one.pitch for one in notes], scale)
    known = [one.length_q for one in notes if one.length_q is not None]
    pitch = lowest.pitch
    while tuning is not None and pitch - 12 >= min(tuning.strings):
        pitch -= 12
    mark = replace(
        lowest,
        pitch=pitch,
        string=0,
        length_q=max(known, default=None),
        spelling=Spelling(pretty_chord(name)) if name else lowest.spelling,
    )
    lay(mark, (), lanes, tuning)
    mark.fret = None
    return mark
