"""A take as the rhythm model sees it: its events, the beats they may lie in, and an excerpt of
them.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.assign import Noise
from loopdeck.analysis.transcription.beats import Beats, Stretch, beats_near, cuts
from loopdeck.analysis.transcription.choices import Choices, choices
from loopdeck.analysis.transcription.events import Events, drawn_out, gather
from loopdeck.analysis.transcription.frames import frames
from loopdeck.analysis.transcription.table import Table
from loopdeck.rhythm.swing import Swing

#: So many beats of a long take are looked at to find out how it is played.
SAMPLE = 160


class Lead(NamedTuple):
    """Notes that ornaments lead to (j,), and when these begin, quarters and milliseconds."""

    note: NDArray[np.int64]
    since_q: NDArray[np.float64]
    since_ms: NDArray[np.float64]


class Sample(NamedTuple):
    """A take as the model sees it: events, beats, cuts, the length of each beat in milliseconds,
    and the meter.
    """

    events: Events
    beats: Beats
    cut: NDArray[np.int64]
    beat_ms: NDArray[np.float64]
    stretches: Sequence[Stretch]


def look(
    onset_q: NDArray[np.float64],
    onset_ms: NDArray[np.float64],
    duration_ms: NDArray[np.float64] | None,
    pitch: NDArray[np.int64] | None,
    stretches: Sequence[Stretch],
    lead: Lead | None = None,
) -> Sample:
    """The take, notes by onset, as the model sees it."""
    events = gather(onset_q, onset_ms, duration_ms, pitch)
    if lead is not None:
        events = drawn_out(events, *lead)
    beats = beats_near(events.onset_q, stretches)
    # Milliseconds of each beat, by the notes' own tempo there.
    at = np.stack([beats.start_q, beats.start_q + beats.length_q])
    beat_ms = np.maximum(np.diff(_through(at, onset_q, onset_ms), axis=0)[0], 20.0)
    return Sample(events, beats, cuts(events.onset_q, beat_ms, beats), beat_ms, stretches)


def _through(
    at: NDArray[np.float64], onset_q: NDArray[np.float64], onset_ms: NDArray[np.float64]
) -> NDArray[np.float64]:
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
    beats = Beats._make(column[first:stop] for column in whole.beats)
    return whole._replace(beats=beats, cut=cut, beat_ms=whole.beat_ms[first:stop])


def usual_noise(table: Table, scale: float = 1.0) -> Noise:
    """The table's noise, scaled."""
    knobs = table.knobs
    return Noise(knobs.edge_beat * scale, knobs.middle_beat * scale, knobs.motor_ms * scale)


def sample_choices(
    sample: Sample, table: Table, noise: Noise, swing: Swing, some: NDArray[np.bool_] | None = None
) -> Choices:
    """The choices of all beats, or of those marked in ``some`` (m,)."""
    shape_of, shapes = frames(sample.beats, sample.stretches, swing)
    if some is not None:
        shape_of = np.where(some, shape_of, -1)
    return choices(sample.events, sample.beats, sample.cut, sample.beat_ms, shape_of, shapes, table, noise)


def excerpt(whole: Sample, later: bool = False) -> Sample:
    """Some beats from the middle of a long take, or from later on; a short one as it is."""
    count = len(whole.beats.start_q)
    if count <= SAMPLE:
        return whole
    first = (count - SAMPLE) * (1 + later) // 3
    return part(whole, first, first + SAMPLE)
