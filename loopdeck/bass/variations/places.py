"""Another tuning: the same notes in new places, or the same places with new notes."""

from dataclasses import replace

import numpy as np

from loopdeck.bass.fingering import Fingering, finger
from loopdeck.bass.variations.line import Line
from loopdeck.capture.notes import NOTE_DTYPE
from loopdeck.theory.tuning import Tuning


def fingered(line: Line, tuning: Tuning) -> tuple[Line, Fingering]:
    """The line with the strings and frets of ``tuning``."""
    notes = np.zeros(len(line), NOTE_DTYPE)
    seconds = 60.0 / line.brief.tempo.quarters_per_minute
    notes["onset_sec"], notes["duration_sec"] = line.notes["onset_q"] * seconds, line.notes["duration_q"] * seconds
    notes["pitch"], notes["velocity"] = line.notes["pitch"], line.notes["velocity"]
    if tuning.strings == line.brief.tuning.strings:
        notes["string"] = line.notes["string"]
    found = finger(notes, tuning)
    placed = line.notes.copy()
    placed["string"], placed["fret"] = found.string, found.fret
    return Line(placed, line.bends, replace(line.brief, tuning=tuning)), found


def reshaped(line: Line, tuning: Tuning) -> tuple[Line, Fingering]:
    """The shape of the line on its own tuning, played on another one: strings and frets stay,
    pitches change.

    Strings are counted from the lowest, so that a shape keeps its place where the new tuning has
    more strings. What has no string there, and what could not be played before, falls away.
    """
    before, found = fingered(line, line.brief.tuning)
    old, new = len(line.brief.tuning.strings), len(tuning.strings)
    strings = before.notes["string"].astype(int) + new - old
    kept = np.flatnonzero((before.notes["string"] > 0) & (strings >= 1))
    shape = before.chosen(kept)
    opens = np.array([0, *tuning.strings])
    pitches = opens[strings[kept]] + shape.notes["fret"]
    notes = shape.notes.copy()
    inside = (pitches <= 127) & (shape.notes["fret"] <= tuning.frets)
    notes["pitch"], notes["string"] = np.minimum(pitches, 127), strings[kept]
    return Line(notes, shape.bends, replace(line.brief, tuning=tuning)).chosen(inside), found
