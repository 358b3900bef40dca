"""How many notes stand on their written place."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.grids import PLACES
from loopdeck.analysis.transcription.model import RhythmReading, transcribe
from loopdeck.analysis.transcription.table import Table
from tests.fitting.rhythm.corpus import TICKS
from tests.fitting.rhythm.pieces import Piece
from tests.fitting.rhythm.players import Played

_PLACES = np.array([float(place) for place in PLACES])


def written_q(found: RhythmReading) -> NDArray[np.float64]:
    """Written places from the start of the take, in quarters."""
    return np.asarray(found.beats.start_q[found.beat] + _PLACES[found.place] * found.beats.length_q[found.beat])


def right(piece: Piece, played: Played, table: Table | None = None) -> NDArray[np.bool_]:
    """For each note that is written whether it stands on its place (1/1000 quarter apart at
    most).
    """
    second = 60.0 / played.qpm
    found = transcribe(
        played.onset_q, played.onset_q * second, played.duration_q * second, played.pitch, piece.stretches, table=table
    )
    return on_place(written_q(found), played)


def on_place(places: NDArray[np.float64], played: Played) -> NDArray[np.bool_]:
    """The same for places in quarters."""
    real = played.written >= 0
    return np.asarray(np.abs(places[real] - played.written[real] / TICKS) < 1e-3)


def score(played: list[tuple[Piece, Played]], table: Table) -> float:
    """The mean over pieces of the share of notes on their place, half of it the worst quarter of
    the pieces.
    """
    shares = np.sort([right(piece, one, table).mean() for piece, one in played])
    return float(shares.mean() * 0.7 + shares[: max(len(shares) // 4, 1)].mean() * 0.3)


def sixteenths(played: Played) -> NDArray[np.float64]:
    """The plain 1/16 grid, for comparison."""
    return np.asarray(np.round(played.onset_q * 4) / 4)


__all__: list[Any] = ["on_place", "right", "score", "sixteenths", "written_q"]
