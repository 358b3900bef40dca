"""Ways to change a riff: what each keeps, adds and says, and the command."""

import json
from pathlib import Path

import mido
import numpy as np
import pytest

from loopdeck.bass.variations.line import Line, line_of
from loopdeck.bass.variations.ways import WAYS, vary
from loopdeck.brief.brief import Brief
from loopdeck.brief.tunings import find_tuning
from loopdeck.cli.main import main
from loopdeck.errors import UserError
from loopdeck.theory.scale import parse_scale

ROWS = [
    (0.0, 0.5, 28, 100),
    (0.5, 0.25, 31, 80),
    (0.75, 0.25, 28, 70),
    (1.0, 0.5, 35, 95),
    (2.0, 1.0, 33, 90),
    (3.25, 0.25, 38, 85),
]


def riff(**fields: str) -> Line:
    brief = Brief.default().replace(**{"scale": "E minor pentatonic", **fields})
    return line_of(ROWS, brief)


def pitches(line: Line | None) -> list[int]:
    assert line is not None
    return line.notes["pitch"].tolist()


@pytest.mark.parametrize("name", WAYS)
def test_every_example_works_and_leaves_the_riff_as_it_was(name: str) -> None:
    line = riff()
    before = line.notes.copy()
    found = vary(line, WAYS[name].example, find_tuning)
    assert np.array_equal(line.notes, before)
    assert found.says.endswith(".")
    assert len(found.riff)
    onsets = found.riff.notes["onset_q"]
    assert np.all(np.diff(onsets) >= 0)


def test_up_and_back_is_where_it_was() -> None:
    for there, back in (("transpose +7", "transpose -7"), ("octave +1", "octave -1"), ("step +3", "step -3")):
        assert pitches(vary(vary(riff(), there).riff, back).riff) == pitches(riff())


def test_a_pentatonic_riff_into_phrygian_keeps_its_degrees() -> None:
    moved = vary(riff(), "into A phrygian").riff
    assert moved.brief.scale == parse_scale("A phrygian")
    assert pitches(moved) == [33, 36, 33, 40, 38, 43]


def test_retune_keeps_notes_and_reshape_keeps_places() -> None:
    same = vary(riff(), "retune drop-d", find_tuning)
    assert pitches(same.riff) == pitches(riff())
    assert "Everything on the lowest string two frets higher." in same.says
    assert same.riff.notes["fret"][0] == 2
    shape = vary(riff(), "reshape drop-d", find_tuning).riff
    assert pitches(shape)[0] == 26
    assert shape.notes["fret"][0] == 0


def test_thinning_keeps_the_strong_beats() -> None:
    thin = vary(riff(), "thin 50").riff
    assert thin.notes["onset_q"].tolist() == [0.0, 1.0, 2.0]


def test_thickening_stays_in_rhythm_and_scale_and_overlaps_nothing() -> None:
    thick = vary(riff(), "thicken 50").riff
    assert len(thick) == 9
    scale = parse_scale("E minor pentatonic")
    assert scale.contains(thick.notes["pitch"]).all()
    assert np.allclose(thick.notes["onset_q"] * 4, np.round(thick.notes["onset_q"] * 4))
    ends = thick.notes["onset_q"] + thick.notes["duration_q"]
    assert np.all(ends[:-1] <= thick.notes["onset_q"][1:] + 1e-9)


def test_the_last_bar_in_another_meter() -> None:
    line = line_of(
        [*ROWS, *((4.0 + at, length, pitch, level) for at, length, pitch, level in ROWS)], riff(cycle="4/4 4/4").brief
    )
    found = vary(line, "last-bar 3/4").riff
    assert str(found.brief.cycle) == "4/4 3/4"
    assert found.notes["onset_q"].max() < 7.0
    assert len(found) == 11


def test_power_chords_stand_on_strong_beats_where_a_guitar_plays() -> None:
    chords = vary(riff(), "power-chords").layer
    assert chords is not None
    assert sorted(set(chords.notes["onset_q"].tolist())) == [0.0, 1.0, 2.0]
    assert pitches(chords)[:3] == [40, 47, 52]
    ends = chords.notes["onset_q"] + chords.notes["duration_q"]
    assert ends[-1] == pytest.approx(4.0)
    following = vary(riff(), "power-chords following").layer
    assert len(pitches(following)) == 18
    assert min(pitches(following)) >= 40


def test_an_early_last_downbeat_has_its_chord_and_its_pedal() -> None:
    line = line_of([(0.0, 1.0, 28, 90), (3.97, 1.0, 28, 90)], Brief.default())
    chords, pedal = vary(line, "power-chords").layer, vary(line, "pedal E1").layer
    assert chords is not None
    assert pedal is not None
    assert chords.notes["onset_q"][-1] + chords.notes["duration_q"][-1] == pytest.approx(8.0)
    assert pedal.notes["onset_q"].tolist() == list(range(8))


