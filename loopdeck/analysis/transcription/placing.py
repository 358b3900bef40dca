"""The model's answer for notes in any order: exact written places and durations, played places, and
what is an ornament.
"""

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.analysis.transcription.beats import Stretch, cycle_beats
from loopdeck.analysis.transcription.durations import TICKS, Sounding, written_lengths
from loopdeck.analysis.transcription.frames import played_q
from loopdeck.analysis.transcription.grids import GRIDS, PLACE_OF, PLACES, POSITION, SIZE, SWUNG
from loopdeck.analysis.transcription.model import RhythmReading, transcribe
from loopdeck.analysis.transcription.ornaments import ornaments
from loopdeck.errors import UserError
from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.meter import Cycle
from loopdeck.rhythm.swing import Swing, unwarp


class KnownNotes(NamedTuple):
    """What is known of notes beside their place, arrays alike in shape (n,): seconds, seconds,
    quarters, MIDI numbers.
    """

    onset_sec: NDArray[np.float64]
    duration_sec: NDArray[np.float64]
    duration_q: NDArray[np.float64]
    pitch: NDArray[np.int64]


class Transcribed(NamedTuple):
    """For each of n notes, in the order given; arrays of shape (n,).

    ``stretch``, ``pass_index`` and ``beat``: the beat each note is written in, ``place`` its place
    there as an index into ``PLACES``. ``written``: exact quarters from the start of the cycle.
    ``written_q`` and ``target_q``: the written and the played place in quarters from the start of
    the take; ``before_q`` and ``after_q``: how far away the slots beside it are played.
    ``ornament``; ``length``: written quarters, None where no durations were given. ``swing``: given
    or found. ``grids``: how many beats have each grid, by name.
    """

    stretch: NDArray[np.int64]
    pass_index: NDArray[np.int64]
    beat: NDArray[np.int64]
    place: NDArray[np.int64]
    written: list[Fraction]
    written_q: NDArray[np.float64]
    target_q: NDArray[np.float64]
    before_q: NDArray[np.float64]
    after_q: NDArray[np.float64]
    ornament: NDArray[np.bool_]
    length: list[Fraction] | None
    swing: Swing
    grids: dict[str, int]


def transcribe_notes(
    onset_q: ArrayLike, stretches: Sequence[Stretch], playing: KnownNotes | None = None, swing: Swing | None = None
) -> Transcribed:
    """Written places of ``onset_q``, quarters, shape (n,), in any order.

    Without ``playing`` the tempo is taken as 120, and chords and ornaments are told by their gaps
    alone. ``swing``: None to find it. Raises UserError where an onset is not finite.
    """
    places = np.atleast_1d(np.asarray(onset_q, dtype=np.float64))
    if not np.isfinite(places).all():
        raise UserError("A position is not a number; onsets must be finite.")
    if not len(places):
        none, empty = np.zeros(0, np.int64), np.zeros(0)
        flags = np.zeros(0, bool)
        return Transcribed(none, none, none, none, [], empty, empty, empty, empty, flags, [], swing or Swing(), {})
    if playing is None:
        order = np.argsort(places, kind="stable")
        found = transcribe(places[order], places[order] / 2.0, None, None, stretches, swing)
        return _told(found, None, order, stretches)
    order = np.lexsort((playing.pitch, places))
    known = KnownNotes._make(np.asarray(column)[order] for column in playing)
    found = transcribe(places[order], known.onset_sec, known.duration_sec, known.pitch, stretches, swing)
    return _told(found, known, order, stretches)


def _told(
    found: RhythmReading, known: KnownNotes | None, order: NDArray[np.int64], stretches: Sequence[Stretch]
) -> Transcribed:
    beats, beat, place = found.beats, found.beat, found.place
    stretch, passes, number, grid = beats.stretch[beat], beats.pass_index[beat], beats.number[beat], found.grid[beat]
    exact, ticks = exact_places(found, stretches)
    written = beats.start_q[beat] + _PLACE[place] * beats.length_q[beat]
    target = played_q(beats, beat, place, grid, stretches, found.swing)
    before, after = _beside(grid, place)
    flags = np.zeros(len(beat), bool)
    lengths = None
    back = np.argsort(order, kind="stable")
    if known is not None:
        flags = ornaments(found, known.duration_sec)
        counted = np.flatnonzero(~flags)
        long = np.zeros(len(beat), np.int64)
        long[counted] = written_lengths(sounding(found, known, ticks, stretches, counted))
        values, home = np.unique(long[back], return_inverse=True)
        as_fraction = [Fraction(value, TICKS) for value in values.tolist()]
        lengths = [as_fraction[index] for index in home.tolist()]
    names, counts = np.unique(found.grid[found.grid >= 0], return_counts=True)
    return Transcribed(
        stretch[back],
        passes[back],
        number[back],
        place[back],
        [exact[index] for index in back.tolist()],
        written[back],
        target[back],
        (before * beats.length_q[beat])[back],
        (after * beats.length_q[beat])[back],
        flags[back],
        lengths,
        found.swing,
        {GRIDS[name].name: count for name, count in zip(names.tolist(), counts.tolist(), strict=True)},
    )


