"""A piece: a take laid out for writing, whatever the format.

Conventions
    Positions are quarters from the start of the piece, which is the start of the take's first pass.
    When something was played before that (an early downbeat), a bar of the first meter is put in
    front, so that nothing is cut off or moved. The playing stands as it was played, one track for
    each input (each track of an imported file) that has notes, with the sounds it chose; without
    any it has the brief's. A layer is a track of its own and sounds in every pass, as it did in the
    loop: quantized by the take's brief, or (``straight``) at its written places, as the playing
    then is too. What was muted is there, and silent. On one track and channel no note reaches into
    the next one of its pitch: its note-off would end that one.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.timing import Feel, place_onsets, playing_of
from loopdeck.bass.technique.touch import touch_of
from loopdeck.capture.notes import STRAIGHT_BEND, Notes, empty_notes
from loopdeck.looper.layers import Layer
from loopdeck.looper.string_channels import string_channels
from loopdeck.rhythm.meter import Meter
from loopdeck.rhythm.quantize import locate
from loopdeck.rhythm.tempo import TempoMap
from loopdeck.shelf.take import Take

#: Nearer to the start than half a tick of 960 is at the start.
_NOTHING_Q = 1 / 1920
MAX_BARS = 100_000


@dataclass(frozen=True)
class PieceTrack:
    """One track: arrays of shape (n,) in order of onset, and one bend curve a note, (k, 2):
    quarters after the onset, semitones.

    ``program`` counts from 1; None leaves it to the receiver. ``programs``: (quarter, channel,
    program) where it changes on the way. ``muted`` tracks are to be written so that they do not
    sound.
    """

    name: str
    onset_q: NDArray[np.float64]
    duration_q: NDArray[np.float64]
    pitch: NDArray[np.int64]
    velocity: NDArray[np.int64]
    channel: NDArray[np.int64]
    bends: tuple[NDArray[np.float64], ...]
    program: int | None = None
    programs: tuple[tuple[float, int, int], ...] = ()
    muted: bool = False
    #: The row each note goes on from without a pluck, -1 where it is plucked; and which are dead.
    #: Shape (n,); None where nothing is known of it.
    source: NDArray[np.int64] | None = None
    dead: NDArray[np.bool_] | None = None

    def only(self, rows: NDArray[np.int64]) -> "PieceTrack":
        """The track with these notes alone, in this order."""
        return replace(
            self,
            onset_q=self.onset_q[rows],
            duration_q=self.duration_q[rows],
            pitch=self.pitch[rows],
            velocity=self.velocity[rows],
            channel=self.channel[rows],
            bends=tuple(self.bends[row] for row in rows.tolist()),
            source=None if self.source is None else rows_of_sources(self.source, rows),
            dead=None if self.dead is None else self.dead[rows],
        )


def rows_of_sources(source: NDArray[np.int64], rows: NDArray[np.int64]) -> NDArray[np.int64]:
    """What ``source`` names, by its place in ``rows``; -1 where it is not among them."""
    places = np.full(len(source) + 1, -1, np.int64)
    places[rows] = np.arange(len(rows))
    return places[source[rows]]


@dataclass(frozen=True)
class Piece:
    """Tempi (quarter, quarters a minute), meters where each begins, key (sharps, or flats below 0;
    minor), tracks, length.
    """

    name: str
    tempi: tuple[tuple[float, float], ...]
    meters: tuple[tuple[Fraction, Meter], ...]
    key: tuple[int, bool] | None
    tracks: tuple[PieceTrack, ...]
    length_q: float
    words: str = ""


def piece_of_take(take: Take, straight: bool = False) -> Piece:
    """Lay a take out for writing."""
    tempo = take.tempo()
    end_q = float(tempo.quarters(take.recording.end_sec))
    cycle_q = float(take.brief.cycle.quarters)
    passes = take.recording.passes or max(1, ceil(end_q / cycle_q - 1e-6))
    tracks = [unhindered(track) for track in (*_playing(take, tempo, straight), *_layers(take, passes, straight))]
    length_q = passes * cycle_q if not take.recording.meters else end_q
    length_q = max(
        [length_q, *(float((track.onset_q + track.duration_q).max()) for track in tracks if len(track.onset_q))]
    )
    first = min((float(track.onset_q.min()) for track in tracks if len(track.onset_q)), default=0.0)
    meters = take.recording.meters or _meters(take, ceil(length_q / cycle_q - 1e-6))
    # A note held past the last pass begins no other one: no bar is announced where the music has
    # ended.
    meters = (*meters[:1], *(row for row in meters[1:] if row[0] < length_q - _NOTHING_Q))
    tempi = tuple((anchor[1], anchor[2]) for anchor in tempo.points)
    if first < -_NOTHING_Q:
        lead = meters[0][1].quarters
        bars = ceil(-first / float(lead))
        lead_q = lead * bars
        tracks = [_shifted(track, float(lead_q)) for track in tracks]
        meters = ((Fraction(0), meters[0][1]), *((quarter + lead_q, meter) for quarter, meter in meters))
        tempi = tuple((quarter + float(lead_q), qpm) for quarter, qpm in tempi)
        length_q += float(lead_q)
    return Piece(take.name, _from_start(tempi), _changes(meters), _key(take), tuple(tracks), length_q, _words(take))


def _from_start(tempi: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    """Tempi with the one that holds at the start in the first place; those over before it, and
    those that change nothing, left out.
    """
    begun = sum(1 for quarter, _ in tempi if quarter <= 0)
    kept = [(0.0, tempi[max(begun - 1, 0)][1])]
    for quarter, qpm in tempi[begun:]:
        if qpm != kept[-1][1]:
            kept.append((quarter, qpm))
    return tuple(kept)


def piece_of_tracks(
    take: Take, tracks: Sequence[PieceTrack], tempo: TempoMap, meters: tuple[tuple[Fraction, Meter], ...]
) -> Piece:
    """Tracks of notes of a take, wherever they were put, with these meters (quarter, meter)."""
    tempi = _from_start(tuple((quarter, qpm) for _, quarter, qpm in tempo.points))
    end_q = max(
        (float((track.onset_q + track.duration_q).max()) for track in tracks if len(track.onset_q)), default=0.0
    )
    return Piece(take.name, tempi, _changes(meters), _key(take), tuple(tracks), end_q, _words(take))


def _key(take: Take) -> tuple[int, bool] | None:
    """The key signature: an imported file's own, or the scale's."""
    scale = take.brief.scale
    return take.recording.key if take.recording.meters else None if scale is None else (scale.fifths(), scale.is_minor)


def _words(take: Take) -> str:
    """Scale, mood and note in one line; an imported file was not played in a brief."""
    brief = () if take.recording.meters else (str(take.brief.scale or ""), take.brief.mood)
    return "; ".join(part for part in (*brief, " ".join(take.note.split())) if part)


def _changes(meters: tuple[tuple[Fraction, Meter], ...]) -> tuple[tuple[Fraction, Meter], ...]:
    """Only those meters that differ from the one before."""
    kept: list[tuple[Fraction, Meter]] = []
    for quarter, meter in meters:
        if not kept or (kept[-1][1].numerator, kept[-1][1].unit) != (meter.numerator, meter.unit):
            kept.append((quarter, meter))
    return tuple(kept)


def _meters(take: Take, passes: int) -> tuple[tuple[Fraction, Meter], ...]:
    cycle = take.brief.cycle
    bars = zip(cycle.bar_starts, cycle.meters, strict=True)
    places = [(start, meter) for start, meter in bars]
    count = min(passes, MAX_BARS // len(places))
    return tuple((cycle.quarters * index + start, meter) for index in range(count) for start, meter in places)


def _shifted(track: PieceTrack, by_q: float) -> PieceTrack:
    programs = tuple((quarter + by_q, channel, program) for quarter, channel, program in track.programs)
    return replace(track, onset_q=track.onset_q + by_q, programs=programs)


def unhindered(track: PieceTrack) -> PieceTrack:
    """The track with no note reaching into the next one of its pitch and channel, whose sound its
    note-off would end.

    Notes of one pitch that were moved to one place end together, with the longest of them.
    """
    if not len(track.onset_q):
        return track
    ticks = np.round(track.onset_q * 960)
    order = np.lexsort((ticks, track.pitch, track.channel))
    key = track.channel[order] * 128 + track.pitch[order]
    new_key, later = np.diff(key) != 0, np.diff(ticks[order]) != 0
    first = np.concatenate([[0], np.flatnonzero(new_key | later) + 1])
    count = np.diff(first, append=len(order))
    longest = np.maximum.reduceat(track.duration_q[order], first)
    # The last note of each group, up to the first of the next one, where that has the same key.
    last = first[1:] - 1
    room = np.full(len(first), np.inf)
    room[:-1] = np.where(new_key[last], np.inf, track.onset_q[order[last + 1]] - track.onset_q[order[last]])
    lengths = np.empty(len(order))
    lengths[order] = np.repeat(np.minimum(longest, room), count)
    return replace(track, duration_q=lengths)


def track_of_notes(
    name: str, notes: Notes, chosen: NDArray[np.int64], onset_q: NDArray[np.float64], tempo: TempoMap
) -> PieceTrack:
    """The ``chosen`` notes of ``notes`` (their indices) at ``onset_q`` (one for each of all notes),
    as long as they were played.
    """
    rows = chosen[np.argsort(onset_q[chosen], kind="stable")]
    array = notes.array[rows]
    played_q = tempo.quarters(array["onset_sec"])
    bends = []
    for index, start in zip(rows.tolist(), array["onset_sec"].tolist(), strict=True):
        curve = notes.bends[index]
        if curve is STRAIGHT_BEND:
            bends.append(curve)
            continue
        quarters = tempo.quarters(start + curve[:, 0]) - tempo.quarters(start)
        bends.append(np.column_stack([quarters, curve[:, 1]]))
    return PieceTrack(
        name,
        onset_q[rows],
        tempo.quarters(array["onset_sec"] + array["duration_sec"]) - played_q,
        array["pitch"].astype(np.int64),
        array["velocity"].astype(np.int64),
        array["channel"].astype(np.int64),
        tuple(bends),
    )


def _playing(take: Take, tempo: TempoMap, straight: bool) -> list[PieceTrack]:
    inputs = take.notes_by_input()
    sounding = {port: notes for port, notes in inputs.items() if len(notes)} or dict(list(inputs.items())[:1])
    tracks = []
    for port, notes in sounding.items() or ((0, empty_notes()),):
        onset_q = tempo.quarters(notes.array["onset_sec"])
        if straight and len(onset_q):
            feel = Feel(take.brief.grid, take.brief.swing, straight=True)
            rows = notes.array
            playing = playing_of(rows["onset_sec"], rows["duration_sec"], rows["pitch"], tempo)
            onset_q = place_onsets(onset_q, take.stretches(), feel, playing).quantized_q
        name = "as written" if straight else "as played"
        if len(sounding) > 1:
            name += f", {'track' if take.recording.meters else 'input'} {port + 1}"
        track = track_of_notes(name, notes, np.arange(len(notes)), onset_q, tempo)
        programs = tuple(_programs(take, port, tempo, set(track.channel.tolist())))
        own = None if take.recording.meters or programs else take.brief.program
        if not straight and port in take.seen.inputs:
            track = _with_touch(track, notes)
        tracks.append(replace(track, program=own, programs=programs))
    return tracks


def _with_touch(track: PieceTrack, notes: Notes) -> PieceTrack:
    """The track of a pickup's notes, with those that go on without a new pluck, and dead ones."""
    touch = touch_of(notes.array, notes.bends)
    order = np.argsort(notes.array["onset_sec"], kind="stable")
    return replace(track, source=rows_of_sources(touch.source, order), dead=touch.dead[order])


