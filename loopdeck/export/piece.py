"""A piece: a take laid out for writing, whatever the format.

Conventions
    Positions are quarters from the start of the piece, which is the start of the take's first pass. When something was played before
    that (an early downbeat), a bar of the first meter is put in front, so that nothing is cut off or moved.
    The playing stands as it was played, one track for each input. A layer is a track of its own and sounds in every pass, as it did in the
    loop: quantized by the take's brief, or (``straight``) at its written places, as the playing then is too.
"""

from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.timing import Feel, place_onsets
from loopdeck.capture.notes import Notes
from loopdeck.looper.layers import Layer
from loopdeck.rhythm.meter import Meter
from loopdeck.rhythm.quantize import locate
from loopdeck.rhythm.tempo import TempoMap
from loopdeck.shelf.take import Take

#: Nearer to the start than half a tick of 960 is at the start.
_NOTHING_Q = 1 / 1920
MAX_BARS = 100_000


@dataclass(frozen=True)
class PieceTrack:
    """One track: arrays of shape (n,) in order of onset, and one bend curve a note, (k, 2): quarters after the onset, semitones.

    ``program`` counts from 1; None leaves it to the receiver.
    """

    name: str
    onset_q: NDArray[np.float64]
    duration_q: NDArray[np.float64]
    pitch: NDArray[np.int64]
    velocity: NDArray[np.int64]
    channel: NDArray[np.int64]
    bends: tuple[NDArray[np.float64], ...]
    program: int | None = None


@dataclass(frozen=True)
class Piece:
    """Tempi (quarter, quarters a minute), meters where each begins, key (sharps, or flats below 0; minor), tracks, length."""

    name: str
    tempi: tuple[tuple[float, float], ...]
    meters: tuple[tuple[Fraction, Meter], ...]
    key: tuple[int, bool] | None
    tracks: tuple[PieceTrack, ...]
    length_q: float
    words: str = field(default="")


def piece_of_take(take: Take, straight: bool = False) -> Piece:
    """Lay a take out for writing."""
    tempo = take.tempo()
    notes = take.notes()
    end_q = float(tempo.quarters(take.end_sec))
    cycle_q = float(take.brief.cycle.quarters)
    passes = take.passes or max(1, ceil(end_q / cycle_q - 1e-6))
    tracks = [*_playing(take, notes, tempo, straight), *_layers(take, passes, straight)]
    length_q = passes * cycle_q if not take.meters else end_q
    length_q = max(
        [length_q, *(float((track.onset_q + track.duration_q).max()) for track in tracks if len(track.onset_q))]
    )
    first = min((float(track.onset_q.min()) for track in tracks if len(track.onset_q)), default=0.0)
    meters = take.meters or _meters(take, ceil(length_q / cycle_q - 1e-6))
    tempi = tuple((max(anchor[1], 0.0), anchor[2]) for anchor in tempo.points)
    if first < -_NOTHING_Q:
        lead = meters[0][1].quarters
        bars = ceil(-first / float(lead))
        lead_q = lead * bars
        tracks = [_shifted(track, float(lead_q)) for track in tracks]
        meters = ((Fraction(0), meters[0][1]), *((quarter + lead_q, meter) for quarter, meter in meters))
        tempi = ((0.0, tempi[0][1]), *((quarter + float(lead_q), qpm) for quarter, qpm in tempi))
        length_q += float(lead_q)
    scale = take.brief.scale
    key = take.key if take.meters else (None if scale is None else (scale.fifths(), scale.is_minor))
    words = "; ".join(part for part in (str(scale or ""), take.brief.mood, take.note) if part)
    return Piece(take.name, tempi, _changes(meters), key, tuple(tracks), length_q, words)


def piece_of_notes(
    take: Take, notes: Notes, onset_q: NDArray[np.float64], tempo: TempoMap, meters: tuple[tuple[Fraction, Meter], ...]
) -> Piece:
    """One track of notes at given positions (quantized ones, say), with their played lengths."""
    base = piece_of_take(take)
    played = tempo.quarters(notes.array["onset_sec"])
    lengths = tempo.quarters(notes.array["onset_sec"] + notes.array["duration_sec"]) - played
    track = _track(take.name, notes, np.maximum(onset_q, 0.0), lengths, tempo)
    tempi = tuple((max(quarter, 0.0), qpm) for _, quarter, qpm in tempo.points)
    end_q = float((track.onset_q + track.duration_q).max()) if len(track.onset_q) else 0.0
    return Piece(base.name, tempi, _changes(meters), base.key, (track,), end_q, base.words)


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
    return PieceTrack(
        track.name, track.onset_q + by_q, track.duration_q, track.pitch, track.velocity, track.channel, track.bends,
        track.program,
    )  # fmt: skip


def _track(
    name: str, notes: Notes, onset_q: NDArray[np.float64], lengths_q: NDArray[np.float64], tempo: TempoMap
) -> PieceTrack:
    order = np.argsort(onset_q, kind="stable")
    rows = notes.array[order]
    bends = []
    for index in order.tolist():
        curve = notes.bends[index]
        start = notes.array["onset_sec"][index]
        quarters = tempo.quarters(start + curve[:, 0]) - tempo.quarters(start)
        bends.append(np.column_stack([quarters, curve[:, 1]]))
    return PieceTrack(
        name,
        onset_q[order],
        lengths_q[order],
        rows["pitch"].astype(np.int64),
        rows["velocity"].astype(np.int64),
        rows["channel"].astype(np.int64),
        tuple(bends),
    )


def _playing(take: Take, notes: Notes, tempo: TempoMap, straight: bool) -> list[PieceTrack]:
    onsets = notes.array["onset_sec"]
    onset_q = tempo.quarters(onsets)
    lengths_q = tempo.quarters(onsets + notes.array["duration_sec"]) - onset_q
    if straight and len(onset_q):
        feel = Feel(take.brief.grid, take.brief.swing, straight=True)
        onset_q = place_onsets(onset_q, take.stretches(), feel).quantized_q
    return [_track("playing", notes, onset_q, lengths_q, tempo)]


def _layers(take: Take, passes: int, straight: bool) -> list[PieceTrack]:
    tracks = []
    for layer in take.layers:
        places = _written(layer, take) if straight else layer.places(take.brief)
        rows = np.flatnonzero(~np.isnan(places))
        cycle_q = float(take.brief.cycle.quarters)
        onsets = np.concatenate([places[rows] + index * cycle_q for index in range(passes)] or [np.zeros(0)])
        again = np.tile(rows, passes)
        order = np.argsort(onsets, kind="stable")
        chosen = again[order]
        tracks.append(
            PieceTrack(
                f"layer {layer.number}" + (", muted" if layer.number in take.muted else ""),
                onsets[order],
                layer.notes["duration_q"][chosen].astype(float),
                layer.notes["pitch"][chosen].astype(np.int64),
                layer.notes["velocity"][chosen].astype(np.int64),
                np.full(len(chosen), layer.channel, np.int64),
                tuple(layer.bends[row] for row in chosen.tolist()),
                layer.program,
            )
        )
    return tracks


def _written(layer: Layer, take: Take) -> NDArray[np.float64]:
    table = take.brief.slots
    onsets = layer.notes["onset_q"].astype(float)
    found = locate(onsets, table)
    places = table.written_q[found.slot] + found.pass_index * table.cycle_q
    return np.where(onsets < table.cycle_q, places, np.nan)
