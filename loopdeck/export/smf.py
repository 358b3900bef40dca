"""Standard MIDI Files, type 1, 960 ticks a quarter (Standard MIDI Files 1.0).

The first track conducts: tempo, a time signature wherever the meter changes, the key signature.
Then one track each, as in the piece. A meter's groups have no place in a time signature; its clocks
a click are those of the first group. Pitch bend belongs to a channel, so of two notes that sound on
one the later bend wins, as it did when it was played; a range beyond two semitones is set by
registered parameter 0,0. A muted track has its channel's volume at 0, unless another one sounds
there.
"""

from collections.abc import Iterable
from itertools import pairwise
from math import ceil
from pathlib import Path
from typing import Any

import mido
import numpy as np

from loopdeck.atomic import whole_file
from loopdeck.capture.bend import bend_offset, range_controls
from loopdeck.capture.smf_read import MAX_FILE
from loopdeck.errors import UserError
from loopdeck.export.piece import Piece, PieceTrack

TICKS = 960
#: Notes and bends of a file; so many take some minutes, and about as much room as may be read back.
MAX_EVENTS = 8_000_000
_MAJOR = ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"]
_MINOR = ["Abm", "Ebm", "Bbm", "Fm", "Cm", "Gm", "Dm", "Am", "Em", "Bm", "F#m", "C#m", "G#m", "D#m", "A#m"]
#: The order of messages at one tick: what sets something comes before what it is for, and note-offs
#: before note-ons.
_META, _SETUP, _OFF, _BEND, _ON = range(5)


def tick(quarter: float) -> int:
    """The nearest tick."""
    return max(round(quarter * TICKS), 0)


def write_smf(path: str | Path, piece: Piece) -> None:
    """Write a piece; whole or not at all. Raises OSError, UserError for one that nobody could read
    again.
    """
    count = sum(len(track.onset_q) + sum(map(len, track.bends)) for track in piece.tracks)
    if count > MAX_EVENTS:
        raise UserError(
            f"{path} would hold {count:,} notes and bends; {MAX_EVENTS:,} are the most that can be read again."
        )
    file = smf_of(piece)
    with whole_file(path) as out:
        file.save(file=out)
        if out.seekable() and out.tell() > MAX_FILE:
            raise UserError(
                f"{path} would have {out.tell():,} bytes; loopdeck reads Standard MIDI Files of at most {MAX_FILE:,}."
            )


def smf_of(piece: Piece) -> "mido.MidiFile":
    """The piece as mido's file."""
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    end = tick(piece.length_q)
    file.tracks.append(_conductor(piece, end))
    audible = {channel for track in piece.tracks if not track.muted for channel in track.channel.tolist()}
    file.tracks.extend(_track(track, end, audible) for track in piece.tracks)
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


def _track(track: PieceTrack, end: int, audible: set[int]) -> Any:
    rows: list[tuple[int, int, Any]] = [(0, _META, mido.MetaMessage("track_name", name=track.name))]
    channels = sorted(set(track.channel.tolist()))
    changes = [(0.0, channel, track.program) for channel in channels if track.program is not None]
    rows += [
        (tick(quarter), _SETUP, mido.Message("program_change", channel=channel, program=program - 1))
        for quarter, channel, program in (*changes, *track.programs)
    ]
    silent = [channel for channel in channels if track.muted and channel not in audible]
    rows += [(0, _SETUP, mido.Message("control_change", channel=channel, control=7, value=0)) for channel in silent]
    reach = max((float(np.abs(curve[:, 1]).max()) for curve in track.bends if len(curve)), default=0.0)
    bend_range = min(max(2, ceil(reach)), 96)
    if bend_range > 2:
        for channel in channels:
            rows += [
                (0, _SETUP, mido.Message("control_change", channel=channel, control=control, value=value))
                for control, value in range_controls(bend_range, close=True)
            ]
    bends: list[tuple[int, int, int]] = []
    columns = zip(
        track.onset_q.tolist(), track.duration_q.tolist(), track.pitch.tolist(), track.velocity.tolist(),
        track.channel.tolist(), track.bends, strict=True,
    )  # fmt: skip
    for onset_q, duration_q, pitch, velocity, channel, curve in columns:
        start = tick(onset_q)
        stop = max(tick(onset_q + duration_q), start + 1)
        for after_q, semitones in curve.tolist():
            value = bend_offset(semitones, bend_range)
            if (when := tick(onset_q + after_q)) < stop:
                bends.append((when, channel, value))
        loud = min(max(velocity, 1), 127)
        rows.append((start, _ON, mido.Message("note_on", skip_checks=True, channel=channel, note=pitch, velocity=loud)))
        rows.append((stop, _OFF, mido.Message("note_off", skip_checks=True, channel=channel, note=pitch, velocity=64)))
    return _ordered([*rows, *_bends(bends)], end)


def _bends(bends: list[tuple[int, int, int]]) -> Iterable[tuple[int, int, Any]]:
    """Bends (tick, channel, value), those of a later note later at one tick, as rows: only where
    the channel's bend changes.
    """
    last = {(when, channel): value for when, channel, value in bends}
    now: dict[int, int] = {}
    for (when, channel), value in sorted(last.items()):
        if now.get(channel, 0) != value:
            yield when, _BEND, mido.Message("pitchwheel", channel=channel, pitch=value)
        now[channel] = value


def _ordered(rows: list[tuple[int, int, Any]], end: int) -> Any:
    """Rows (tick, order, message) as a track with delta times."""
    rows.sort(key=lambda row: row[:2])
    rows.append((max([end, *(row[0] for row in rows)]), _ON, mido.MetaMessage("end_of_track")))
    track = mido.MidiTrack()
    for (before, _, _), (now, _, message) in pairwise([(0, 0, None), *rows]):
        # Each message was made for this row alone.
        vars(message)["time"] = now - before
        track.append(message)
    return track
