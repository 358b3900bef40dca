"""What a pupil plays to: the harmony of a riff as power chords, with click and groove, without the
bass.
"""

from math import ceil

import numpy as np

from loopdeck.bass.variations.harmony import power_chords
from loopdeck.bass.variations.line import LINE_DTYPE, Line
from loopdeck.capture.notes import NOTE_DTYPE, STRAIGHT_BEND, Notes
from loopdeck.capture.writing import events_of
from loopdeck.errors import UserError
from loopdeck.shelf.material import Material, material_of
from loopdeck.shelf.take import Take

#: How loud the chords are, in dB: the pupil's own bass is to be heard above them.
CHORDS_DB = -6.0


def backing_of(take: Take, groove: str = "medium") -> Take:
    """Power chords under the riff, as the playing of a take with that groove (or the brief's own,
    where it has one). Raises UserError.
    """
    material = material_of(take)
    line = _line(material)
    if not len(line):
        raise UserError(f"{take.said} has no notes, so there is nothing to hand out.")
    chords = power_chords(line, following=False)
    if not len(chords):
        chords = power_chords(line, following=True)
    brief = take.brief if take.brief.groove != "off" or take.recording.meters else take.brief.replace(groove=groove)
    tempo = take.tempo()
    array = np.zeros(len(chords), NOTE_DTYPE)
    array["onset_sec"] = tempo.seconds(chords.notes["onset_q"])
    array["duration_sec"] = tempo.seconds(chords.notes["onset_q"] + chords.notes["duration_q"]) - array["onset_sec"]
    array["pitch"], array["velocity"] = chords.notes["pitch"], chords.notes["velocity"]
    last_q = float((line.notes["onset_q"] + line.notes["duration_q"]).max())
    passes = take.recording.passes or max(1, ceil(last_q / float(brief.cycle.quarters) - 1e-6))
    return take.changed(
        brief=brief,
        events=events_of(Notes(array, tuple(STRAIGHT_BEND for _ in range(len(chords))))),
        layers=(),
        muted=frozenset(),
        passes=0 if take.recording.meters else passes,
        late={},
        views="",
        mix={"live": (CHORDS_DB, False)},
    )


def _line(material: Material) -> Line:
    """The pitched notes of a take as a line, without bends: only their roots are wanted."""
    rows = np.flatnonzero(material.pitched)
    notes = np.zeros(len(rows), LINE_DTYPE)
    notes["onset_q"], notes["duration_q"] = np.maximum(material.onset_q[rows], 0.0), material.duration_q[rows]
    for name in ("pitch", "velocity", "string"):
        notes[name] = material.notes.array[rows][name]
    return Line(notes, tuple(STRAIGHT_BEND for _ in rows), material.brief)
