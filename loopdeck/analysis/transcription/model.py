"""Rhythm transcription: from onsets to written places, tempo and meter given. ``transcribe`` is the
door.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.analysis.transcription.assign import Noise
from loopdeck.analysis.transcription.beats import Beats, Stretch
from loopdeck.analysis.transcription.chain import beat_scores, linked, solve
from loopdeck.analysis.transcription.choices import Choices, merged
from loopdeck.analysis.transcription.embellishing import HeardNotes, plain_notes
from loopdeck.analysis.transcription.events import Events
from loopdeck.analysis.transcription.grids import PLACE_OF, PLACES
from loopdeck.analysis.transcription.inventory import (
    BASIC,
    basic,
    doubtful,
    many_others,
    needing_others,
    needless,
    stray,
)
from loopdeck.analysis.transcription.pairs import swings_in_eighths, written_as_pairs
from loopdeck.analysis.transcription.sample import SAMPLE, Sample, excerpt, look, sample_choices, usual_noise
from loopdeck.analysis.transcription.swing import MARGIN, MARGIN_A_BEAT, MOST, guesses, measured
from loopdeck.analysis.transcription.table import Table, fitted
from loopdeck.rhythm.swing import Swing

#: How much steadier or freer than usual the playing of a piece may be; the likeliest is taken.
OTHER_SCALES = (0.6, 1.5, 0.35)
#: In what share of chords the hands may be apart; the likelier is taken.
APART = (0.02, 0.5)
#: In so few beats every steadiness is tried.
FEW_BEATS = 40
#: Beat and place of each event, and the grid of each beat.
_Placed = tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]
_PLACE_Q = np.array([float(place) for place in PLACES])


class FirstReading(NamedTuple):
    """A first reading of a sample: its score, what the playing was taken to be, and the grid of
    each beat (m,), -1 where it is empty.
    """

    score: float
    noise: Noise
    grid: NDArray[np.int64]


class RhythmReading(NamedTuple):
    """For each of n notes: ``beat`` (an index into ``beats``) and ``place`` (an index into PLACES);
    for each beat its ``grid`` (-1: empty).

    ``events``: the notes as events. ``home`` (n,): the note that each one stands with, itself
    unless it belongs to an ornament and is not counted. ``noise`` is what the playing was taken to
    be, ``swing`` the swing that was given or found.
    """

    beats: Beats
    beat: NDArray[np.int64]
    place: NDArray[np.int64]
    grid: NDArray[np.int64]
    events: Events
    home: NDArray[np.int64]
    noise: Noise
    swing: Swing


def listen(
    sample: Sample, table: Table, swing: Swing, rounds: int = 1, apart: tuple[float, ...] = APART
) -> FirstReading:
    """How freely a piece is played: as usual or one of ``OTHER_SCALES``, and which of ``apart``."""
    usual = [_heard(sample, table, usual_noise(table)._replace(apart=share), swing, rounds) for share in apart]
    found = [max(usual, key=_score)]
    for scale in OTHER_SCALES:
        # Of a long take the steadiest only where steadier than usual is likeliest.
        long = len(sample.beats.start_q) > FEW_BEATS
        if scale == min(OTHER_SCALES) and long and max(found, key=_score) is not found[1]:
            break
        noise = usual_noise(table, scale)._replace(apart=found[0].noise.apart)
        found.append(_heard(sample, table, noise, swing, rounds))
    best = max(found, key=_score)
    return best._replace(noise=best.noise._replace(bend=usual_noise(table).bend))


def _heard(sample: Sample, table: Table, noise: Noise, swing: Swing, rounds: int) -> FirstReading:
    noise = noise._replace(bend=0.0)
    found = sample_choices(sample, table, noise, swing)
    way, score = solve(found, table, rounds)
    return FirstReading(score, noise, _places(sample, found, way)[2])


def _score(heard: FirstReading) -> float:
    return heard.score


def tried_swings(sample: Sample) -> list[Swing]:
    """The swings that a sample's off-beats could mean."""
    low, high = int(sample.cut[0, 0]), int(sample.cut[-1, 0])
    events = sample.events.onset_q[low:high]
    beat = np.clip(np.searchsorted(sample.beats.start_q, events, side="right") - 1, 0, None)
    return guesses(events, sample.beats, beat)


def find_swing(sample: Sample, table: Table, tried: list[Swing]) -> Swing:
    """The likeliest of the swings ``tried``, straight unless it is clearly likelier."""
    if not tried:
        return Swing()
    # Without the piece's memory: to it, what comes back again and again is as good as what is
    # simple.
    straight = listen(sample, table, Swing(), 0).score + MARGIN + MARGIN_A_BEAT * len(sample.beats.start_q)
    scores = [listen(sample, table, swing, 0).score for swing in tried]
    return tried[int(np.argmax(scores))] if max(scores) > straight else Swing()


def _straight_feel(table: Table) -> Table:
    """The table for takes that cannot swing: there a short note before a longer one is a grace
    note, and no short off-beat.
    """
    return replace(table, knobs=replace(table.knobs, grace=0.0))


