"""A stretch of a take as a take of its own: whole bars, with the notes and bends as they were played."""

from collections.abc import Sequence

import numpy as np

from loopdeck.analysis.timing import Feel, place_onsets
from loopdeck.capture.events import Event
from loopdeck.errors import UserError
from loopdeck.rhythm.grid import parse_grid
from loopdeck.rhythm.meter import MAX_BARS, MAX_CYCLE_QUARTERS
from loopdeck.rhythm.swing import parse_swing
from loopdeck.shelf.material import Material
from loopdeck.shelf.take import Take, now_text

_BEND_CENTRE, _SEMITONES = 8192, 2.0


def excerpt(material: Material, indices: Sequence[int], name: str) -> Take:
    """The notes ``indices`` of a take, from the start of the bar of the first to the end of the bar of the last, as one pass.

    Onsets, lengths, velocities, channels and bends are as played; the cycle is that of the bars. Raises UserError when they are more bars than a
    cycle has, or when the tempo there is none that a brief can have.
    """
    chosen = np.sort(np.asarray(indices, np.int64))
    placed = place_onsets(material.onset_q, material.stretches, Feel(parse_grid("1/16"), parse_swing("straight")))
    first, last = int(placed.bar[chosen].min()), int(placed.bar[chosen].max())
    meters = [material.meter_of(bar) for bar in range(first, last + 1)]
    length_q = float(sum(meter.quarters for meter in meters))
    if len(meters) > MAX_BARS or length_q > MAX_CYCLE_QUARTERS:
        raise UserError(f"The stretch is {len(meters)} bars long; a cycle has {MAX_BARS} at most.")
    lead = int(chosen[np.argmin(placed.bar[chosen])])
    start_q = float(placed.target_q[lead]) - float(placed.written[lead])
    start_sec, end_sec = (float(moment) for moment in material.tempo.seconds([start_q, start_q + length_q]))
    brief = material.brief.replace(
        tempo=f"{length_q * 60.0 / (end_sec - start_sec):.4f}", cycle=" ".join(str(meter) for meter in meters)
    )
    return Take(
        name=name,
        kept_at=now_text(),
        brief=brief,
        events=_events(material, chosen, start_sec),
        passes=1,
        end_sec=end_sec - start_sec,
    )


def _events(
    material: Material, chosen: "np.ndarray[tuple[int], np.dtype[np.int64]]", start_sec: float
) -> tuple[Event, ...]:
    events: list[tuple[float, int, Event]] = []
    for index in chosen.tolist():
        note = material.notes.array[index]
        on = float(note["onset_sec"]) - start_sec
        channel, pitch = int(note["channel"]) & 15, int(note["pitch"])
        curve = material.notes.bends[index]
        if len(curve) > 1 or curve[0, 1] != 0.0:
            for after, semitones in curve.tolist():
                bend = int(
                    np.clip(_BEND_CENTRE + round(semitones / _SEMITONES * _BEND_CENTRE), 0, 2 * _BEND_CENTRE - 1)
                )
                data = bytes((0xE0 | channel, bend & 127, bend >> 7))
                events.append((on + after, 1, Event(on + after, 0, data)))
        off = on + float(note["duration_sec"])
        events.append((on, 2, Event(on, 0, bytes((0x90 | channel, pitch, int(note["velocity"]))))))
        events.append((off, 0, Event(off, 0, bytes((0x80 | channel, pitch, 0)))))
    return tuple(event for _, _, event in sorted(events, key=lambda one: one[:2]))
