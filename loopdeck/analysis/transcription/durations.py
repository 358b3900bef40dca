"""Written durations: how long a note is on paper, which is seldom as long as its key was down.

The model
    Most notes last, on paper, until some later note begins: mostly the next one of their own voice.
    So the candidates of a note are the times to the next onsets, and the time its key was down
    rounded to the beat's own division (then a rest follows). Each candidate is known by its rank,
    whether a note near in pitch begins there, whether it is one note value, and how long the key
    was down beside it; a table counted on players of written music says how often such a candidate
    was right, and the best one is taken. The idea, onsets as candidates and pitch as context, is
    that of Nakamura, Yoshii & Dixon, "Note value recognition for piano transcription using Markov
    random fields", IEEE/ACM TASLP 25(9), 2017; their model is larger.
Conventions
    Exact times are whole ticks of ``1 / TICKS`` quarter, which every place of every grid falls on.
"""

import json
from fractions import Fraction
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.table import PATH

#: 2^9 · 3^2 · 5 · 7 · 11 · 13: every even division up to 16, and 18, 20 and 24, of every beat.
TICKS = 720720 * 32
#: Onsets looked at after a note, and how near in pitch its own voice is, in semitones.
RANKS, NEAR = 8, 5
#: Bins of log2(key down / candidate), upper edges.
RATIO_EDGES = np.array([-3.0, -2.0, -1.5, -1.0, -0.6, -0.35, -0.15, 0.0, 0.15, 0.35, 0.7, 1.2])
SHAPE = (RANKS + 1, 2, 2, len(RATIO_EDGES) + 1)


@lru_cache(maxsize=1)
def odds() -> NDArray[np.float64]:
    """How often a candidate of each kind is right: (rank, voice, one note value, ratio bin)."""
    stored = json.loads(PATH.read_text(encoding="utf-8"))["lengths"]
    right, seen = (np.array(stored[name], float).reshape(SHAPE) for name in ("right", "seen"))
    return np.asarray((right + 0.2) / (seen + 2.0))


def candidates(
    written: NDArray[np.int64], duration_q: NDArray[np.float64], pitch: NDArray[np.int64], step: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Candidates of notes in order of onset: ticks (n, RANKS + 1), 0 where there is none, and their
    kinds as flat indices into ``odds``.

    ``written``: ticks; ``duration_q``: key down, quarters; ``step``: the beat's division in ticks,
    for the first candidate.
    """
    places, home = np.unique(written, return_inverse=True)
    down = np.maximum(duration_q * TICKS, 1.0)
    found = np.zeros((len(written), RANKS + 1), np.int64)
    found[:, 0] = np.maximum(np.round(down / step), 1) * step
    voice = np.zeros(found.shape, np.int64)
    padded = np.concatenate([places, np.full(RANKS, -1)])
    keyed = np.unique(home * 256 + pitch)
    for rank in range(1, RANKS + 1):
        then = padded[home + rank]
        found[:, rank] = np.where(then >= 0, then - written, 0)
        want = (home + rank) * 256 + pitch
        at = np.searchsorted(keyed, want)
        near = np.minimum(
            np.abs(keyed[np.clip(at, 0, len(keyed) - 1)] - want),
            np.abs(keyed[np.clip(at - 1, 0, len(keyed) - 1)] - want),
        )
        voice[:, rank] = near <= NEAR
    # Only the first onset of the own voice counts as such.
    voice &= np.cumsum(voice, axis=1) == 1
    ratio = np.searchsorted(RATIO_EDGES, np.log2(down[:, None] / np.maximum(found, 1)))
    kind = np.ravel_multi_index(
        (np.broadcast_to(np.arange(RANKS + 1), found.shape), voice, _one_value(found), ratio), SHAPE
    )
    return found, kind


def _one_value(ticks: NDArray[np.int64]) -> NDArray[np.int64]:
    """1 for what one note head can be, dotted or in a tuplet, else 0."""
    values, back = np.unique(ticks, return_inverse=True)
    good = np.zeros(len(values), np.int64)
    for index, value in enumerate(values.tolist()):
        length = Fraction(value, TICKS)
        plain = length.denominator & (length.denominator - 1) == 0
        good[index] = value > 0 and (
            length.numerator in (1, 2, 3, 4, 6, 8, 12) if plain else length.numerator in (1, 2, 4)
        )
    return np.asarray(good[back].reshape(ticks.shape))


def written_lengths(
    written: NDArray[np.int64], duration_q: NDArray[np.float64], pitch: NDArray[np.int64], step: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Written durations in ticks of notes in order of onset, shape (n,); arguments as in
    ``candidates``.
    """
    found, kind = candidates(written, duration_q, pitch, step)
    worth = np.where(found > 0, odds().reshape(-1)[kind], -1.0)
    return np.asarray(found[np.arange(len(found)), worth.argmax(axis=1)])
