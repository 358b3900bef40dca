"""The scale report's core: membership against a slow definition, and which scale explains a playing."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.analysis.scale_report import explain, judge, report
from loopdeck.theory.formulas import semitone_of
from loopdeck.theory.pitch import parse_pitch
from loopdeck.theory.scale import SCALES, parse_scale

PITCHES = st.lists(st.integers(0, 127), max_size=60)
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
ANY = st.builds(lambda root, name: parse_scale(f"{root} {name}"), st.sampled_from(ROOTS), st.sampled_from(list(SCALES)))


def pitches(text: str) -> list[int]:
    return [parse_pitch(word) for word in text.split()]


@given(PITCHES, ANY)
def test_judged_note_by_note(heard, scale) -> None:  # type: ignore[no-untyped-def]
    judged = judge(heard, scale)
    steps = [(pitch - scale.root.pitch_class) % 12 for pitch in heard]
    inside = {semitone_of(degree) % 12 for degree in scale.degrees}
    assert judged.step.tolist() == steps
    assert judged.in_scale.tolist() == [step in inside for step in steps]


@given(PITCHES, ANY)
def test_the_report_agrees_with_the_scale(heard, scale) -> None:  # type: ignore[no-untyped-def]
    onsets = np.arange(len(heard)) * 0.25
    found = report(heard, onsets, np.full(len(heard), 0.2), np.arange(len(heard)) // 8 + 1, scale)
    assert [note["index"] for note in found["notes"]] == list(range(len(heard)))
    assert [note["pitch"] for note in found["notes"]] == heard
    assert [note["degree"] for note in found["notes"]] == scale.degree_names(heard)
    assert [note["name"] for note in found["notes"]] == [scale.spell(pitch) for pitch in heard]
    assert found["outside"] == sum(not note["in_scale"] for note in found["notes"])
    assert len(found["explains"]) == (3 if heard else 0)


@given(st.lists(st.tuples(st.integers(23, 67), st.floats(0.05, 2)), min_size=1, max_size=40))
def test_nothing_explains_better_than_the_best(notes: list[tuple[int, float]]) -> None:
    heard, durations = (np.array(column) for column in zip(*notes, strict=True))
    best = explain(heard, durations, 3)

    def share(scale) -> float:  # type: ignore[no-untyped-def]
        return float(durations[~scale.contains(heard)].sum() / durations.sum())

    every = [parse_scale(f"{root} {name}") for name in SCALES if name != "chromatic" for root in ROOTS]
    assert best[0].share == pytest.approx(min(map(share, every)), abs=1e-8)
    for one in best:
        assert one.share == pytest.approx(share(one.scale), abs=1e-9)
        assert one.outside == int((~one.scale.contains(heard)).sum())
    assert [one.share for one in best] == sorted(one.share for one in best)


@pytest.mark.parametrize(
    ("notes", "scale"),
    [
        ("E1 F#1 G1 A1 B1 C#2 D2 E2", "E dorian"),
        ("G1 Bb1 C2 Db2 D2 F2 G2", "G minor blues"),
        ("A1 C2 D2 E2 G2 A2", "A minor pentatonic"),
        ("D1 F#1 A1 B1 E2", "D major pentatonic"),
        ("C2 D2 E2 F#2 G#2 A#2", "C whole tone"),
        ("Ab1 Bb1 Cb2 Db2 Eb2 Fb2 G2", "Ab harmonic minor"),
        ("F1 G1 A1 B1 C2 D2 Eb2", "F lydian dominant"),
    ],
)
def test_a_scale_played_in_full_from_its_root_is_found(notes: str, scale: str) -> None:
    heard = pitches(notes)
    best = explain(heard, np.full(len(heard), 0.3))[0]
    assert parse_scale(scale).pitch_classes == best.scale.pitch_classes
    assert best.scale.root.pitch_class == heard[0] % 12
    assert (best.outside, best.share) == (0, 0.0)
    assert str(best.scale) == scale or scale == "Ab harmonic minor"  # G# or Ab: as many signs as it needs


def test_time_weighs_more_than_number() -> None:
    # A long C# against many short C: the scale with the C# leaves less time outside.
    heard = [*pitches("A1 B1 E2 F#2 G#2"), 37, *[36] * 5]
    durations = [*[0.5] * 5, 8.0, *[0.05] * 5]
    best = explain(heard, durations)[0]
    assert 1 in best.scale.pitch_classes and 0 not in best.scale.pitch_classes
    assert (best.outside, best.share) == (5, pytest.approx(0.25 / 10.75))


def test_notes_without_length_count_a_little() -> None:
    assert explain([40, 41], [0.0, 0.0])[0].share == 0.0


@pytest.mark.parametrize("name", [name for name in SCALES if name != "chromatic"])
def test_of_two_spellings_the_usual_one_is_offered(name: str) -> None:
    for root in ROOTS:
        scale = parse_scale(f"{root} {name}")
        heard = [48 + scale.root.pitch_class, *(48 + scale.root.pitch_class + semitone_of(d) for d in scale.degrees)]
        offered = next(
            one.scale
            for one in explain(heard, np.ones(len(heard)), 400)
            if one.scale.name == name and one.scale.root.pitch_class == scale.root.pitch_class
        )
        signs = sum(abs(note.accidental) for note in offered.spelled)
        assert signs <= sum(abs(note.accidental) for note in scale.spelled)
        assert str(parse_scale(str(offered))) == str(offered)


def test_chromatic_explains_nothing() -> None:
    assert all(one.scale.name != "chromatic" for one in explain(range(36, 48), np.ones(12), 1000))