def _programs(take: Take, port: int, tempo: TempoMap, channels: set[int]) -> Iterable[tuple[float, int, int]]:
    """The sounds that were chosen on an input, on the channels that have notes."""
    for event in take.recording.events:
        if event.port == port and len(event.data) == 2 and event.data[0] & 0xF0 == 0xC0:
            channel = event.data[0] & 0x0F
            if channel in channels:
                quarter = float(tempo.quarters(event.time_sec - take.recording.late.get(port, 0.0)))
                yield max(quarter, 0.0), channel, event.data[1] + 1


def _layers(take: Take, passes: int, straight: bool) -> list[PieceTrack]:
    tracks = []
    played = set(take.notes().array["channel"].tolist())
    own_channels = string_channels(take.recording.layers, played)
    for layer, channels in zip(take.recording.layers, own_channels, strict=True):
        places = _written(layer, take) if straight else layer.places(take.brief)
        rows = np.flatnonzero(~np.isnan(places))
        cycle_q = float(take.brief.cycle.quarters)
        onsets = np.concatenate([places[rows] + index * cycle_q for index in range(passes)] or [np.zeros(0)])
        again = np.tile(rows, passes)
        order = np.argsort(onsets, kind="stable")
        chosen = again[order]
        # The row a note goes on from is that of its own pass.
        own = rows_of_sources(layer.touch.source, rows)
        turns = np.repeat(np.arange(passes), len(rows)) * len(rows)
        each = np.where(np.tile(own, passes) >= 0, np.tile(own, passes) + turns, -1)
        tracks.append(
            PieceTrack(
                f"layer {layer.number}" + (", muted" if layer.number in take.recording.muted else ""),
                onsets[order],
                layer.notes["duration_q"][chosen].astype(float),
                layer.notes["pitch"][chosen].astype(np.int64),
                layer.notes["velocity"][chosen].astype(np.int64),
                channels[chosen],
                tuple(layer.bends[row] for row in chosen.tolist()),
                layer.program,
                muted=layer.number in take.recording.muted,
                source=rows_of_sources(each, order),
                dead=layer.touch.dead[chosen],
            )
        )
    return tracks


def _written(layer: Layer, take: Take) -> NDArray[np.float64]:
    table = take.brief.slots
    onsets = layer.notes["onset_q"].astype(float)
    found = locate(onsets, table)
    places = table.written_q[found.slot] + found.pass_index * table.cycle_q
    return np.where(onsets < table.cycle_q, places, np.nan)
