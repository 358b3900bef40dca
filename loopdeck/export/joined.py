"""Several pieces as one, each from a bar line on."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from math import ceil

import numpy as np

from loopdeck.export.piece import Piece, PieceTrack


def joined(pieces: Sequence[Piece], name: str) -> Piece:
    """The pieces one after the other; each keeps its tracks, tempi and meters, the first its
    key.
    """
    tempi: list[tuple[float, float]] = []
    meters = []
    tracks = []
    start = Fraction(0)
    for piece in pieces:
        tempi += [(float(start) + quarter, qpm) for quarter, qpm in piece.tempi]
        meters += [(start + quarter, meter) for quarter, meter in piece.meters]
        tracks += [_later(track, float(start), f"{piece.name}: {track.name}") for track in piece.tracks]
        start += _bars_end(piece)
    return Piece(name, tuple(tempi), tuple(meters), pieces[0].key, tuple(tracks), float(start))


def _bars_end(piece: Piece) -> Fraction:
    """The first bar line that the piece does not reach beyond."""
    last, meter = piece.meters[-1]
    return last + ceil((piece.length_q - float(last)) / float(meter.quarters) - 1e-6) * meter.quarters


def _later(track: PieceTrack, by_q: float, name: str) -> PieceTrack:
    """The track so much later; its sound is chosen when it begins, for another may have the channel
    before.
    """
    chosen = [(quarter + by_q, channel, program) for quarter, channel, program in track.programs]
    if track.program is not None:
        chosen = [*((by_q, channel, track.program) for channel in np.unique(track.channel).tolist()), *chosen]
    return replace(track, name=name, onset_q=track.onset_q + by_q, program=None, programs=tuple(chosen))
