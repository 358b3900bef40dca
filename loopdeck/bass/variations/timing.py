"""Another last bar, another swing."""

from dataclasses import replace

import numpy as np

from loopdeck.bass.variations.line import Line
from loopdeck.rhythm.meter import Cycle, Meter
from loopdeck.rhythm.swing import UNITS, Swing, unwarp, warp

#: What moves by less, in quarters, was not between two subdivisions: it is as early or late as it
#: was played.
_MOVES_Q = 0.02


def last_bar(line: Line, meter: Meter) -> Line:
    """The last bar of the cycle in another meter: what lies beyond it falls away, what follows
    moves up or down.
    """
    cycle = line.brief.cycle
    new = Cycle((*cycle.meters[:-1], meter))
    old_q, new_q = float(cycle.quarters), float(new.quarters)
    onsets = line.notes["onset_q"]
    # An early downbeat belongs to the pass it begins.
    turn = np.floor((onsets + line.brief.slots.half_q) / old_q)
    inside = onsets - turn * old_q
    kept = np.flatnonzero(inside < new_q - 1e-9)
    shorter = line.chosen(kept)
    notes = shorter.notes.copy()
    notes["onset_q"] = inside[kept] + turn[kept] * new_q
    room = new_q - inside[kept]
    last = inside[kept] < old_q
    notes["duration_q"] = np.where(last & (new_q < old_q), np.minimum(notes["duration_q"], room), notes["duration_q"])
    return Line(notes, shorter.bends, replace(line.brief, cycle=new))


def swung(line: Line, swing: Swing) -> Line:
    """The same played with another swing: each note keeps how early or late it was, and ends where
    its end moves to, so what was joined stays joined. Where the swing names no subdivision and none
    of the grid's is played between two others, the eighths swing.
    """
    brief = line.brief
    if swing.unit is None and not (swing.straight or brief.swing.straight):
        swing = replace(swing, unit=brief.swing.unit)
    straight = unwarp(line.notes["onset_q"], brief.cycle, brief.swing, brief.grid)
    places = warp(straight, brief.cycle, swing, brief.grid)
    if swing.unit is None and not swing.straight and np.abs(places - straight).max(initial=0.0) < _MOVES_Q:
        eighths = replace(swing, unit=UNITS["1/8"])
        by_eighths = warp(straight, brief.cycle, eighths, brief.grid)
        if np.abs(by_eighths - straight).max(initial=0.0) >= _MOVES_Q:
            swing, places = eighths, by_eighths
    ends = unwarp(line.notes["onset_q"] + line.notes["duration_q"], brief.cycle, brief.swing, brief.grid)
    notes = line.notes.copy()
    notes["duration_q"] = np.maximum(warp(ends, brief.cycle, swing, brief.grid) - places, 0.0)
    moved = replace(line, notes=notes).with_onsets(places)
    return Line(moved.notes, moved.bends, replace(brief, swing=swing))
