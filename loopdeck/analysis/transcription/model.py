"""Rhythm transcription: from onsets to written places, tempo and meter given. ``transcribe`` is the door."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.analysis.transcription.assign import Noise
from loopdeck.analysis.transcription.beats import Beats, Span, beats_near, cuts
from loopdeck.analysis.transcription.chain import solve
from loopdeck.analysis.transcription.choices import Choices, choices, frames
from loopdeck.analysis.transcription.events import Events, gather
from loopdeck.analysis.transcription.grids import PLACE_OF, PLACES, POSITION
from loopdeck.analysis.transcription.table import Table, fitted

#: How much steadier or freer than usual the playing of a piece may be; the likeliest is taken.
SCALES = (0.35, 0.6, 1.0, 1.5)
#: So many beats are looked at to find out.
SAMPLE = 240
_PLACE_Q = np.array([float(place) for place in PLACES])


class Sample(NamedTuple):
    """A take as the model sees it: events, beats, cuts, and the length of each beat in milliseconds."""

    events: Events
    beats: Beats
    cut: NDArray[np.int64]
    beat_ms: NDArray[np.float64]


class Found(NamedTuple):
    """For each of n notes: ``beat`` (an index into ``beats``) and ``place`` (an index into PLACES); for each beat its ``grid`` (-1: empty).
    ``noise`` is what the playing was taken to be."""

    beats: Beats
    beat: NDArray[np.int64]
    place: NDArray[np.int64]
    grid: NDArray[np.int64]
    noise: Noise


def look(
    onset_q: NDArray[np.float64],
    onset_ms: NDArray[np.float64],
    duration_ms: NDArray[np.float64],
    pitch: NDArray[np.int64],
    spans: Sequence[Span],
) -> Sample:
    """The take, notes by onset, as the model sees it."""
    events = gather(onset_q, onset_ms, duration_ms, pitch)
    beats = beats_near(events.onset_q, spans)
    # Milliseconds of each beat, by the notes' own tempo there.
    at = np.stack([beats.start_q, beats.start_q + beats.length_q])
    beat_ms = np.maximum(np.diff(_through(at, onset_q, onset_ms), axis=0)[0], 20.0)
    return Sample(events, beats, cuts(events.onset_q, beat_ms, beats), beat_ms)


def _through(at: NDArray[np.float64], onset_q: NDArray[np.float64], onset_ms: NDArray[np.float64]) -> NDArray[np.float64]:
    """Quarters to milliseconds by the notes, going on at the pace of the whole at the ends."""
    spread = onset_q[-1] - onset_q[0]
    pace = (onset_ms[-1] - onset_ms[0]) / spread if spread > 1e-6 else 500.0
    found = np.interp(at, onset_q, onset_ms)
    found = np.where(at < onset_q[0], onset_ms[0] + (at - onset_q[0]) * pace, found)
    return np.asarray(np.where(at > onset_q[-1], onset_ms[-1] + (at - onset_q[-1]) * pace, found))


def part(whole: Sample, first: int, stop: int) -> Sample:
    """Beats ``first`` to ``stop`` of a take, cut off plainly."""
    cut = whole.cut[first : stop + 1].copy()
    for edge in (0, -1):
        cut[edge, 1:] = -1
    low, high = int(cut[0, 0]), int(cut[-1, 0])
    cut = np.where(cut >= 0, np.clip(cut, low, high), cut)
    return whole._replace(beats=Beats(*(column[first:stop] for column in whole.beats)), cut=cut, beat_ms=whole.beat_ms[first:stop])


def usual_noise(table: Table, scale: float = 1.0) -> Noise:
    """The table's noise, scaled."""
    knobs = table.knobs
    return Noise(knobs.edge_beat * scale, knobs.middle_beat * scale, knobs.motor_ms * scale)


def likely(sample: Sample, table: Table, noise: Noise, position: NDArray[np.float32]) -> float:
    """The score of the best way through a sample."""
    found = choices(sample.events, sample.beats, sample.cut, sample.beat_ms, frames(position), table, noise)
    return solve(found, table, 1)[1]


def excerpt(whole: Sample) -> Sample:
    """Some beats from the middle of a long take; a short one as it is."""
    count = len(whole.beats.start_q)
    if count <= SAMPLE:
        return whole
    first = (count - SAMPLE) // 3
    return part(whole, first, first + SAMPLE)


def listen(sample: Sample, table: Table, position: NDArray[np.float32]) -> Noise:
    """How freely this piece is played: the likeliest of SCALES."""
    scores = [likely(sample, table, usual_noise(table, scale), position) for scale in SCALES]
    return usual_noise(table, SCALES[int(np.argmax(scores))])


def read(whole: Sample, table: Table, noise: Noise, position: NDArray[np.float32] = POSITION) -> Found:
    """The written places of a take's notes."""
    found = choices(whole.events, whole.beats, whole.cut, whole.beat_ms, frames(position), table, noise)
    way, _ = solve(found, table)
    beat, place, grid = _places(whole, found, way)
    return Found(whole.beats, beat[whole.events.of_note], place[whole.events.of_note], grid, noise)


def _places(whole: Sample, found: Choices, way: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Beat and place of each event, and the grid of each beat."""
    count = len(way)
    rows = np.arange(count)
    at = (rows, way[:, 0], way[:, 1], way[:, 2])
    grid = found.grid[at].astype(np.int64)
    begin = whole.cut[rows, way[:, 0]]
    size = whole.cut[rows + 1, way[:, 1]] - begin
    beat = np.repeat(rows, size)
    inside = np.arange(len(beat)) - np.repeat(np.cumsum(size) - size, size)
    slot = found.slots[found.at[at][beat] + inside] if len(beat) else np.zeros(0, np.int8)
    return beat, PLACE_OF[grid[beat], slot], np.where(size > 0, grid, -1)


def transcribe(
    onset_q: ArrayLike,
    onset_sec: ArrayLike,
    duration_sec: ArrayLike,
    pitch: ArrayLike,
    spans: Sequence[Span],
    table: Table | None = None,
) -> Found:
    """Written places of notes given in order of onset; arrays alike in shape (n,), n above 0."""
    table = fitted() if table is None else table
    whole = look(
        np.asarray(onset_q, np.float64),
        np.asarray(onset_sec, np.float64) * 1000.0,
        np.asarray(duration_sec, np.float64) * 1000.0,
        np.asarray(pitch, np.int64),
        spans,
    )
    return read(whole, table, listen(excerpt(whole), table, POSITION))


__all__ = ["Found", "replace", "transcribe"]
