"""A take that is its target at another pitch: told as that, and its notes stay wrong."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from loopdeck.analysis.comparison.comparing import compare
from loopdeck.analysis.comparison.transposed import height_words
from loopdeck.cli.main import main
from loopdeck.export.piece import piece_of_take
from loopdeck.export.smf import write_smf
from loopdeck.practice.practising import judge
from loopdeck.practice.target import target_of
from loopdeck.shelf.material import material_of
from loopdeck.shelf.side_by_side import side_by_side
from tests.unit.test_play_command import take_of

RIFF = [28, 31, 33, 35, 40, 38, 35, 33, 28, 30, 33, 36, 40, 38, 43, 33]


@pytest.mark.parametrize("shift", [12, -12, 24, 7, -5, 1])
@pytest.mark.parametrize("seed", [3, 11])
def test_the_height_is_found(shift: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    at = np.arange(len(RIFF)) * 0.31
    played = at + rng.uniform(-0.02, 0.02, len(at))
    made = compare(played, np.array(RIFF) + shift, at, RIFF)
    assert (made.transposed, made.by) == (shift, "time") and len(made.wrong) >= len(RIFF) - 3
    # Some left out, one note of another pitch: still the target at that height.
    keep = np.setdiff1d(np.arange(len(RIFF)), rng.choice(len(RIFF), 3, replace=False))
    pitches = np.array(RIFF)[keep] + shift
    pitches[2] += 1
    assert compare(played[keep], pitches, at, RIFF).transposed == shift


def test_what_is_at_its_own_height_is_not_moved() -> None:
    at = np.arange(len(RIFF)) * 0.31
    assert compare(at, RIFF, at, RIFF).transposed == 0
    assert compare(at * 1.6, RIFF, at, RIFF).transposed == 0
    rng = np.random.default_rng(1)
    for _ in range(20):
        assert compare(at, rng.integers(28, 48, len(at)), at, RIFF).transposed == 0
    assert compare([0.0, 0.5], [40, 43], [0.0, 0.5], [28, 31]).transposed == 0, "two notes tell nothing"


def test_octaves_and_chords_are_there_at_their_height() -> None:
    at = np.repeat(np.arange(8) * 0.5, 2)
    octaves = np.add.outer([33, 36, 38, 40, 33, 35, 37, 38], [0, 12]).ravel()
    made = compare(at, octaves + 12, at, octaves)
    assert made.transposed == 12 and made.moved == [(one, one) for one in range(16)]
    at, chords = np.repeat(np.arange(8) * 0.5, 3), np.add.outer([48, 53, 55, 48, 50, 53, 55, 48], [0, 4, 7]).ravel()
    played = at + np.random.default_rng(0).normal(0, 0.01, len(at))
    order = np.lexsort((chords, played))
    made = compare(played[order], chords[order] + 12, at, chords)
    assert len(made.wrong) == 24 and all(order[one] == other for one, other, _ in made.wrong)


def test_it_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name, shift in (("low", 0), ("high", 12)):
        write_smf(tmp_path / f"{name}.mid", piece_of_take(take_of([pitch + shift for pitch in RIFF], gap_q=0.5)))
    assert main(["compare", str(tmp_path / "high.mid"), str(tmp_path / "low.mid")]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "played an octave higher than the target; at that height all its notes are there." in said
    assert "Play it an octave lower." in said
    target = target_of(material_of(take_of(RIFF, gap_q=0.5)))
    found = judge(target, 120.0, target.onset_q, target.pitch + 12)
    assert found.wrong >= len(RIFF) - 3 and found.remarks == ("Played an octave higher than the target.",)
    assert height_words(-5) == "a fourth lower" and height_words(3) == "3 semitones higher"


def test_two_takes_side_by_side_say_how_they_differ() -> None:
    low = replace(take_of(RIFF[:8], gap_q=0.5), name="kelp")
    high = replace(take_of([pitch + 12 for pitch in RIFF[:8]], gap_q=0.5), name="gull")
    assert side_by_side(high, low) == "gull lies an octave higher than kelp, with 8 of its 8 notes."
    assert side_by_side(low, low) == "kelp has all 8 notes of kelp; in time, F1 1.00."
    other = replace(take_of([*RIFF[:6], 45, 47], gap_q=0.5, tempo="100"), name="moss")
    assert side_by_side(other, low).startswith("moss has 6 of the 8 notes of kelp, and 2 others")
    assert "Their tempi are 100 and 120." in side_by_side(other, low)
    assert ", and 1 other;" in side_by_side(replace(take_of([*RIFF[:7], 45], gap_q=0.5), name="moss"), low)
