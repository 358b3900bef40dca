"""Streams as pickups send them, written out by hand: what technique makes of each.

The pitches follow from equal temperament and the meaning of the messages from MIDI 1.0; the shapes
(levels along a slide, bursts of a dead note) are common practice, no source.
"""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import mido
import pytest

from loopdeck.cli.main import main

#: Seconds and a message.
Row = tuple[float, mido.Message]


def note(channel: int, pitch: int, begin: float, end: float, velocity: int = 80) -> list[Row]:
    """A note on a channel counted from 1."""
    on = mido.Message("note_on", channel=channel - 1, note=pitch, velocity=velocity)
    return [(begin, on), (end, mido.Message("note_off", channel=channel - 1, note=pitch))]


def bend(channel: int, at: float, semitones: float, bend_range: float = 2.0) -> Row:
    """A message of the pitch-bend wheel."""
    wheel = max(-8192, min(8191, round(semitones / bend_range * 8192)))
    return at, mido.Message("pitchwheel", channel=channel - 1, pitch=wheel)


def read(
    capsys: pytest.CaptureFixture[str], folder: Path, rows: Sequence[Row], *profile: str, tuning: str = "four-string"
) -> list[dict[str, Any]]:
    """The notes of ``technique --json`` for the messages, through a profile of these lines."""
    file = mido.MidiFile(ticks_per_beat=960)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=500_000)])
    file.tracks.append(track)
    now = 0
    for at, message in sorted(rows, key=lambda row: (row[0], row[1].type == "note_on")):
        tick = round(at * 1920)
        track.append(message.copy(time=tick - now))
        now = tick
    file.save(folder / "x.mid")
    (folder / "p.toml").write_text("\n".join(profile), encoding="utf-8")
    capsys.readouterr()
    arguments = ["technique", str(folder / "x.mid"), "--pickup", str(folder / "p.toml"), "--tuning", tuning]
    assert main([*arguments, "--json"]) == 0
    return list(json.loads(capsys.readouterr().out)["notes"])


