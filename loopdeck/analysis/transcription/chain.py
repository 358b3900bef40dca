"""The best way through all beats: one choice for each, whose cuts meet, with memory from beat to
beat and of the piece.

Memory
    How a beat is divided depends on the beat before (``Table.follows``). What the piece has done
    elsewhere counts, too: after a first way through, the grids and patterns found in it are more
    likely everywhere, each beat's own part left out (after Nakamura & Yoshii, "Musical rhythm
    transcription based on Bayesian piece-specific score models capturing repetitions", arXiv
    1908.06969).
"""

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.beats import CUTS
from loopdeck.analysis.transcription.choices import TOP, Choices
from loopdeck.analysis.transcription.forward import forward
from loopdeck.analysis.transcription.grids import GRIDS, KIND
from loopdeck.analysis.transcription.table import Table

#: Beats that the usual shares of grids count for beside those of the piece.
_PIECE = 6.0
#: Grids of a smaller share of the piece than this are taken for rarer still: a lone tuplet needs
#: clear evidence.
_RARE, _SHARP = 0.06, 2.0


def best_way(
    found: Choices, follows: NDArray[np.float32], score: NDArray[np.float32]
) -> tuple[NDArray[np.int64], float]:
    """The choice of each beat, (m, 3): start cut, end cut, choice; and the score of the whole."""
    count = len(score)
    if count == 0:
        return np.zeros((0, 3), np.int64), 0.0
    source, reached, constant = forward(found, follows, score)
    last = reached.reshape(CUTS, CUTS, TOP)[:, 0, :]
    first, choice = divmod(int(last.argmax()), TOP)
    total = constant + float(last.max())
    way = []
    end = 0
    for beat in range(count - 1, -1, -1):
        way.append((first, end, choice))
        came = int(source[beat, (first * CUTS + end) * TOP + choice])
        end, (first, choice) = first, divmod(came, TOP)
    return np.array(way[::-1], np.int64), total


def beat_scores(found: Choices, way: NDArray[np.int64], links: NDArray[np.float32]) -> NDArray[np.float64]:
    """What each beat of a way adds to the score, (m,)."""
    at = (np.arange(len(way)), way[:, 0], way[:, 1], way[:, 2])
    score = found.score[at].astype(np.float64)
    grid = found.grid[at].astype(np.int64)
    score[1:] += links[grid[:-1], grid[1:]]
    return np.asarray(score)


def linked(table: Table, seen: NDArray[np.float64] | None = None) -> NDArray[np.float32]:
    """Log probabilities of grid after grid, bent towards the grids ``seen`` in this piece (counts,
    shape (g,)).
    """
    knobs = table.knobs
    follows = np.exp(table.follows.astype(np.float64))
    usual = np.exp(table.grid.astype(np.float64))
    if seen is not None:
        for kind in KIND:
            there = seen[kind].sum()
            share = (seen[kind] + _PIECE * usual[kind]) / (there + _PIECE)
            share = share * np.minimum(1.0, share / _RARE) ** _SHARP
            follows[:, kind] *= (share / usual[kind]) ** knobs.stay
            follows[:, kind] /= follows[:, kind].sum(axis=1, keepdims=True)
    return np.asarray(np.log(follows) * knobs.grid_weight, np.float32)


def solve(found: Choices, table: Table, rounds: int = 1) -> tuple[NDArray[np.int64], float]:
    """As ``best_way``, with the piece's memory in ``rounds`` further rounds."""
    score = found.score
    way, total = best_way(found, linked(table), score)
    if not len(way):
        return way, total
    rows = np.arange(len(way))
    for _ in range(rounds):
        at = (rows, way[:, 0], way[:, 1], way[:, 2])
        struck = found.score[at] != np.float32(table.knobs.empty)
        seen = np.bincount(found.grid[at][struck], minlength=len(GRIDS)).astype(float)
        score = found.score + _remembered(found, at, struck, table)
        way, total = best_way(found, linked(table, seen), score)
    return way, total


def _remembered(
    found: Choices, at: tuple[NDArray[np.int64], ...], struck: NDArray[np.bool_], table: Table
) -> NDArray[np.float32]:
    """What each choice gains when its pattern stands elsewhere in the piece."""
    patterns, numbers = np.unique(found.pattern[at][struck], return_counts=True)
    if not len(patterns):
        return np.zeros_like(found.score)
    place = np.clip(np.searchsorted(patterns, found.pattern), 0, len(patterns) - 1)
    known = patterns[place] == found.pattern
    times = np.where(known, numbers[place], 0).astype(np.float32)
    own = np.zeros(len(found.score), np.uint64)
    own[struck] = found.pattern[at][struck]
    times -= (own[:, None, None, None] == found.pattern) & struck[:, None, None, None]
    share = np.maximum(times, 0) / max(int(struck.sum()) - 1, 1)
    usual = np.exp(found.prior + table.grid[found.grid])
    mix = np.float32(table.knobs.pattern)
    gain = np.log((1 - mix) + mix * share / np.maximum(usual, np.float32(1e-9)))
    return np.asarray(np.where(found.score > -1e8, gain * np.float32(table.knobs.recall), 0.0), np.float32)
