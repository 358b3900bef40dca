"""Feel: playing and layers that are swung each in their own way; what is far off is not a repeat;
who is late by most of a sixteenth plays on the beat all the same.
"""

from pathlib import Path

import numpy as np
import pytest

from loopdeck.analysis.feel_sentences import says, swung_apart
from loopdeck.cli.main import main
from tests.unit.test_feel import feel_of, player
from tests.unit.test_riffs_command import write

STRAIGHT = player(sigma_ms=4.0).onset_q
SWUNG = player(swing="2:1 1/8", sigma_ms=4.0).onset_q


def test_playing_and_layers_that_swing_differently_are_told_apart() -> None:
    apart = swung_apart(feel_of(SWUNG), feel_of(STRAIGHT))
    assert apart.startswith("You play your eighths at ") and "the layers have them straight" in apart
    assert says(feel_of(np.concatenate((SWUNG, STRAIGHT))), apart)[0] == apart
    assert "straight, the layers have them at " in swung_apart(feel_of(STRAIGHT), feel_of(SWUNG))
    free = feel_of(np.sort(np.random.default_rng(8).uniform(0, 16, 60)))
    assert swung_apart(free, feel_of(SWUNG)) == swung_apart(feel_of(SWUNG), free) == ""
    assert swung_apart(feel_of(SWUNG), feel_of(SWUNG)) == swung_apart(feel_of(STRAIGHT), feel_of(STRAIGHT)) == ""


def test_a_triplet_now_and_then_is_no_unsteadiness() -> None:
    beats = np.arange(32.0)
    figures = [[0.0, 1 / 3, 2 / 3] if beat % 7 == 3 else [0.0, 0.5] for beat in range(32)]
    onset_q = np.concatenate([beat + np.array(inside) for beat, inside in zip(beats, figures, strict=True)])
    found = feel_of(onset_q + np.random.default_rng(2).normal(0, 0.006, len(onset_q)), "7/8", grid="1/8")
    assert found.repeats is not None and found.repeats.spread_ms < 8
    assert not any("loose" in one for one in says(found))


@pytest.mark.parametrize("share", [0.5, 0.6, 0.667])
def test_eighths_that_are_late_by_most_of_a_sixteenth_are_eighths(share: float) -> None:
    late_q = 0.09 * 96 / 60
    onset_q = np.concatenate((np.arange(16.0), np.arange(16.0) + share)) + late_q
    found = feel_of(onset_q + np.random.default_rng(4).normal(0, 0.012, 32))
    assert found.constant_ms == pytest.approx(90, abs=8)
    assert found.fit.found["1/8"] is not None and found.fit.found["1/8"].share == pytest.approx(share, abs=0.02)


def test_the_swing_that_was_asked_for_is_said_to_be_there() -> None:
    assert "as the brief asks" in says(feel_of(SWUNG, swing="2:1 1/8"))[0]
    assert "as the brief asks" not in says(feel_of(SWUNG))[0]


@pytest.mark.parametrize("late_ms", [30.0, 60.0])
def test_of_off_beats_alone_it_is_said_once_that_they_are_late(late_ms: float) -> None:
    sentences = says(feel_of(np.arange(16.0) + 0.5 + late_ms * 96 / 60_000))
    assert [one for one in sentences if one.startswith("Only off-beats")] == sentences[:1]


def test_a_swing_without_any_spread_has_no_range() -> None:
    exact = feel_of(np.concatenate([[at, at + 0.6] for at in np.arange(16.0)]))
    assert says(exact)[0] == "Your off-eighths sit at 60 % of the pair: 1.5:1."
    assert ", between 1.9" in says(feel_of(SWUNG))[0]


def test_an_off_beat_that_lies_beside_the_swing_is_named() -> None:
    swung = player(passes=8, swing="2:1 1/8", sigma_ms=4.0)
    beside = np.where(swung.written_q % 4 == 2.5, 22.0, 0.0) * 96 / 60_000
    for brief in ("2:1 1/8", "straight"):
        sentences = says(feel_of(swung.onset_q + beside, swing=brief))
        assert any(
            one.startswith("The and of 3 comes 2") and "later than your other off-eighths" in one for one in sentences
        )
    assert not any("than your other" in one for one in says(feel_of(SWUNG, swing="2:1 1/8")))


def test_what_chance_makes_louder_or_later_is_not_spoken_of() -> None:
    rng, said = np.random.default_rng(7), 0
    for _ in range(40):
        onset_q = np.arange(32) / 2 + rng.normal(0, 0.016, 32)
        told = says(feel_of(onset_q, velocity=rng.integers(60, 100, 32).tolist()))
        said += any("accent" in one or "against the click" in one for one in told)
    assert said <= 4, "one in twenty, by the bound that is put on it"
    few = says(feel_of(np.array([0.0, 0.5, 1.0, 1.5, 4.0, 4.5])))
    assert not any("moves by" in one for one in few)


def test_a_file_that_names_no_tempo_is_said_to_name_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    notes = [(one / 2, 40 + one % 5) for one in range(16)]
    path = write(tmp_path / "riff.mid", notes)
    bare = write(tmp_path / "bare.mid", notes, tempo=False)
    for command in (["feel"], ["check"], ["compare", path]):
        for file, words in ((path, False), (bare, True)):
            assert main([command[0], file, *command[1:]]) == 0
            assert ("no tempo" in " ".join(capsys.readouterr().out.split())) == words
    assert main(["feel", bare, "--tempo", "100"]) == 0 and "no tempo" not in capsys.readouterr().out
