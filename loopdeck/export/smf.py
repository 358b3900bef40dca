"""Standard MIDI Files, type 1, 960 ticks a quarter (Standard MIDI Files 1.0).

The first track conducts: tempo, a time signature wherever the meter changes, the key signature. Then one track each, as in the piece.
A meter's groups have no place in a time signature; its clocks a click are those of the first group.
"""

from itertools import pairwise
from math import ceil
from pathlib import Path
from typing import Any

import mido
import numpy as np

from loopdeck.export.atomic import whole_file
from loopdeck.export.piece import Piece, PieceTrack

TICKS = 960
_MAJOR = ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"]
_MINOR = ["Abm", "Ebm", "Bbm", "Fm", "Cm", "Gm", "Dm", "Am", "Em", "Bm", "F#m", "C#m", "G#m", "D#m", "A#m"]
#: The order of messages at one tick: what sets something comes before what it is for, and note-offs before note-ons.
_META, _SETUP, _OFF, _BEND, _ON = range(5)


def tick(quarter: float) -> int:
    """The nearest tick."""
    return max(round(quarter * TICKS), 0)


def write_smf(path: str | Path, piece: Piece) -> None:
    """Write a piece; whole or not at all. Raises OSError."""
    file = smf_of(piece)
    with whole_file(path) as out:
        file.save(file=out)


def smf_of(piece: Piece) -> "mido.MidiFile":
    """The piece as mido's file."""
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    end = tick(piece.length_q)
    file.tracks.append(_conductor(piece, end))
    file.tracks.extend(_track(track, end) for track in piece.tracks)
    return file


def _conductor(piece: Piece, end: int) -> Any:
    rows: list[tuple[int, int, Any]] = [(0, _META, mido.MetaMessage("track_name", name=piece.name))]
    if piece.words:
        rows.append((0, _META, mido.MetaMessage("text", text=piece.words)))
    for quarter, qpm in piece.tempi:
        rows.append((tick(quarter), _META, mido.MetaMessage("set_tempo", tempo=min(round(60e6 / qpm), 0xFFFFFF))))
    for start, meter in piece.meters:
        clocks = min(int(meter.groups[0] * meter.unit_quarters * 24), 255) or 24
        rows.append(
            (
                tick(float(start)),
                _META,
                mido.MetaMessage(
                    "time_signature", numerator=meter.numerator, denominator=meter.unit, clocks_per_click=clocks
                ),
            )
        )
    if piece.key is not None:
        fifths, minor = piece.key
        rows.append((0, _META, mido.MetaMessage("key_signature", key=(_MINOR if minor else _MAJOR)[fifths + 7])))
    return _ordered(rows, end)


def _track(track: PieceTrack, end: int) -> Any:
    rows: list[tuple[int, int, Any]] = [(0, _META, mido.MetaMessage("track_name", name=track.name))]
    channels = sorted(set(track.channel.tolist()))
    if track.program is not None:
        rows += [
            (0, _SETUP, mido.Message("program_change", channel=channel, program=track.program - 1))
            for channel in channels
        ]
    reach = max((float(np.abs(curve[:, 1]).max()) for curve in track.bends if len(curve)), default=0.0)
    bend_range = min(max(2, ceil(reach)), 96)
    if bend_range > 2:
        for channel in channels:
            for control, value in ((101, 0), (100, 0), (6, bend_range), (38, 0)):
                rows.append((0, _SETUP, mido.Message("control_change", channel=channel, control=control, value=value)))
    bent: dict[int, int] = {}
    columns = zip(
        track.onset_q.tolist(), track.duration_q.tolist(), track.pitch.tolist(), track.velocity.tolist(),
        track.channel.tolist(), track.bends, strict=True,
    )  # fmt: skip
    for onset_q, duration_q, pitch, velocity, channel, curve in columns:
        start = tick(onset_q)
        stop = max(tick(onset_q + duration_q), start + 1)
        for after_q, semitones in curve.tolist():
            value = min(max(round(semitones / bend_range * 8192), -8192), 8191)
            when = tick(onset_q + after_q)
            if value != bent.get(channel, 0) and when <= stop:
                rows.append((when, _BEND, mido.Message("pitchwheel", channel=channel, pitch=value)))
                bent[channel] = value
        rows.append(
            (start, _ON, mido.Message("note_on", channel=channel, note=pitch, velocity=min(max(velocity, 1), 127)))
        )
        rows.append((stop, _OFF, mido.Message("note_off", channel=channel, note=pitch, velocity=64)))
    return _ordered(rows, end)


def _ordered(rows: list[tuple[int, int, Any]], end: int) -> Any:
    """Rows (tick, order, message) as a track with delta times."""
    rows.sort(key=lambda row: row[:2])
    rows.append((max([end, *(row[0] for row in rows)]), _ON, mido.MetaMessage("end_of_track")))
    track = mido.MidiTrack()
    for (before, _, _), (now, _, message) in pairwise([(0, 0, None), *rows]):
        track.append(message.copy(time=now - before))
    return track
