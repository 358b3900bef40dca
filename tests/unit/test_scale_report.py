"""The scale report's core: membership against a slow definition, and which scale explains a playing."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.analysis.scale_report import explain, judge, report
from loopdeck.theory.formulas import semitone_of
from loopdeck.theory.pitch import parse_note_name, parse_pitch
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
            named
            for one in explain(heard, np.ones(len(heard)), 400)
            for named in (one.scale, *one.same)
            if named.name == name and named.root.pitch_class == scale.root.pitch_class
        )
        signs = sum(abs(note.accidental) for note in offered.spelled)
        assert signs <= sum(abs(note.accidental) for note in scale.spelled)
        assert str(parse_scale(str(offered))) == str(offered)


def test_chromatic_explains_nothing() -> None:
    assert all(one.scale.name != "chromatic" for one in explain(range(36, 48), np.ones(12), 1000))


#: Whole hundredths of a second: sums of them are equal or clearly apart.
PLAYING = st.lists(st.tuples(st.integers(20, 70), st.integers(2, 200)), min_size=1, max_size=20)
KNOWN = [name for name in SCALES if name != "chromatic"]


@given(PLAYING)
def test_the_order_against_a_search_by_hand(notes: list[tuple[int, int]]) -> None:
    """Every set of notes once: the least time outside first, then the fewest notes of its own."""
    total = sum(length for _, length in notes)
    candidates = {}
    for name in KNOWN:
        steps = {semitone_of(degree) for degree in SCALES[name]}
        for root in range(12):
            outside = [length for pitch, length in notes if (pitch - root) % 12 not in steps]
            candidates[frozenset((root + step) % 12 for step in steps)] = (sum(outside), len(steps), len(outside))
    found = explain([pitch for pitch, _ in notes], [length / 100 for _, length in notes])
    best = [(round(one.share * total), len(one.scale.degrees)) for one in found]
    assert best == [row[:2] for row in sorted(candidates.values())[:3]]
    assert len({one.scale.pitch_classes for one in found}) == 3
    for one in found:
        assert one.outside == candidates[one.scale.pitch_classes][2]
        assert all(other.pitch_classes == one.scale.pitch_classes for other in one.same)


@pytest.mark.parametrize("name", KNOWN)
def test_every_scale_explains_itself_under_a_name_on_its_root(name: str) -> None:
    for root in ROOTS:
        scale = parse_scale(f"{root} {name}")
        heard = [36 + scale.root.pitch_class + semitone_of(degree) for degree in scale.degrees]
        best = explain(heard, [0.3] * len(heard))[0]
        assert (best.outside, best.share) == (0, 0.0)
        assert best.scale.pitch_classes == scale.pitch_classes
        assert best.scale.root.pitch_class == scale.root.pitch_class
        assert (scale.root.pitch_class, name) in {(one.root.pitch_class, one.name) for one in (best.scale, *best.same)}


def test_the_same_notes_are_one_answer_named_from_the_root_asked_for() -> None:
    white = pitches("D2 E2 F2 G2 A2 B2 C3")
    assert str(explain(white, [1] * 7)[0].scale) == "D dorian"
    asked = explain(white, [1] * 7, root=parse_note_name("A"))[0]
    assert [str(one) for one in (asked.scale, *asked.same)] == [
        "A aeolian", "D dorian", "C ionian", "E phrygian", "F lydian", "G mixolydian", "B locrian",
    ]  # fmt: skip
    told = report(white, range(7), [1] * 7, [1] * 7, parse_scale("A minor pentatonic"))["explains"][0]
    assert (told["scale"], told["same_notes"][0], len(told["same_notes"])) == ("A aeolian", "D dorian", 6)


def test_the_root_asked_for_keeps_its_spelling() -> None:
    heard = [54 + step for step in (0, 2, 4, 5, 7, 9, 10)]
    assert str(explain(heard, [1] * 7)[0].scale) == "F# mixolydian"
    assert str(explain(heard, [1] * 7, root=parse_note_name("Gb"))[0].scale) == "Gb mixolydian"


def test_fewer_notes_explain_better_than_more() -> None:
    five = pitches("E1 G1 A1 B1 D2")
    assert str(explain(five, [1] * 5)[0].scale) == "E minor pentatonic"
    assert str(explain([*five, *pitches("Bb1")], [1] * 6)[0].scale) == "E minor blues"


@given(PLAYING)
def test_twice_the_playing_has_the_same_answers(notes: list[tuple[int, int]]) -> None:
    heard, lengths = [pitch for pitch, _ in notes], [length / 100 for _, length in notes]
    once, twice = explain(heard, lengths), explain(heard * 2, lengths * 2)
    assert [(str(one.scale), one.share) for one in once] == [(str(one.scale), one.share) for one in twice]
    assert [2 * one.outside for one in once] == [one.outside for one in twice]


def test_notes_keep_the_index_they_are_given() -> None:
    found = report([31, 33], [0, 1], [1, 1], [1, 1], parse_scale("G dorian"), index=[4, 9])
    assert [note["index"] for note in found["notes"]] == [4, 9]
