"""Fingering against a search through every path, and the neck against equal temperament.

Sources
    Sayegh, "Fingering for string instruments with the optimum path paradigm", Computer Music
    Journal 13(3), 1989: the best fingering is the cheapest path. ISO 16: A4 is 440 Hz. Frets and
    open strings of common tunings: common practice, no source.
"""

from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopdeck.bass.fingering import finger
from loopdeck.bass.handwork import ANY, Neckboard, hurry, states_of, ways_between
from loopdeck.bass.neck import moves, neck_of
from loopdeck.brief.tunings import find_tuning
from loopdeck.capture.notes import NOTE_DTYPE
from loopdeck.theory.scale import parse_scale

BASS = find_tuning("four-string")


def phrase(pitches: list[int], gaps: list[float]) -> np.ndarray:
    """Notes one after the other, none into the next."""
    notes = np.zeros(len(pitches), NOTE_DTYPE)
    notes["onset_sec"] = np.concatenate([[0.0], np.cumsum(gaps)])[: len(pitches)]
    notes["duration_sec"] = 0.05
    notes["pitch"], notes["velocity"] = pitches, 90
    return notes


def cheapest(pitches: list[int], gaps: list[float]) -> float:
    """The cost of the best of all paths, each one summed up."""
    board = Neckboard(BASS.strings, BASS.frets)
    kinds = [((pitch, ANY),) for pitch in pitches]
    states = [states_of(board, kind) for kind in kinds]
    ways = [
        ways_between(board, one, other, (), "").weighed(hurry(gap))
        for (one, other), gap in zip(pairwise(kinds), gaps, strict=False)
    ]
    best = np.inf
    for path in product(*(range(len(state.hand)) for state in states)):
        cost = sum(float(state.local[row]) for state, row in zip(states, path, strict=True))
        cost += sum(float(way[a, b]) for way, (a, b) in zip(ways, pairwise(path), strict=True))
        best = min(best, cost)
    return best


@settings(max_examples=30)
@given(st.lists(st.integers(28, 67), min_size=1, max_size=4), st.lists(st.floats(0.06, 1.5), min_size=5, max_size=5))
def test_the_cheapest_of_all_paths_is_found(pitches: list[int], gaps: list[float]) -> None:
    found = finger(phrase(pitches, gaps), BASS)
    # The onsets are sums of the gaps, so the gaps are taken from them again.
    real = np.diff(phrase(pitches, gaps)["onset_sec"]).tolist()
    assert found.cost == pytest.approx(cheapest(pitches, real), abs=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_the_cheapest_of_all_paths_of_six_notes(seed: int) -> None:
    """Six notes of which each has one or two places and few hands: high or low on the neck."""
    choice = np.random.default_rng(seed)
    pitches = choice.choice([29, 30, 31, 32, 33, 34, 64, 65, 66, 67], 6).tolist()
    gaps = choice.uniform(0.08, 0.8, 5).tolist()
    real = np.diff(phrase(pitches, gaps)["onset_sec"]).tolist()
    if len(np.unique(pitches)) > 1:
        assert finger(phrase(pitches, gaps), BASS).cost == pytest.approx(_by_steps(pitches, real), abs=1e-6)


def _by_steps(pitches: list[int], gaps: list[float]) -> float:
    """All paths, kept apart by their last state only when they are complete: a recursion without
    memory.
    """
    board = Neckboard(BASS.strings, BASS.frets)
    kinds = [((pitch, ANY),) for pitch in pitches]
    states = [states_of(board, kind) for kind in kinds]
    ways = [
        ways_between(board, one, other, (), "").weighed(hurry(gap))
        for (one, other), gap in zip(pairwise(kinds), gaps, strict=True)
    ]
    bound = [np.inf]

    def walk(at: int, row: int, cost: float) -> None:
        if cost >= bound[0]:
            return
        if at + 1 == len(states):
            bound[0] = cost
            return
        for nxt in range(len(states[at + 1].hand)):
            walk(at + 1, nxt, cost + float(ways[at][row, nxt]) + float(states[at + 1].local[nxt]))

    for row in range(len(states[0].hand)):
        walk(0, row, float(states[0].local[row]))
    return bound[0]


@pytest.mark.parametrize(("string", "hertz"), [(4, 41.203), (3, 55.0), (2, 73.416), (1, 97.999)])
def test_open_strings_and_frets_sound_as_equal_temperament_says(string: int, hertz: float) -> None:
    neck = neck_of(parse_scale("E phrygian"), BASS).as_dict()
    row = neck["strings"][string - 1]
    assert 440.0 * 2.0 ** ((row["open"] - 69) / 12) == pytest.approx(hertz, abs=0.001)
    for fret in row["frets"]:
        assert 440.0 * 2.0 ** ((fret["pitch"] - 69) / 12) == pytest.approx(hertz * 2.0 ** (fret["fret"] / 12), rel=2e-5)


def test_where_notes_lie_in_standard_tuning() -> None:
    """C is the third fret of the A string, D the fifth, E the seventh, G the tenth; high D the
    seventh fret of the G string.
    """
    for pitch, string, fret in ((36, 3, 3), (38, 3, 5), (40, 3, 7), (43, 3, 10), (50, 1, 7)):
        assert BASS.strings[string - 1] + fret == pitch


def test_drop_d() -> None:
    """Every note on the lowest string moves up two frets, and the two lowest strings make a power
    chord at one fret.
    """
    drop = find_tuning("drop-d")
    assert moves(BASS, drop) == "Everything on the lowest string two frets higher."
    assert drop.strings[2] - drop.strings[3] == 7