def sounding(
    found: RhythmReading,
    known: KnownNotes,
    ticks: NDArray[np.int64],
    stretches: Sequence[Stretch],
    some: NDArray[np.int64],
) -> Sounding:
    """What written durations are found by, of the notes ``some`` (k,), which stand at ``ticks``
    (n,).
    """
    beats, beat = found.beats, found.beat[some]
    grid, down = found.grid[beat], _lasting(found, known)[some]
    if not found.swing.straight:
        # A swung note is as long on paper as its straight places are apart.
        onset = found.events.onset_q[found.events.of_note[some]]
        for index, (start, cycle) in enumerate(stretches):
            rows = np.flatnonzero((beats.stretch[beat] == index) & SWUNG[grid])
            ends = np.stack([onset[rows], onset[rows] + down[rows]]) - float(start)
            down[rows] = np.diff(unwarp(ends, cycle, found.swing, Grid("auto")), axis=0)[0]
    length = (beats.length_q * TICKS).round().astype(np.int64)
    start_of = ticks[some] - (_PLACE[found.place[some]] * length[beat]).round().astype(np.int64)
    step = np.maximum((beats.length_q[beat] * _STEP[grid] * TICKS).round().astype(np.int64), 1)
    return Sounding(ticks[some], down, known.pitch[some], step, start_of, length[beat], beats.compound[beat])


def _lasting(found: RhythmReading, known: KnownNotes) -> NDArray[np.float64]:
    """How long each key is down in quarters; a trill lasts as long as all of its notes."""
    down = known.duration_q.copy()
    pace = known.duration_q / np.maximum(known.duration_sec, 1e-9)
    later_q = (known.onset_sec - known.onset_sec[found.home]) * pace[found.home]
    np.maximum.at(down, found.home, later_q + known.duration_q)
    return np.asarray(down)


_PLACE = np.array([float(place) for place in PLACES])


def _division(grid: int) -> float:
    """The step that a note's release is rounded to, in beats: the grid's own, but no finer than
    half of the usual fourth.
    """
    places = GRIDS[grid].places
    even = all(place * len(places) == index for index, place in enumerate(places))
    return 1.0 / len(places) if even and 3 <= len(places) <= 9 else 1.0 / (6 if grid >= _FIRST_COMPOUND else 4)


_FIRST_COMPOUND = next(number for number, grid in enumerate(GRIDS) if number and grid.name == "1")
_STEP = np.array([_division(number) for number in range(len(GRIDS))])


def exact_places(found: RhythmReading, stretches: Sequence[Stretch]) -> tuple[list[Fraction], NDArray[np.int64]]:
    """Exact quarters from the start of the cycle, and ticks from the start of the take."""
    beats, place = found.beats, found.place
    stretch, passes, number = (column[found.beat] for column in (beats.stretch, beats.pass_index, beats.number))
    key = np.stack([stretch, number, place])
    kinds, home = np.unique(key, axis=1, return_inverse=True)
    home = home.reshape(-1)
    inside = []
    for index, beat, at in kinds.T.tolist():
        turn = cycle_beats(stretches[index].cycle)
        inside.append(turn.start[beat] + PLACES[at] * turn.length[beat])
    own = np.array([round(value * TICKS) for value in inside], np.int64)
    start = np.array([round(entry.start * TICKS) for entry in stretches], np.int64)
    cycle = np.array([round(entry.cycle.quarters * TICKS) for entry in stretches], np.int64)
    return [inside[index] for index in home.tolist()], own[home] + start[stretch] + passes * cycle[stretch]


def _beside(grid: NDArray[np.int64], place: NDArray[np.int64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far the slots before and after a place are, in beats, on its beat's grid."""
    slot = (PLACE_OF[grid] == place[:, None]).argmax(axis=1)
    here = POSITION[grid, slot].astype(np.float64)
    last = SIZE[grid] - 1
    ahead = np.where(slot < last, POSITION[grid, np.minimum(slot + 1, last)], 1.0)
    behind = np.where(slot > 0, POSITION[grid, np.maximum(slot - 1, 0)], POSITION[grid, last] - 1.0)
    return here - behind, ahead - here


@lru_cache(maxsize=16)
def _ranks(cycle: Cycle) -> NDArray[np.int64]:
    """The number of every place of every beat among all the places of a cycle, (beats, places)."""
    beats = cycle_beats(cycle)
    all_places = np.array(beats.start, float)[:, None] + _PLACE * np.array(beats.length, float)[:, None]
    return np.asarray(np.unique(all_places.round(9), return_inverse=True)[1].reshape(all_places.shape))


def slot_numbers(cycle: Cycle, beat: NDArray[np.int64], place: NDArray[np.int64]) -> NDArray[np.int64]:
    """The slots of places in beats of a cycle, counted from 0 over all the places that any grid
    has.
    """
    return np.asarray(_ranks(cycle)[beat, place])
