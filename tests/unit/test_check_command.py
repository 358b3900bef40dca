"""``loopdeck check``: JSON alone on standard output, the report for people, exit codes, wrong input."""

import json
import re
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import mido
import pytest

from loopdeck.cli.main import main
from loopdeck.theory.scale import parse_scale

ROOT = Path(__file__).resolve().parents[2]
#: In G dorian but for the Ab and the two F#; at 120, an eighth is a quarter of a second.
RIFF = (31, 34, 30, 36, 38, 32, 40, 42, 43)


def write(path: Path, pitches: Sequence[int], step: int = 240, meter: tuple[int, int] = (4, 4)) -> str:
    """A file at 120 with a note every ``step`` ticks of 480 to the quarter."""
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("set_tempo", tempo=500_000))
    track.append(mido.MetaMessage("time_signature", numerator=meter[0], denominator=meter[1]))
    for pitch in pitches:
        track.append(mido.Message("note_on", note=pitch, velocity=90))
        track.append(mido.Message("note_off", note=pitch, time=step))
    mido.MidiFile(type=0, ticks_per_beat=480, tracks=[track]).save(path)
    return str(path)


def run(*words: str) -> subprocess.CompletedProcess[str]:
    """The command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "loopdeck", "check", *words],
        cwd=ROOT,
        check=False,
        capture_output=True,
        text=True,
        timeout=60,
    )


def test_json_and_nothing_else_on_standard_output(tmp_path: Path) -> None:
    done = run(write(tmp_path / "riff.mid", RIFF), "--scale", "G dorian", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.count("\n") == 1
    found = json.loads(done.stdout)
    assert set(found) == {"scale", "outside", "notes", "explains"}
    assert found["scale"] == {"root": "G", "name": "dorian", "notes": ["G", "A", "Bb", "C", "D", "E", "F"]}
    assert found["outside"] == 3
    assert [note["pitch"] for note in found["notes"]] == list(RIFF)
    assert found["notes"][5] == {
        "index": 5,
        "pitch": 32,
        "name": "Ab1",
        "degree": "b2",
        "in_scale": False,
        "onset_sec": 1.25,
        "bar": 1,
    }
    assert [note["name"] for note in found["notes"]] == ["G1", "Bb1", "F#1", "C2", "D2", "Ab1", "E2", "F#2", "G2"]
    assert [note["bar"] for note in found["notes"]] == [1] * 8 + [2]
    for note in found["notes"]:
        assert [type(value) for value in note.values()] == [int, int, str, str, bool, float, int]
    for one in found["explains"]:
        outside = sum(not inside for inside in parse_scale(one["scale"]).contains(RIFF).tolist())
        assert one["outside"] == outside


def test_bars_follow_the_meters_of_the_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", write(tmp_path / "a.mid", RIFF, meter=(7, 8)), "--scale", "G dorian", "--json"]) == 0
    assert [note["bar"] for note in json.loads(capsys.readouterr().out)["notes"]] == [1] * 7 + [2] * 2


def test_the_report_for_people(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", write(tmp_path / "a.mid", RIFF), "--scale", "G dorian"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "G dorian: G A Bb C D E F"
    assert lines[1] == "3 of 9 notes are outside it: F# (7) 2, Ab (b2) 1."
    # The one that strays most often first, each where it is.
    assert [line.split() for line in lines[3:7]] == [
        ["bar", "second", "note", "degree", "index"],
        ["1", "0.500", "F#1", "7", "2"],
        ["1", "1.750", "F#2", "7", "7"],
        ["1", "1.250", "Ab1", "b2", "5"],
    ]


def test_all_inside_and_no_notes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", write(tmp_path / "a.mid", [31, 34, 38]), "--scale", "G dorian"]) == 0
    assert "All 3 notes are in the scale." in capsys.readouterr().out
    assert main(["check", write(tmp_path / "b.mid", []), "--scale", "G dorian"]) == 0
    assert "There are no notes." in capsys.readouterr().out
    assert main(["check", str(tmp_path / "b.mid"), "--scale", "G dorian", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["outside"], found["notes"], found["explains"]) == (0, [], [])


def test_five_thousand_notes_fit_a_screen_with_the_worst_first(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # All pitch classes stray here and there; Db most of all, in the lowest octave of MIDI, whose number has a sign.
    pitches = [1 if index % 4 == 3 else (index * 7) % 60 for index in range(5000)]
    path = write(tmp_path / "long.mid", pitches, step=60)
    for scale in ("C ionian", "C minor pentatonic", "C 1"):
        assert main(["check", path, "--scale", scale]) == 0
        text = capsys.readouterr().out
        lines = text.splitlines()
        assert len(lines) <= 23  # and the prompt, on a terminal of 24 lines
        assert max(map(len, lines)) <= 80
        outside = (~parse_scale(scale).contains(pitches)).sum()
        assert lines[1].startswith(f"{outside} of 5000 notes")
        counts = [int(count) for count in re.findall(r"\) (\d+)", lines[1])]
        assert len(counts) == 3 and counts == sorted(counts, reverse=True)
        worst = lines[1].split(": ")[1].split(" ")[0]
        assert worst == "Db"
        rows = [line.split() for line in lines[4:16]]
        assert {re.sub(r"[-0-9]+$", "", row[2]) for row in rows} == {worst}
        assert f"and {outside - 12} more notes outside; --json lists all." in text
        assert "What would explain it:" in text


def test_without_a_scale_a_file_has_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", write(tmp_path / "a.mid", RIFF)]) == 2
    assert "--scale" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("scale", "right"),
    [
        ("G dorain", "did you mean dorian?"),
        ("H minor", "such as Bb or F#"),
        ("", "such as G dorian"),
        ("G", "G dorian"),
        ("G 1 3 2", "rise"),
        ("1 2 3", "root first"),
    ],
)
def test_an_unknown_scale_is_one_line_on_standard_error(tmp_path: Path, scale: str, right: str) -> None:
    done = run(write(tmp_path / "a.mid", RIFF), "--scale", scale, "--json")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("loopdeck: ") and done.stderr.count("\n") == 1 and right in done.stderr


def test_no_file_and_no_midi_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "text.mid").write_text("not music")
    for path in (tmp_path / "none.mid", tmp_path / "text.mid", tmp_path):
        assert main(["check", str(path), "--scale", "G dorian"]) == 2
        out = capsys.readouterr()
        assert out.out == "" and out.err.startswith("loopdeck: ") and out.err.count("\n") == 1


def test_check_imports_only_what_it_needs(tmp_path: Path) -> None:
    path = write(tmp_path / "a.mid", RIFF)
    code = (
        "import sys; from loopdeck.cli.main import main;"
        f"main(['check', {path!r}, '--scale', 'G dorian']);"
        "print(*sorted({name.partition('.')[0] for name in sys.modules}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, check=False, capture_output=True, text=True, timeout=60
    )
    loaded = set(done.stdout.splitlines()[-1].split())
    assert "numpy" in loaded
    assert not loaded & {"pygame", "rtmidi", "sqlite3", "platformdirs", "tomllib", "multiprocessing", "asyncio"}
