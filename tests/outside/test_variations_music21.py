"""Ways to change a riff, against music21: transposition, steps of a scale, and modes by degree."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import pitch as m21pitch
from music21 import scale as m21scale

from loopdeck.bass.variations.line import line_of
from loopdeck.bass.variations.pitch import into, stepped, transposed
from loopdeck.brief.brief import Brief
from loopdeck.theory.scale import parse_scale

CLASSES = {
    "ionian": m21scale.MajorScale,
    "dorian": m21scale.DorianScale,
    "phrygian": m21scale.PhrygianScale,
    "lydian": m21scale.LydianScale,
    "mixolydian": m21scale.MixolydianScale,
    "aeolian": m21scale.MinorScale,
    "locrian": m21scale.LocrianScale,
}


def riff(pitches: list[int]):
    return line_of([(index * 0.5, 0.4, pitch, 90) for index, pitch in enumerate(pitches)], Brief.default())


@given(st.lists(st.integers(30, 90), min_size=1, max_size=8), st.integers(-12, 12).filter(bool))
def test_transposition(pitches: list[int], by: int) -> None:
    wanted = [m21pitch.Pitch(midi=pitch).transpose(by).midi for pitch in pitches]
    assert transposed(riff(pitches), by).notes["pitch"].tolist() == wanted


@pytest.mark.parametrize("mode", CLASSES)
@pytest.mark.parametrize("steps", [-2, -1, 1, 3])
def test_steps_of_a_scale(mode: str, steps: int) -> None:
    scale, theirs = parse_scale(f"E {mode}"), CLASSES[mode]("E")
    inside = [pitch for pitch in range(28, 60) if scale.contains([pitch])[0]]
    direction = m21scale.Direction.ASCENDING if steps > 0 else m21scale.Direction.DESCENDING
    wanted = [theirs.nextPitch(m21pitch.Pitch(midi=pitch), direction, abs(steps)).midi for pitch in inside]
    assert stepped(riff(inside), scale, steps).notes["pitch"].tolist() == wanted


@pytest.mark.parametrize("source", CLASSES)
@pytest.mark.parametrize("target", CLASSES)
def test_from_one_mode_into_another_by_degree(source: str, target: str) -> None:
    ours, theirs = parse_scale(f"E {source}"), (CLASSES[source]("E"), CLASSES[target]("E"))
    inside = [pitch for pitch in range(40, 65) if ours.contains([pitch])[0]]
    moved = into(riff(inside), ours, parse_scale(f"E {target}")).notes["pitch"]
    for pitch, got in zip(inside, moved.tolist(), strict=True):
        degree = theirs[0].getScaleDegreeFromPitch(m21pitch.Pitch(midi=pitch), comparisonAttribute="pitchClass")
        assert theirs[1].pitchFromDegree(degree).pitchClass == got % 12
    assert np.abs(moved - np.array(inside)).max() <= 2
