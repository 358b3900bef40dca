"""A stretch of a take as a take of its own: whole bars, with the notes and bends as they were
played."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.timing import Feel, place_onsets
from loopdeck.capture.notes import Notes
from loopdeck.capture.writing import events_of
from loopdeck.errors import UserError
from loopdeck.looper.heard import Views, text_of_views
from loopdeck.looper.recording import Recording
from loopdeck.rhythm.grid import parse_grid
from loopdeck.rhythm.meter import MAX_BARS, MAX_CYCLE_QUARTERS
from loopdeck.rhythm.swing import parse_swing
from loopdeck.shelf.carried import grid_of, settings_of
from loopdeck.shelf.hand_marks import NEAR_SEC
from loopdeck.shelf.material import Material, material_of
from loopdeck.shelf.take import Take, now_text


def excerpt(material: Material, indices: Sequence[int], name: str, raw: bool = False) -> Take:
    """The notes ``indices`` of a take, from the start of the bar of the first to the end of the bar
    of the last, as one pass.

    Onsets, lengths, velocities, channels and bends are as played, programs and pedals as they were
    set, techniques as the player said; the cycle is that of the bars, the grid of a file's notes
    the one they lie on. ``raw``: the material is as it arrived, and not as a pickup
    shows it; then the take is to be seen through the same pickup. Raises UserError if they are more
    bars than a cycle can have, or if a brief cannot have the tempo there.
    """
    chosen = np.sort(np.asarray(indices, np.int64))
    placed = place_onsets(material.onset_q, material.stretches, Feel(parse_grid("1/16"), parse_swing("straight")))
    first, last = int(placed.bar[chosen].min()), int(placed.bar[chosen].max())
    if last - first >= MAX_BARS:
        raise UserError(f"The stretch is {last - first + 1} bars long; a cycle has {MAX_BARS} at most.")
    meters = [material.meter_of(bar) for bar in range(first, last + 1)]
    length_q = float(sum(meter.quarters for meter in meters))
    if length_q > MAX_CYCLE_QUARTERS:
        raise UserError(f"The stretch is {length_q:g} quarters long; a cycle has {MAX_CYCLE_QUARTERS} at most.")
    lead = int(chosen[np.argmin(placed.bar[chosen])])
    start_q = float(placed.target_q[lead]) - float(placed.written[lead])
    start_sec, end_sec = (float(moment) for moment in material.tempo.seconds([start_q, start_q + length_q]))
    if not 0.0 < end_sec - start_sec < float("inf"):
        raise UserError("The stretch lies at moments that no clock can tell apart.")
    brief = material.brief.replace(
        tempo=f"{length_q * 60.0 / (end_sec - start_sec):.4f}",
        cycle=" ".join(str(meter) for meter in meters),
        grid=str(grid_of(material, chosen)),
    )
    notes = _from(material, chosen, start_sec)
    raw_events, channels = material.take.recording.events, set(notes.array["channel"].tolist())
    first_sec = min(float(notes.array["onset_sec"].min()), 0.0)
    carried = settings_of(raw_events, channels, start_sec, end_sec, first_sec)
    return Take(
        name=name,
        kept_at=now_text(),
        recording=Recording(
            brief=brief,
            events=tuple(sorted([*carried, *events_of(notes)], key=lambda event: event.time_sec)),
            passes=1,
            end_sec=end_sec - start_sec,
            views=text_of_views(_views(material.take.seen, start_sec, end_sec, raw)),
        ),
    )


def in_a_brief(take: Take) -> Take:
    """An imported take as one that was played in a brief, so that it has a cycle, a groove and a
    count; others as they are.

    One that is too long for a cycle, or whose tempo changes, stays as it is.
    """
    if not take.recording.meters:
        return take
    material = material_of(take)
    if not len(material) or len({round(point[2], 3) for point in take.tempo().points}) > 1:
        return take
    try:
        found = excerpt(material, range(len(material)), take.name, raw=True)
    except UserError:
        return take
    return replace(found, number=take.number, note=take.note, origin=take.origin)


def _views(seen: Views, start_sec: float, end_sec: float, raw: bool) -> Views:
    """How the stretch between two moments is to be seen, counted from the first. All its notes are
    on one input.
    """
    first = start_sec - NEAR_SEC
    technique = tuple(
        (sec - start_sec, pitch, how, marks) for sec, pitch, how, marks in seen.technique if first <= sec < end_sec
    )
    if not raw:
        return Views(technique=technique, strings=seen.strings)
    inputs = dict(enumerate(list(seen.inputs.values())[:1]))
    back = tuple((sec - start_sec, pitch) for sec, pitch in seen.back if first <= sec < end_sec)
    return Views(inputs, back, technique, seen.strings)


def _from(material: Material, chosen: NDArray[np.int64], start_sec: float) -> Notes:
    """The chosen notes, counted from ``start_sec``."""
    array = material.notes.array[chosen].copy()
    array["onset_sec"] -= start_sec
    return Notes(array, tuple(material.notes.bends[index] for index in chosen.tolist()))
