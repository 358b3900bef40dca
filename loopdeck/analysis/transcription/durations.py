"""Written durations: how long a note is on paper, which is seldom as long as its key was down.

The model
    A note lasts, on paper, until some later note begins, or it ends earlier and a rest follows. The
    candidates of a note are therefore the times to the next onsets, and the ends that its meter
    offers: multiples of the beat's own division, the ends of beats, and the time its key was down,
    rounded. Each candidate is known by what stands there (which onset, of the own voice or not), by
    its note value and the rest after it, by where in the beat it begins and ends, and by how long
    the key was down beside it. The last is seen against the player's own touch: the usual part of
    a written duration that a key is down and how much this varies, found first, as those under
    which all of the take is likeliest. So a short note means a rest in a legato take, and a note
    like all others in a staccato one.

    Each property has a weight, and the candidate with the largest sum is taken: a conditional logit
    (McFadden, "Conditional logit analysis of qualitative choice behavior", in Zarembka, ed.,
    Frontiers in Econometrics, 1974), fitted on players of written music. Onsets as candidates and
    pitch as context are after Nakamura, Yoshii & Dixon, "Note value recognition for piano
    transcription using Markov random fields", IEEE/ACM TASLP 25(9), 2017.
Conventions
    Exact times are whole ticks of ``1 / TICKS`` quarter, which every place of every grid falls on.
    Ratios are logarithms to base 2.
"""

import json
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

PATH = Path(__file__).with_name("length_table.json")
#: 2^9 · 3^2 · 5 · 7 · 11 · 13: every even division up to 16, and 18, 20 and 24, of every beat.
TICKS = 720720 * 32
#: Onsets looked at after a note, and how near in pitch its own voice is, in semitones.
RANKS, NEAR = 6, 5
#: Ends that the meter offers: so many steps of the division from the onset, so many half beats from
#: the end of the beat.
STEPS, HALVES = (1, 2, 3, 4, 6), (0, 1, 2, 4, 6)
#: Candidates of a note: the key down rounded, onsets, steps, half beats.
MANY = 1 + RANKS + len(STEPS) + len(HALVES)
#: How often a key is held well over the next onset in a line of one voice and with two, at most.
OVER = (0.04, 0.25)
#: Bins of the ratio of key down to candidate against the player's usual one, upper edges.
RATIO_EDGES = np.array([-2.5, -1.6, -1.1, -0.8, -0.55, -0.35, -0.2, -0.08, 0.08, 0.2, 0.35, 0.55, 0.8, 1.1, 1.6])
#: Players' touches: the usual ratio of key down to written duration, and its standard deviation.
USUAL = (0.1, -0.05, -0.2, -0.35, -0.55, -0.8, -1.05, -1.35, -1.7)
SPREAD = (0.1, 0.2, 0.4)
#: How often a note is not played with the usual touch, and the density of its ratio.
_OTHER, _FLAT = 0.1, 0.15
#: Notes by which the touch is found.
_SAMPLE = 600
_PARTS = (
    (1, 8),
    (1, 6),
    (1, 5),
    (1, 4),
    (1, 3),
    (3, 8),
    (1, 2),
    (2, 3),
    (3, 4),
    (1, 1),
    (3, 2),
    (2, 1),
    (3, 1),
    (4, 1),
)
#: Note values, in quarters, that have weights of their own.
VALUES = tuple(Fraction(part, whole) for part, whole in _PARTS)
#: Rests beside the notes before them, upper edges.
REST_EDGES = np.array([0.3, 0.45, 0.7, 1.2, 2.2, 3.5])
#: Shapes of the tables of weights: see ``_kinds``.
SHAPES = {
    "onset": (3, 3 + RANKS, 2, 2),
    "value": (2, len(VALUES) + 2),
    "ends": (2, 2, 4, 4),
    "rest": (2, len(REST_EDGES) + 2),
    "touch": (len(SPREAD), 4, len(RATIO_EDGES) + 1),
}
_NEVER = -1e9


class Sounding(NamedTuple):
    """Notes by written onset, arrays alike in shape (n,): ``written`` ticks; ``down_q``, how long
    the key was down in quarters, any swing taken out; ``pitch``; the ``step`` of the beat's
    division in ticks; the start and length of the beat in ticks, and whether it is ``compound``.
    """

    written: NDArray[np.int64]
    down_q: NDArray[np.float64]
    pitch: NDArray[np.int64]
    step: NDArray[np.int64]
    beat: NDArray[np.int64]
    beat_length: NDArray[np.int64]
    compound: NDArray[np.bool_]