def read(whole: Sample, sample: Sample, table: Table, swing: Swing) -> RhythmReading:
    """The written places of a take's notes; ``sample``: an excerpt of it."""
    heard = listen(sample, table, swing)
    noise = heard.noise
    found = sample_choices(whole, table, noise, swing)
    way, total = solve(found, table)
    placed = _places(whole, found, way)
    grid = placed[2]
    if swings_in_eighths(swing):
        # There triplets are nothing odd.
        onset_q = whole.events.onset_q
        placed = (placed[0], *written_as_pairs(*placed, onset_q, whole.beats, swing))
    elif doubtful(grid):
        again, way_again, simpler = _read_again(whole, found, grid, table, noise, swing)
        if needless(grid, total - simpler):
            placed = _places(whole, again, way_again)
        else:
            placed = _without_strays(whole, (found, way), (again, way_again), grid, table)
    elif many_others(grid) and many_others(heard.grid):
        plain = _read_freely(whole, sample, heard, table, swing)
        if plain is not None and needless(grid, total - plain[1]):
            placed = plain[0]
    beat, place, grid = placed
    of_note = whole.events.of_note
    return RhythmReading(
        whole.beats, beat[of_note], place[of_note], grid, whole.events, np.arange(len(of_note)), noise, swing
    )


def _without_strays(
    whole: Sample,
    usual: tuple[Choices, NDArray[np.int64]],
    simple: tuple[Choices, NDArray[np.int64]],
    grid: NDArray[np.int64],
    table: Table,
) -> _Placed:
    """The usual reading, but with basic divisions where another one is rare and explains little."""
    gain = beat_scores(*usual, linked(table)) - beat_scores(*simple, linked(basic(table)))
    strays = stray(grid, gain)
    if not strays.any():
        return _places(whole, *usual)
    mixed = merged(usual[0], np.ones(len(BASIC), bool), simple[0], strays)
    way, _ = solve(mixed, table)
    return _places(whole, mixed, way)


def _read_again(
    whole: Sample, found: Choices, grid: NDArray[np.int64], table: Table, noise: Noise, swing: Swing
) -> tuple[Choices, NDArray[np.int64], float]:
    """A take without other divisions than the basic ones: choices, the way through, the score."""
    simple, odd = basic(table), needing_others(grid)
    again = merged(found, BASIC, sample_choices(whole, simple, noise, swing, odd), odd)
    return again, *solve(again, simple)


def _read_freely(
    whole: Sample, sample: Sample, heard: FirstReading, table: Table, swing: Swing
) -> tuple[_Placed, float] | None:
    """A take that has many other divisions, without these, if another kind of player may have
    played it so; and the score.
    """
    simple = basic(table)
    plain = listen(sample, simple, swing, apart=(heard.noise.apart,))
    if not needless(heard.grid, heard.score - plain.score):
        return None
    if len(whole.beats.start_q) > SAMPLE:
        # The same elsewhere.
        other = excerpt(whole, later=True)
        usual = _heard(other, table, heard.noise, swing, 1)
        if not needless(usual.grid, usual.score - _heard(other, simple, plain.noise, swing, 1).score):
            return None
    found = sample_choices(whole, simple, plain.noise, swing)
    way, total = solve(found, simple)
    return _places(whole, found, way), total


def _places(whole: Sample, found: Choices, way: NDArray[np.int64]) -> _Placed:
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
    duration_sec: ArrayLike | None,
    pitch: ArrayLike | None,
    stretches: Sequence[Stretch],
    swing: Swing | None = None,
    table: Table | None = None,
) -> RhythmReading:
    """Written places of notes given in order of onset; arrays alike in shape (n,), n above 0.

    ``duration_sec`` and ``pitch`` help to tell chords and ornaments from figures, and may be None.
    ``swing``: None to find it.
    """
    table = fitted() if table is None else table
    ms = np.asarray(onset_sec, np.float64) * 1000.0
    lasting = None if duration_sec is None else np.asarray(duration_sec, np.float64) * 1000.0
    number = None if pitch is None else np.asarray(pitch, np.int64)
    place = np.asarray(onset_q, np.float64)
    whole = look(place, ms, lasting, number, stretches)
    if lasting is None or number is None:
        return _transcribe(whole, swing, table)
    counted = plain_notes(whole, HeardNotes(place, ms, lasting, number), _straight_feel(table))
    if counted is None:
        return _transcribe(whole, swing, table)
    found = _transcribe(look(*counted.notes, stretches, counted.lead), swing, table)
    home, kept = counted.home, counted.kept
    events = found.events._replace(of_note=found.events.of_note[home], first=kept[found.events.first])
    return found._replace(beat=found.beat[home], place=found.place[home], events=events, home=kept[home])


def _transcribe(whole: Sample, swing: Swing | None, table: Table) -> RhythmReading:
    sample = excerpt(whole)
    tried = tried_swings(sample)
    if not tried and (swing is None or swing.straight):
        table = _straight_feel(table)
    chosen = find_swing(sample, table, tried) if swing is None else swing
    found = read(whole, sample, table, chosen)
    if swing is not None or chosen.straight:
        return found
    first = whole.events.first
    beat = found.beat[first]
    start = found.beats.start_q[beat]
    written = start + _PLACE_Q[found.place[first]] * found.beats.length_q[beat]
    really = measured(whole.events.onset_q, written, start, chosen)
    if really.ratio > MOST:
        # Dotted figures.
        return read(whole, sample, table, Swing())
    return found._replace(swing=really)
