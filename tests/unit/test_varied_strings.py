"""A varied riff keeps each string's bends to itself, its strings and its joined notes."""

import json
from pathlib import Path

import mido
import pytest

from loopdeck.cli.main import main

BENT, HELD = 1, 2


def pickup_file(path: Path) -> Path:
    """Two strings of a pickup that sound together: the held one straight, the other one bent."""
    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.Message("note_on", channel=HELD, note=33, velocity=90))
    track.append(mido.Message("note_on", channel=BENT, note=40, velocity=90))
    for step in range(9):
        track.append(mido.Message("pitchwheel", channel=BENT, pitch=512 * step, time=24))
    track.append(mido.Message("note_off", channel=BENT, note=40, time=240))
    track.append(mido.Message("pitchwheel", channel=BENT, pitch=0))
    track.append(mido.Message("note_off", channel=HELD, note=33, time=240))
    file.save(path)
    return path


@pytest.fixture
def played(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> str:
    """Such a take on a shelf of its own."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    main(["takes", "import", str(pickup_file(tmp_path / "two.mid")), "--pickup", "per-string"])
    capsys.readouterr()
    return "two"


def save_notes(path: Path, ticks_per_beat: int, notes: list[tuple[int, int]]) -> None:
    """A file of one track: notes of (pitch, ticks), one after the other."""
    file = mido.MidiFile(ticks_per_beat=ticks_per_beat)
    track = mido.MidiTrack()
    file.tracks.append(track)
    for pitch, ticks in notes:
        track.append(mido.Message("note_on", note=pitch, velocity=90))
        track.append(mido.Message("note_off", note=pitch, time=ticks))
    file.save(path)


@pytest.mark.parametrize(
    ("how", "pitches"),
    [("transpose +2", [35, 42]), ("octave +1", [45, 52]), ("reshape drop-d", [33, 40]), ("swing 60%", [33, 40])],
)
def test_a_bend_stays_on_its_string(
    how: str, pitches: list[int], played: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for output in ("varied", str(tmp_path / "varied.mid")):
        assert main(["vary", played, "--how", how, "-o", output]) == 0
        capsys.readouterr()
        assert main(["technique", output, "--json"]) == 0
        notes = sorted(json.loads(capsys.readouterr().out)["notes"], key=lambda note: note["pitch"])
        assert [note["pitch"] for note in notes] == pitches
        assert [note["bend_semitones"] for note in notes] == pytest.approx([0.0, 1.0], abs=0.05)
        assert notes[0]["string"] != notes[1]["string"]


def test_notes_that_follow_at_once_on_one_pitch_keep_their_lengths(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    played, varied = tmp_path / "played.mid", tmp_path / "varied.mid"
    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(100))])
    file.tracks.append(track)
    for _ in range(8):
        track.append(mido.Message("note_on", note=33, velocity=90))
        track.append(mido.Message("note_off", note=33, time=480))
    file.save(played)
    assert main(["vary", str(played), "--how", "pedal E1", "-o", str(varied)]) == 0
    capsys.readouterr()
    for track in mido.MidiFile(varied).tracks[1:]:
        sounds, lengths, now = False, [], 0
        for message in track:
            now += message.time
            if message.type == "note_on":
                sounds, begun = True, now
            elif message.type == "note_off" and sounds:
                sounds = False
                lengths.append(now - begun)
        assert lengths == [960] * 8


def test_a_file_without_a_scale_is_varied_in_the_one_that_is_heard(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    played, varied = tmp_path / "played.mid", tmp_path / "varied.mid"
    save_notes(played, 480, [(pitch, 240) for pitch in (28, 31, 33, 35, 28, 38, 35, 31) * 2])
    assert main(["vary", str(played), "--how", "step +1", "-o", str(varied)]) == 0
    assert "Heard in E minor pentatonic" in capsys.readouterr().out
    heard = [message.note for message in mido.MidiFile(varied) if message.type == "note_on"]
    assert heard == [31, 33, 35, 38, 31, 40, 38, 33] * 2


def test_a_swung_file_is_swung_anew_from_the_swing_that_is_heard(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    played, varied = tmp_path / "played.mid", tmp_path / "varied.mid"
    notes = [(pitch, ticks) for pitch in (28, 31, 33, 35) * 4 for ticks in (576, 384)]
    save_notes(played, 960, notes)
    for how, second in (("swing straight", 480), ("swing 67%", 643), ("swing 2:1", 640)):
        assert main(["vary", str(played), "--how", how, "-o", str(varied)]) == 0
        assert "60% 1/8" in capsys.readouterr().out
        now, places = 0, set()
        for message in mido.MidiFile(varied).tracks[1]:
            now += message.time
            if message.type == "note_on":
                places.add(now % 960)
        assert places == {0, second}