class Candidates(NamedTuple):
    """Durations in ticks (n, MANY), 0 where there is none; ``ratio``, of key down to each; their
    ``kinds``: indices into the weights, (n, MANY) for each table but the last; and ``ending`` (n,
    MANY), which of four: the next onset, another one of the own voice, another one, none.
    """

    ticks: NDArray[np.int64]
    ratio: NDArray[np.float64]
    kinds: dict[str, NDArray[np.int64]]
    ending: NDArray[np.int64]


class Articulation(NamedTuple):
    """Indices into ``USUAL`` and ``SPREAD``."""

    usual: int
    spread: int


@lru_cache(maxsize=1)
def weights() -> dict[str, NDArray[np.float64]]:
    """The fitted tables, flat; those for finding the touch have ``first`` before their names."""
    stored = json.loads(PATH.read_text(encoding="utf-8"))
    return {name: np.array(values, float) for name, values in stored.items()}


def candidates(notes: Sounding) -> Candidates:
    """What each note could last."""
    count = len(notes.written)
    down = np.maximum(notes.down_q * TICKS, 1.0)
    places, home = np.unique(notes.written, return_inverse=True)
    ranked, voice = _onsets(notes, places, home)
    begins = ranked > 0
    own = np.where(voice.any(axis=1), ranked[np.arange(count), voice.argmax(axis=1)], 0)
    most = np.maximum(ranked[:, 0], own)
    steps = notes.step[:, None] * np.array(STEPS)
    left = (notes.beat + notes.beat_length - notes.written)[:, None]
    halves = left + notes.beat_length[:, None] * np.array(HALVES) // 2
    free = np.concatenate([steps, halves], axis=1)
    free = np.where((most[:, None] == 0) | (free < most[:, None]), free, 0)
    rounded = np.maximum(np.round(down / notes.step), 1).astype(np.int64) * notes.step
    ticks = np.concatenate([rounded[:, None], ranked, free], axis=1)
    # What stands there twice counts once: as an onset, else as the first of the others.
    for column in [0, *range(1 + RANKS, MANY)]:
        others = [*range(1, 1 + RANKS)] + [c for c in range(1 + RANKS, MANY) if column == 0 or c < column]
        ticks[(ticks[:, column, None] == ticks[:, others]).any(axis=1), column] = 0
    over = float((begins[:, 0] & (down > 1.3 * ranked[:, 0])).mean()) if count else 0.0
    return _described(notes, ticks, voice, down, int(np.searchsorted(OVER, over)), most)