def test_thirds_and_sixths_are_thirds_and_sixths_in_any_scale() -> None:
    rising = [(at * 0.5, 0.5, pitch, 90) for at, pitch in enumerate((28, 31, 33, 35, 38, 40))]
    for how, wide in (("thirds", {3, 4, 5}), ("sixths", {7, 8, 9})):
        for scale in ("E minor pentatonic", "E minor blues", "E dorian", "E harmonic minor"):
            line = line_of(rising, riff(scale=scale).brief)
            voice = np.array(pitches(vary(line, how).layer))
            assert {int(up) for up in (voice - pitches(line)) % 12} <= wide
            # It goes up where the riff does, from the low E of a guitar.
            assert (np.diff(voice) >= 0).all() and 40 <= voice[0] < 52
            assert parse_scale(scale).contains(voice[[0, 1, 2, 3]]).all()


def test_thickening_serves_every_bar_and_goes_through_the_scale() -> None:
    """The second bar is asked for what the first has; E to B leads through G."""
    bars = [(0.0, 0.5, 28, 90), (1.0, 0.5, 35, 90), (1.75, 0.25, 33, 90), (3.0, 1.0, 28, 90)]
    line = line_of([*bars, (4.0, 0.5, 28, 90), (5.0, 0.5, 35, 90), (7.0, 1.0, 28, 90)], riff(cycle="4/4 4/4").brief)
    thick = vary(line, "thicken 60").riff.notes
    added = sorted(set(thick["onset_q"].tolist()) - set(line.notes["onset_q"].tolist()))
    assert 5.75 in added and abs(sum(at < 4 for at in added) - sum(at >= 4 for at in added)) <= 1
    between = thick["pitch"][(thick["onset_q"] > 0) & (thick["onset_q"] < 1)].tolist()
    assert all(pitch in (28, 31) for pitch in between)


def test_joined_notes_stay_joined_when_they_swing_and_notes_off_the_neck_are_told() -> None:
    line = line_of([(at / 4, 0.25, 40, 90) for at in range(8)], riff().brief)
    notes = vary(line, "swing 62%").riff.notes
    assert np.allclose(notes["onset_q"][1:], (notes["onset_q"] + notes["duration_q"])[:-1])
    assert vary(line, "octave -2").says == "Moved 2 octaves down. 8 notes lie beyond the neck of four-string."


def test_into_another_key_stays_on_the_neck() -> None:
    """C is nearer below E, where a bass in standard tuning has no notes."""
    moved = vary(line_of([(0.0, 1.0, 28, 90), (1.0, 1.0, 31, 90)], riff(scale="E dorian").brief), "into C dorian")
    assert pitches(moved.riff) == [36, 39]


def test_swing_moves_what_is_between_the_beats() -> None:
    line = line_of([(0.0, 0.2, 40, 90), (0.25, 0.2, 41, 90), (0.5, 0.2, 43, 90)], riff().brief)
    assert vary(line, "swing 66%").riff.notes["onset_q"].tolist() == pytest.approx([0.0, 0.33, 0.5])


def test_a_riff_of_eighths_swings_in_eighths() -> None:
    """The grid is of sixteenths, and nobody plays the ones between."""
    line = line_of([(at / 2, 0.2, 40, 90) for at in range(4)], riff().brief)
    found = vary(line, "swing 62%").riff
    assert found.notes["onset_q"].tolist() == pytest.approx([0.0, 0.62, 1.0, 1.62])
    assert str(found.brief.swing) == "62% 1/8"
    again = vary(found, "swing 70%").riff
    assert again.notes["onset_q"].tolist() == pytest.approx([0.0, 0.7, 1.0, 1.7])
    assert vary(again, "swing straight").riff.notes["onset_q"].tolist() == pytest.approx([0.0, 0.5, 1.0, 1.5])


@pytest.mark.parametrize(
    "words",
    ["transpose", "transpose 0", "transpose +99", "step x", "into Q dorian", "thin 0", "thin 200", "last-bar 4", "pedal", "swing 99%",
     "power-chords loud", "thirds now", "retune", "retune banjo", "sideways", ""],
)  # fmt: skip
def test_wrong_words_get_one_sentence(words: str) -> None:
    with pytest.raises(UserError) as caught:
        vary(riff(), words, find_tuning)
    assert "\n" not in str(caught.value)


