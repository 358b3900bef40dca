"""From notes back to raw MIDI events: what ``pairing`` would read as these notes again.

Conventions
    Seconds as in the notes. The bend range of a channel is set by registered parameter 0,0 (MIDI
    1.0) where its notes are bent by more than the usual two semitones. A bend belongs to a channel,
    so before each note the bend is put where the note begins.
"""

from math import ceil, inf

import numpy as np

from loopdeck.capture.bend import bend_data, range_data
from loopdeck.capture.bend_wheel import DEFAULT_BEND_RANGE
from loopdeck.capture.events import Event
from loopdeck.capture.notes import Notes

MOST_RANGE = 96


def events_of(notes: Notes, port: int = 0) -> tuple[Event, ...]:
    """The events of ``notes``, in order of time; at one moment note-offs, then bends, then
    note-ons.
    """
    rows: list[tuple[float, int, bytes]] = []
    ranges = _ranges(notes)
    start = min((float(sec) for sec in notes.array["onset_sec"]), default=0.0)
    for channel, semitones in ranges.items():
        if semitones != DEFAULT_BEND_RANGE:
            rows += [(start, -1, data) for data in range_data(channel, int(semitones))]
    bent: dict[int, bytes] = {}
    for note, curve, end in zip(notes.array, notes.bends, _ends(notes), strict=True):
        channel, pitch, onset = int(note["channel"]) & 15, int(note["pitch"]), float(note["onset_sec"])
        span = ranges.get(channel, DEFAULT_BEND_RANGE)
        for after, semitones in curve.tolist():
            data = bend_data(channel, semitones, span)
            if bent.get(channel, bend_data(channel, 0.0, span)) != data:
                rows.append((onset + after, 1, data))
                bent[channel] = data
        velocity = min(max(int(note["velocity"]), 1), 127)
        rows.append((onset, 2, bytes((0x90 | channel, pitch, velocity))))
        rows.append((end, 0, bytes((0x80 | channel, pitch, 0))))
    rows.sort(key=lambda row: row[:2])
    return tuple(Event(sec, port, data) for sec, _, data in rows)


def _ends(notes: Notes) -> list[float]:
    """Where each note ends: no later than the next one of its channel and pitch begins, which its
    note-off would end.
    """
    array = notes.array
    ends: list[float] = (array["onset_sec"] + array["duration_sec"]).tolist()
    following: dict[tuple[int, int], tuple[float, float]] = {}
    order = np.argsort(array["onset_sec"], kind="stable")[::-1].tolist()
    for row in order:
        onset, key = float(array["onset_sec"][row]), (int(array["channel"][row]) & 15, int(array["pitch"][row]))
        # The same note written twice begins once.
        at, after = following.get(key, (inf, inf))
        later = at if at > onset else after
        ends[row] = min(ends[row], later)
        following[key] = onset, later
    return ends


def _ranges(notes: Notes) -> dict[int, float]:
    """The bend range each channel needs."""
    widest: dict[int, float] = {}
    for channel, curve in zip(notes.array["channel"].tolist(), notes.bends, strict=True):
        channel &= 15
        widest[channel] = max(widest.get(channel, 0.0), float(np.abs(curve[:, 1]).max()))
    return {channel: float(min(max(ceil(wide), 2), MOST_RANGE)) for channel, wide in widest.items()}
