"""Rhythm transcription of played scores against what the scores say, beside music21's own
``Stream.quantize`` (written against 10.5).

The scores are works of music21's corpus on the held-out side of the split: nothing was fitted on
them. They are played by ``tests/fitting/rhythm/players.py`` with a fixed seed. Art songs, chamber
music and tunes; music21 gets its usual divisors, 4 and 3.
"""

import warnings

import numpy as np
import pytest

from tests.bench.bench_rhythm import theirs, transcribed
from tests.fitting.rhythm.corpus import TICKS, part_of, read
from tests.fitting.rhythm.pieces import Piece, excerpt, piece, stretches_of
from tests.fitting.rhythm.players import play

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    music21 = pytest.importorskip("music21")

from music21 import corpus

#: Held-out works, short ones that music21 reads fast.
WORKS = (
    "corelli/opus3no1/1grave.xml",
    "bach/bwv299.mxl",
    "bach/bwv413.mxl",
    "ryansMammoth/IdlewildJig.abc",
    "liliuokalani/aloha_oe.mxl",
)


@pytest.fixture(scope="module")
def scores() -> list[Piece]:
    found = []
    for name in WORKS:
        assert part_of(name) == "held"
        path = next(str(path) for path in corpus.getCorePaths() if str(path).endswith(name))
        for title, notes, bars in read(path):
            found.append(piece(title, notes, stretches_of(bars)))
    return found


def test_played_scores_are_written_as_they_are(scores: list[Piece]) -> None:
    ours, other = [], []
    for index, whole in enumerate(scores):
        rng = np.random.default_rng([3, index])
        one = excerpt(whole, 300, rng)
        played = play(one.notes, one.beats, rng)
        real = played.written >= 0
        truth = played.written[real] / TICKS
        ours.append((np.abs(transcribed(played, one.stretches).written_q[real] - truth) < 1e-3).mean())
        other.append((np.abs(theirs(played.onset_q)[0][real] - truth) < 1e-3).mean())
    said = f"ours {np.round(ours, 3)}, music21 {music21.__version__} {np.round(other, 3)}"
    assert np.mean(ours) >= 0.93, said
    assert np.mean(ours) > np.mean(other), said