def _file(path: Path) -> str:
    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    for pitch in (40, 43, 45, 47):
        track.append(mido.Message("note_on", note=pitch, velocity=90, time=0))
        track.append(mido.Message("note_off", note=pitch, time=240))
    file.save(str(path))
    return str(path)


def test_the_command_writes_the_riff_and_the_new_layer_as_tracks(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    take, out, shelf = _file(tmp_path / "riff.mid"), tmp_path / "out.mid", tmp_path / "shelf.sqlite"
    assert main(["vary", take, "--how", "power-chords following", "-o", str(out), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["layer"] == 12
    tracks = [[m.note for m in track if m.type == "note_on" and m.velocity] for track in mido.MidiFile(str(out)).tracks]
    assert [sorted(notes) for notes in tracks if notes] == [
        [40, 43, 45, 47],
        sorted([40, 47, 52, 43, 50, 55, 45, 52, 57, 47, 54, 59]),
    ]
    gone = tmp_path / "gone.mid"
    high = ["vary", str(out), "--how", "transpose +48", "-o", str(gone)]
    assert main(["vary", take, "--how", "transpose +48", "-o", str(out)]) == 0
    assert main(high) == 2
    assert "No note would be left" in capsys.readouterr().err
    assert not gone.exists()
    assert main(["vary", take, "--how", "octave +1", "-o", "Higher", "--shelf", str(shelf)]) == 0
    assert "On the shelf: take 1, Higher." in capsys.readouterr().out
    assert main(["vary", take, "--how", "octave +1", "-o", take]) == 2
    assert "the take itself" in capsys.readouterr().err


def test_the_last_bar_of_a_file_is_its_last_and_its_bars_may_differ(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack([mido.MetaMessage("time_signature", numerator=4, denominator=4)])
    file.tracks.append(track)
    for _ in range(12):
        track += [mido.Message("note_on", note=40, velocity=90), mido.Message("note_off", note=40, time=480)]
    source, out, more = (str(tmp_path / name) for name in ("riff.mid", "out.mid", "more.mid"))
    file.save(source)
    assert main(["vary", source, "--how", "last-bar 7/8", "-o", out]) == 0
    assert "The cycle is 4/4 4/4 7/8 now" in capsys.readouterr().out
    assert _meters(out) == [(0.0, "4/4"), (8.0, "7/8")]
    # Strong beats are those of each bar: the group of three in 7/8 begins in its middle.
    assert main(["vary", out, "--how", "pedal E1", "-o", more]) == 0
    capsys.readouterr()
    assert _meters(more) == _meters(out)
    assert main(["vary", source, "--how", "last-bar 7/8", "--meter", "4/4", "-o", more]) == 0
    assert _meters(more) == [(0.0, "7/8")]


@pytest.mark.parametrize(
    ("bars", "how", "meters"),
    [
        (["4/4", "7/8"] * 2, "octave +1", ["4/4", "7/8"] * 2),
        (["4/4", "7/8"] * 2, "last-bar 3/4", ["4/4", "7/8", "4/4", "3/4"]),
        # More bars than a cycle has, in no order that comes again.
        (["2/4"] * 40 + ["3/8"] * 40, "octave +1", None),
        (["2/4", "3/8"] * 40, "octave +1", ["2/4", "3/8"] * 40),
    ],
)
def test_the_bars_of_a_file_are_kept(
    bars: list[str], how: str, meters: list[str] | None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    track, wait = mido.MidiTrack(), 0
    for bar in bars:
        count, unit = map(int, bar.split("/"))
        sounds = 480 * count * 4 // unit
        track.append(mido.MetaMessage("time_signature", numerator=count, denominator=unit, time=wait))
        track += [mido.Message("note_on", note=40, velocity=90), mido.Message("note_off", note=40, time=sounds - 10)]
        wait = 10
    file = mido.MidiFile(ticks_per_beat=480)
    file.tracks.append(track)
    source, out = str(tmp_path / "riff.mid"), str(tmp_path / "out.mid")
    file.save(source)
    assert main(["vary", source, "--how", how, "-o", out]) == 0, capsys.readouterr().err
    changes = [meter for place, meter in enumerate(meters or []) if place == 0 or meter != meters[place - 1]]
    assert meters is None or [meter for _, meter in _meters(out)] == changes
    if meters is None:
        assert main(["vary", source, "--how", "last-bar 7/8", "-o", out]) == 2
        assert "too long to be one cycle" in capsys.readouterr().err


def _meters(path: str) -> list[tuple[float, str]]:
    file, found, tick = mido.MidiFile(path), [], 0
    for message in file.tracks[0]:
        tick += message.time
        if message.type == "time_signature":
            found.append((tick / file.ticks_per_beat, f"{message.numerator}/{message.denominator}"))
    return found