def test_a_string_on_channel_10_is_no_drum(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    rows = [*note(10, 28, 1.0, 1.4), *note(3, 43, 1.5, 1.9)]
    found = read(capsys, tmp_path, rows, "channels = [3, 16, 13, 10]")
    assert [(one["pitch"], one["string"]) for one in found] == [(28, 4), (43, 1)]


def test_a_slide_over_the_ends_of_the_bend_range_is_one_slide(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    # Four frets of 40 ms each; the bend reaches two semitones, so the pickup begins three new
    # notes, each as loud as it happens to be.
    rows = note(1, 48, 1.0, 1.37)
    for place, (begin, pitch, level) in enumerate([(1.37, 50, 60), (1.45, 52, 71), (1.53, 54, 48)]):
        rows += [bend(1, begin - 0.04, 1.0), bend(1, begin - 0.001, 0.0)]
        rows += note(1, pitch, begin, 2.0 if place == 2 else begin + 0.08, level)
    rows += note(1, 47, 2.1, 2.5)
    found = read(capsys, tmp_path, rows, "channels = [1, 2, 3, 4]")
    assert [(one["pitch"], one["reached"]) for one in found] == [(48, "pluck"), (54, "slide"), (47, "pluck")]
    assert found[1]["onset_sec"] == pytest.approx(1.53, abs=0.03)


def test_a_chromatic_slide_may_be_rough_in_level(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    rows = note(1, 55, 1.0, 1.3, 76)
    for place, level in enumerate([57, 70, 55, 66, 49, 60]):
        begin = 1.3 + 0.02 * place
        rows += note(1, 54 - place, begin, 1.8 if place == 5 else begin + 0.02, level)
    found = read(capsys, tmp_path, rows, "channels = [1, 2, 3, 4]")
    assert [(one["pitch"], one["reached"]) for one in found] == [(55, "pluck"), (49, "slide")]
    assert found[1]["onset_sec"] == pytest.approx(1.4, abs=1e-3)


@pytest.mark.parametrize("bent", [False, True])
def test_a_burst_without_a_clear_pitch_is_one_dead_note(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, bent: bool
) -> None:
    rows = [*note(2, 45, 1.0, 1.4), *note(2, 47, 2.0, 2.4)]
    if bent:
        rows += [*note(2, 43, 1.5, 1.56, 60)]
        rows += [bend(2, 1.5 + 0.008 * place, value) for place, value in enumerate([0.1, 1.2, -0.6, 0.9, -0.2, 0.7])]
        rows += [bend(2, 1.57, 0.0)]
    else:
        rows += [row for k, p in enumerate([49, 41, 46]) for row in note(2, p, 1.5 + 0.02 * k, 1.52 + 0.02 * k, 60)]
    found = read(capsys, tmp_path, rows, "channels = [1, 2, 3, 4]")
    assert [one["marks"] for one in found] == [[], ["dead"], []]
    assert [one["reached"] for one in found] == ["pluck"] * 3
    assert found[1]["onset_sec"] == pytest.approx(1.5, abs=1e-3)
    assert found[1]["raw"] == ([1] if bent else [1, 2, 3])


def test_a_hammer_on_of_little_less_level_is_told_by_the_missing_gap(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    rows: list[Row] = []
    # Plucks on one string leave a gap of 15 ms, and scatter around 80.
    for place in range(24):
        level = 80 + (-5, 0, 5, 2, -2)[place % 5]
        rows += note(3, 36 + place % 4, 1 + 0.25 * place, 1.235 + 0.25 * place, level)
    rows += [*note(3, 40, 8.0, 8.25, 80), *note(3, 42, 8.25, 8.6, 66), *note(3, 40, 8.7, 8.94, 66)]
    rows += note(3, 42, 8.955, 9.2, 68)
    found = read(capsys, tmp_path, rows, "channels = [1, 2, 3, 4]")
    assert [one["reached"] for one in found[-4:]] == ["pluck", "hammer-on", "pluck", "pluck"]
    assert all(one["reached"] == "pluck" for one in found[:24])


@pytest.mark.parametrize("channels", ["[1, 2, 3, 4]", "[]"])
def test_the_end_of_a_note_may_be_told_after_the_next_one_began(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, channels: str
) -> None:
    late = 0.03
    rows = note(2, 40, 1.0, 1.3 + late)
    for place in range(5):
        begin = 1.3 + 0.025 * place
        rows += note(2, 41 + place, begin, 1.9 if place == 4 else begin + 0.025 + late, 70 - 4 * place)
    found = read(capsys, tmp_path, rows, f"channels = {channels}")
    assert [(one["pitch"], one["reached"]) for one in found] == [(40, "pluck"), (45, "slide")]
    assert found[0]["end_sec"] == pytest.approx(1.3, abs=1e-3)


def test_a_bend_range_that_changes_in_mid_stream_is_said_and_followed(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    rows: list[Row] = []
    for place, reach in enumerate([2, 12]):
        at = 1.0 + 2 * place
        rows += [
            (at - 0.5 + 0.01 * k, mido.Message("control_change", control=control, value=value))
            for k, (control, value) in enumerate([(101, 0), (100, 0), (6, reach)])
        ]
        rows += [*note(1, 45, at, at + 1), *(bend(1, at + 0.3 + 0.02 * k, k / 10, reach) for k in range(11))]
        rows += [bend(1, at + 1.01, 0)]
    found = read(capsys, tmp_path, rows, "channels = [1, 2, 3, 4]")
    assert [one["marks"] for one in found] == [["bend"], ["bend"]]
    assert [one["bend_semitones"] for one in found] == pytest.approx([1.0, 1.0], abs=0.05)
    assert main(["technique", str(tmp_path / "x.mid"), "--pickup", "per-string"]) == 0
    assert "changes its bend range from 2 to 12 semitones at 2.52 s" in " ".join(capsys.readouterr().out.split())


def test_bends_without_a_note_are_said(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert read(capsys, tmp_path, [bend(1, 1 + k / 10, k / 10) for k in range(5)], "channels = []") == []
    assert main(["technique", str(tmp_path / "x.mid")]) == 0
    assert "There are bends, but no note" in capsys.readouterr().out