def _onsets(
    notes: Sounding, places: NDArray[np.int64], home: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """The times to the next onsets, (n, RANKS), 0 where there is none, and which is the first of
    the own voice.
    """
    ranked = np.zeros((len(home), RANKS), np.int64)
    voice = np.zeros(ranked.shape, bool)
    padded = np.concatenate([places, np.full(RANKS, -1)])
    keyed = np.unique(home * 256 + notes.pitch)
    for rank in range(RANKS):
        there = home + rank + 1 < len(places)
        ranked[:, rank] = np.where(there, padded[home + rank + 1] - notes.written, 0)
        want = (home + rank + 1) * 256 + notes.pitch
        at = np.searchsorted(keyed, want)
        near = np.minimum(
            np.abs(keyed[np.clip(at, 0, len(keyed) - 1)] - want),
            np.abs(keyed[np.clip(at - 1, 0, len(keyed) - 1)] - want),
        )
        voice[:, rank] = there & (near <= NEAR)
    # Only the first onset of the own voice counts as such.
    voice &= np.cumsum(voice, axis=1) == 1
    return ranked, voice


def _described(
    notes: Sounding,
    ticks: NDArray[np.int64],
    voice: NDArray[np.bool_],
    down: NDArray[np.float64],
    texture: int,
    most: NDArray[np.int64],
) -> Candidates:
    shape = ticks.shape
    column = np.arange(MANY)
    onset = np.broadcast_to((column >= 1) & (column <= RANKS), shape)
    place = np.where(column <= RANKS, column, np.where(column <= RANKS + len(STEPS), RANKS + 1, RANKS + 2))
    own = np.zeros(shape, bool)
    own[:, 1 : 1 + RANKS] = voice
    value, single = _values(ticks)
    rest = np.where((most[:, None] > ticks) & ~onset & (ticks > 0), most[:, None] - ticks, 0)
    beside = np.searchsorted(REST_EDGES, rest / np.maximum(ticks, 1)) + 1
    begin, end = (
        _level(at - notes.beat[:, None], notes) for at in (notes.written[:, None], notes.written[:, None] + ticks)
    )
    kinds = {
        "onset": (np.full(shape, texture), np.broadcast_to(place, shape), own, single),
        "value": (onset, value),
        "ends": (onset, np.broadcast_to(notes.compound[:, None], shape), np.broadcast_to(begin, shape), end),
        "rest": (_values(rest)[1], np.where(rest > 0, beside, 0)),
    }
    flat = {
        name: np.ravel_multi_index(tuple(np.asarray(part, np.int64) for part in parts), SHAPES[name])
        for name, parts in kinds.items()
    }
    ending = np.where(column == 1, 0, np.where(onset, np.where(own, 1, 2), 3))
    return Candidates(ticks, np.log2(down[:, None] / np.maximum(ticks, 1)), flat, ending)


def _level(inside: NDArray[np.int64], notes: Sounding) -> NDArray[np.int64]:
    """How strong places are: 0 on a beat, 1 halves of it (thirds of compound ones), 2 halves of
    these, 3 elsewhere.
    """
    length, parts = notes.beat_length[:, None], np.where(notes.compound, 3, 2)[:, None]
    phase = inside % length
    return np.where(
        phase == 0, 0, np.where(phase * parts % length == 0, 1, np.where(phase * parts * 2 % length == 0, 2, 3))
    )


def _values(ticks: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The note value of each duration as an index into ``VALUES`` (behind them: another, or none),
    and 1 for what one note head can be, dotted or in a tuplet, else 0.
    """
    values, back = np.unique(ticks, return_inverse=True)
    known = {int(value * TICKS): index for index, value in enumerate(VALUES)}
    named = np.full(len(values), len(VALUES), np.int64)
    single = np.zeros(len(values), np.int64)
    for index, value in enumerate(values.tolist()):
        named[index] = known.get(value, len(VALUES) + (value == 0))
        length = Fraction(value, TICKS)
        plain = length.denominator & (length.denominator - 1) == 0
        single[index] = value > 0 and (
            length.numerator in (1, 2, 3, 4, 6, 8, 12) if plain else length.numerator in (1, 2, 4)
        )
    return named[back].reshape(ticks.shape), single[back].reshape(ticks.shape)


def touch(found: Candidates, prior: NDArray[np.float64]) -> Articulation:
    """The touch under which the take is likeliest; ``prior`` (n, MANY): the logarithms of how
    usual each candidate is, whatever the key did.
    """
    some = np.unique(np.linspace(0, len(prior) - 1, min(len(prior), _SAMPLE)).astype(np.int64))
    share = np.exp(prior[some] - prior[some].max(axis=1, keepdims=True))
    share /= share.sum(axis=1, keepdims=True)
    ratio = found.ratio[some]
    best, at = -np.inf, Articulation(0, 0)
    for spread, deviation in enumerate(SPREAD):
        for usual, middle in enumerate(USUAL):
            density = np.exp(-0.5 * ((ratio - middle) / deviation) ** 2) / deviation * 0.4
            total = float(np.log((share * ((1 - _OTHER) * density + _OTHER * _FLAT)).sum(axis=1)).sum())
            if total > best:
                best, at = total, Articulation(usual, spread)
    return at


def touched(found: Candidates, player: Articulation) -> NDArray[np.int64]:
    """The kinds of the table ``touch``, (n, MANY)."""
    bins = np.searchsorted(RATIO_EDGES, found.ratio - USUAL[player.usual])
    return (player.spread * 4 + found.ending) * (len(RATIO_EDGES) + 1) + bins


def weighed(found: Candidates, tables: dict[str, NDArray[np.float64]], before: str = "") -> NDArray[np.float64]:
    """The sum of the weights of each candidate without its touch, (n, MANY)."""
    total = np.where(found.ticks > 0, 0.0, _NEVER)
    for name, kind in found.kinds.items():
        total += tables[before + name].take(kind)
    return total


def written_lengths(notes: Sounding) -> NDArray[np.int64]:
    """Written durations in ticks, shape (n,)."""
    if not len(notes.written):
        return np.zeros(0, np.int64)
    tables = weights()
    found = candidates(notes)
    player = touch(found, weighed(found, tables, "first "))
    worth = weighed(found, tables) + tables["touch"].take(touched(found, player))
    return np.asarray(found.ticks[np.arange(len(worth)), worth.argmax(axis=1)])
