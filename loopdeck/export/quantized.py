"""The material of a take at other places (quantized ones, say), laid out as a piece.

Conventions
    The playing is one track, or one for each channel where the channels were set to different
    sounds; a layer is a track of its own, once, with its own sound on its own channel. Notes keep
    the lengths they were played with.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.export.piece import MAX_BARS, Piece, PieceTrack, piece_of_tracks, track_of_notes, unhindered
from loopdeck.rhythm.meter import Meter
from loopdeck.shelf.material import PLAYED, Material
from loopdeck.shelf.take import Take


def quantized_piece(material: Material, onset_q: NDArray[np.float64]) -> Piece:
    """The notes of ``material`` at ``onset_q``, shape (k,), quarters from the start of the take;
    what lies before it is put at the start.
    """
    layers = {layer.number: layer for layer in material.take.recording.layers}
    tracks: list[PieceTrack] = []
    for source in sorted(set(material.source.tolist())):
        rows = np.flatnonzero(material.source == source)
        name = material.take.name if source == PLAYED else f"layer {source}"
        track = track_of_notes(name, material.notes, rows, np.maximum(onset_q, 0.0), material.tempo)
        if source == PLAYED:
            tracks += _by_program(unhindered(track), material.take)
            continue
        layer = layers[source]
        own = np.full(len(rows), layer.channel, np.int64)
        tracks.append(unhindered(replace(track, channel=own, program=layer.program)))
    end_q = float(onset_q.max()) if len(onset_q) else 0.0
    return piece_of_tracks(material.take, tracks, material.tempo, tuple(_bars(material.stretches, end_q)))


def _bars(stretches: Sequence[Stretch], end_q: float) -> Iterator[tuple[Fraction, Meter]]:
    """Where each bar begins, with its meter; of bars that are all alike only the first."""
    count = 0
    for index, (start, cycle) in enumerate(stretches):
        until = stretches[index + 1].start if index + 1 < len(stretches) else Fraction(end_q) + 1
        if len(set(cycle.meters)) == 1:
            yield start, cycle.meters[0]
            count += 1
            continue
        while start < until and count < MAX_BARS:
            yield from ((start + bar, meter) for bar, meter in zip(cycle.bar_starts, cycle.meters, strict=True))
            start += cycle.quarters
            count += len(cycle.meters)


def _by_program(track: PieceTrack, take: Take) -> list[PieceTrack]:
    """The track with the sound its channel was set to; one track a channel where the channels have
    different ones.
    """
    programs: dict[int, int] = {}
    for event in take.recording.events:
        if len(event.data) == 2 and event.data[0] & 0xF0 == 0xC0:
            programs.setdefault(event.data[0] & 0x0F, event.data[1] + 1)
    channels = sorted(set(track.channel.tolist()))
    found = {programs.get(channel) for channel in channels}
    if len(found) <= 1:
        return [replace(track, program=found.pop() if found else None)]
    return [
        replace(
            track.only(np.flatnonzero(track.channel == channel)),
            name=f"{track.name}, channel {channel + 1}",
            program=programs.get(channel),
        )
        for channel in channels
    ]
