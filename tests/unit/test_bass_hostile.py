"""Bad input to the commands of the bass: one sentence, a non-zero exit where nothing can be done,
nothing lost.
"""

import json
from pathlib import Path

import mido
import numpy as np
import pytest

from loopdeck.bass.fingering import finger
from loopdeck.capture.notes import NOTE_DTYPE
from loopdeck.cli.main import main
from loopdeck.theory.tuning import FOUR_STRING

Rows = list[tuple[int, mido.Message]]


def _note(at: int, pitch: int, length: int = 400, channel: int = 0) -> Rows:
    return [
        (at, mido.Message("note_on", note=pitch, velocity=90, channel=channel)),
        (at + length, mido.Message("note_off", note=pitch, channel=channel)),
    ]


def _file(path: Path, rows: Rows) -> str:
    track, last = mido.MidiTrack(), 0
    for tick, message in sorted(rows, key=lambda row: row[0]):
        track.append(message.copy(time=tick - last))
        last = tick
    mido.MidiFile(ticks_per_beat=960, tracks=[track]).save(str(path))
    return str(path)


def _json(capsys: pytest.CaptureFixture[str], *words: str) -> dict:
    assert main([*words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def _refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(list(words)) == 2
    said = capsys.readouterr()
    assert said.err.count("\n") == 1
    assert not said.out
    return said.err


def test_notes_that_no_string_has_are_said_with_the_nearest_octave(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    take = _file(tmp_path / "low.mid", [*_note(0, 20), *_note(960, 40), *_note(1920, 127)])
    found = _json(capsys, "finger", take)
    assert [(one["index"], one["pitch"], one["nearest"]) for one in found["unplayable"]] == [(0, 20, 32), (2, 127, 67)]
    assert len(_json(capsys, "technique", take)["notes"]) == 3


def test_twelve_notes_at_once_on_four_strings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    take = _file(tmp_path / "twelve.mid", [row for one in range(12) for row in _note(0, 28 + 3 * one, 900)])
    found = _json(capsys, "finger", take)
    strings = [note["string"] for note in found["notes"]]
    assert len(strings) == len(set(strings)) <= 4
    assert len(strings) + len(found["unplayable"]) == 12
    assert len(_json(capsys, "technique", take)["notes"]) == 12


@pytest.mark.parametrize("tuning", ["", "=", "nothing", "E1 A1 D2 X", "E1 " * 13, "{folder}/none.toml"])
def test_a_tuning_without_strings(tuning: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "none.toml").write_text('name = "none"\nstrings = ""\n')
    take = _file(tmp_path / "one.mid", _note(0, 40))
    tuning = tuning.format(folder=tmp_path)
    _refused(capsys, "neck", "--scale", "E dorian", "--tuning", tuning)
    _refused(capsys, "finger", take, "--tuning", tuning)
    _refused(capsys, "technique", take, "--tuning", tuning)
    _refused(capsys, "vary", take, "--how", f"retune {tuning}", "-o", str(tmp_path / "out.mid"))
    assert not (tmp_path / "out.mid").exists()


@pytest.mark.parametrize("rows", [[], [(0, mido.Message("pitchwheel", pitch=3000)), (90, mido.Message("pitchwheel"))]])
def test_an_empty_take_and_bends_without_a_note(rows: Rows, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    take = _file(tmp_path / "empty.mid", rows)
    assert _json(capsys, "technique", take, "--pickup", "per-string")["notes"] == []
    assert _json(capsys, "finger", take)["notes"] == []
    assert "no notes" in _refused(capsys, "vary", take, "--how", "octave +1", "-o", str(tmp_path / "out.mid"))
    assert "too few" in _refused(capsys, "measure", "--pickup", "per-string", "--take", take)


def test_a_bend_range_that_changes_while_a_note_sounds(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same travel means more from then on (RPN 0,0: MIDI 1.0); nothing is lost and nothing goes
    wrong.
    """

    def bend_range(at: int, semitones: int) -> Rows:
        pairs = ((101, 0), (100, 0), (6, semitones))
        return [(at, mido.Message("control_change", control=control, value=value)) for control, value in pairs]

    rows = [*bend_range(0, 2), *_note(10, 40, 1800), *bend_range(900, 48), *_note(2000, 45, 900), *bend_range(2100, 0)]
    rows += [(400, mido.Message("pitchwheel", pitch=4096)), (1950, mido.Message("pitchwheel", pitch=0))]
    found = _json(capsys, "technique", _file(tmp_path / "range.mid", rows), "--pickup", "one-channel")["notes"]
    assert {index for note in found for index in note["raw"]} == {0, 1}
    assert all(0 <= note["pitch"] <= 127 and note["end_sec"] >= note["onset_sec"] for note in found)


def test_a_thousand_bars(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    take = _file(tmp_path / "long.mid", [row for bar in range(8000) for row in _note(bar * 480, 28 + (bar * 7) % 24)])
    assert len(_json(capsys, "finger", take)["notes"]) == 8000
    assert len(_json(capsys, "technique", take)["notes"]) == 8000
    out = tmp_path / "out.mid"
    assert _json(capsys, "vary", take, "--how", "octave +1", "-o", str(out))["notes"] == 8000
    assert out.exists()


@pytest.mark.parametrize(
    "how",
    ["", "transpose", "transpose +500", "octave 0", "into H", "step +1", "thin 0", "thin 500", "last-bar 4/3", "pedal C12",
     "swing 99%", "power-chords loud", "retune", "reshape nowhere", "thirds now"],
)  # fmt: skip
def test_words_that_vary_nothing(how: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    take, out = _file(tmp_path / "one.mid", _note(0, 40)), tmp_path / "out.mid"
    _refused(capsys, "vary", take, "--how", how, "-o", str(out))
    assert not out.exists()


def test_chords_that_ring_on_into_their_own_repeats_are_fingered() -> None:
    """A held note may have to be let go where a repeat needs its string."""
    rng = np.random.default_rng(8)
    for _ in range(60):
        notes = np.zeros(40, NOTE_DTYPE)
        notes["onset_sec"] = np.arange(40) * 0.1
        notes["duration_sec"] = rng.choice([0.05, 0.15, 0.4], 40)
        notes["pitch"] = np.tile(28 + rng.integers(0, 20, 8), 5)
        found = finger(notes, FOUR_STRING)
        assert (found.string > 0).sum() + len(found.unplayable) == 40
