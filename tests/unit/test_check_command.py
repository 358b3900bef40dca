"""``loopdeck check``: JSON alone on standard output, the report for people, exit codes, wrong
input.
"""

import json
import re
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import mido
import pytest

from loopdeck.brief.brief import Brief
from loopdeck.cli.main import main
from loopdeck.cli.report import cut, table
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import take_of_file
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
        timeout=360,
    )


def test_json_and_nothing_else_on_standard_output(tmp_path: Path) -> None:
    done = run(write(tmp_path / "riff.mid", RIFF), "--scale", "G dorian", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.count("\n") == 1
    found = json.loads(done.stdout)
    assert set(found) == {"scale", "outside", "notes", "explains", "drums", "changes", "change", "strays", "remarks"}
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
        "role": "outside",
        "count": "3 and",
        "source": 0,
    }
    assert [note["role"] for note in found["notes"]] == [
        None,
        None,
        "outside",
        None,
        None,
        "outside",
        None,
        "passing",
        None,
    ]
    assert found["changes"] == [
        {"index": at, "from": here, "to": to} for at, here, to in ((2, 30, 29), (5, 32, 33), (7, 42, 41))
    ]
    assert [note["name"] for note in found["notes"]] == ["G1", "Bb1", "F#1", "C2", "D2", "Ab1", "E2", "F#2", "G2"]
    assert [note["bar"] for note in found["notes"]] == [1] * 8 + [2]
    for note in found["notes"]:
        kinds = [type(value) for key, value in note.items() if key != "role"]
        assert kinds == [int, int, str, str, bool, float, int, int, str]
    assert found["strays"] == [
        {
            "note": "F#",
            "degree": "7",
            "times": 2,
            "does": {"outside": 1, "passing": 1},
            "places": ["1:2", "1:4 and"],
            "indices": [2, 7],
        },
        {"note": "Ab", "degree": "b2", "times": 1, "does": {"outside": 1}, "places": ["1:3 and"], "indices": [5]},
    ]
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
    assert lines[1] == "3 of 9 notes are outside."
    # Each note that strays once, the one that strays most often first, with what it does and where.
    assert [line.split("  ") for line in lines[3:4]] == [
        ["note", "degree", "times", "does", "", "", "", "", "", "", "", "", "bar:beat"]
    ]
    assert lines[4].split() == ["F#", "7", "2", "outside", "1,", "passing", "1", "1:2,", "1:4", "and"]
    assert lines[5].split() == ["Ab", "b2", "1", "outside", "1:3", "and"]
    assert lines[7] == "Back into G dorian: move F# to F (2 notes) and Ab to A (1 note)."


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
    # All pitch classes stray here and there; Db most of all, in the lowest octave of MIDI, whose
    # number has a sign.
    pitches = [1 if index % 4 == 3 else (index * 7) % 60 for index in range(5000)]
    path = write(tmp_path / "long.mid", pitches, step=60)
    for scale in ("C ionian", "C minor pentatonic", "C 1"):
        assert main(["check", path, "--scale", scale]) == 0
        text = capsys.readouterr().out
        lines = text.splitlines()
        assert len(lines) <= 23  # and the prompt, on a terminal of 24 lines
        assert max(map(len, lines)) <= 80
        outside = (~parse_scale(scale).contains(pitches)).sum()
        assert lines[1] == f"{outside} of 5000 notes are outside."
        counts = [int(found[1]) for line in lines[4:11] if (found := re.search(r"^\S+ +\S+ +(\d+) ", line))]
        assert counts and counts == sorted(counts, reverse=True)
        assert lines[4].split()[0] == "Db"
        assert "What would explain it:" in text


def test_without_a_scale_it_says_what_would_explain_the_notes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write(tmp_path / "a.mid", [31, 33, 34, 36, 38, 40, 41, 43])
    assert main(["check", path]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "a: no scale."
    assert lines[3].startswith("G dorian (") and "Every note is in it" in lines[3]
    assert main(["check", path, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["scale"], found["outside"], found["explains"][0]["scale"]) == (None, None, "G dorian")
    assert [note["name"] for note in found["notes"]][2] == "Bb1"
    assert {(note["in_scale"], note["degree"]) for note in found["notes"]} == {(None, None)}


def test_layers_are_judged_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from tests.unit.shelf_tools import layer, small_take

    shelf = tmp_path / "shelf.sqlite"
    with Shelf(shelf) as opened:
        opened.add(small_take("both").changed(layers=(layer(1, [(0.5, 0.5, 32), (1.0, 0.5, 44)]),)))
    for words, sources in (([], [0, 1, 1, 0]), (["--layers"], [1, 1]), (["--played"], [0, 0])):
        assert main(["check", "both", "--shelf", str(shelf), "--json", *words]) == 0
        found = json.loads(capsys.readouterr().out)
        assert [note["source"] for note in found["notes"]] == sources
        # The two notes of the layer are an Ab; G and Bb were played.
        assert found["outside"] == sources.count(1)


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
        [sys.executable, "-c", code], cwd=ROOT, check=False, capture_output=True, text=True, timeout=360
    )
    loaded = set(done.stdout.splitlines()[-1].split())
    assert "numpy" in loaded
    assert not loaded & {"pygame", "rtmidi", "sqlite3", "platformdirs", "tomllib", "multiprocessing", "asyncio"}


def with_drums(path: Path) -> str:
    """G and B on channel 1, and between them two notes on channel 10."""
    track = mido.MidiTrack()
    for pitch, channel in ((31, 0), (36, 9), (35, 0), (38, 9)):
        track.append(mido.Message("note_on", note=pitch, velocity=90, channel=channel))
        track.append(mido.Message("note_off", note=pitch, time=480, channel=channel))
    mido.MidiFile(type=0, ticks_per_beat=480, tracks=[track]).save(path)
    return str(path)


def test_drums_of_a_file_are_left_out(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = with_drums(tmp_path / "band.mid")
    assert main(["check", path, "--scale", "G dorian", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [(note["index"], note["pitch"]) for note in found["notes"]] == [(0, 31), (2, 35)]
    assert (found["outside"], found["drums"]) == (1, 2)
    assert main(["check", path, "--scale", "G dorian"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[1] == "Left out: 2 on channel 10, the drums." and lines[3] == "1 of 2 notes is outside."
    assert lines[2] == "The file names no tempo; 120 is assumed (--tempo sets another)."


def test_with_drums_it_fits_a_screen_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    track = mido.MidiTrack()
    for step in range(400):
        channel = 9 if step % 5 == 4 else 0
        track.append(mido.Message("note_on", note=30 + step % 12, velocity=90, channel=channel))
        track.append(mido.Message("note_off", note=30 + step % 12, time=120, channel=channel))
    mido.MidiFile(type=0, ticks_per_beat=480, tracks=[track]).save(tmp_path / "band.mid")
    assert main(["check", str(tmp_path / "band.mid"), "--scale", "G minor pentatonic"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[1].startswith("Left out: 80 ")
    assert len(lines) <= 23  # and the prompt, on a terminal of 24 lines


def test_what_was_played_on_channel_10_is_judged(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shelf = tmp_path / "shelf.sqlite"
    with Shelf(shelf) as opened:
        opened.add(take_of_file(with_drums(tmp_path / "ten.mid")).changed(name="ten", origin="played", meters=()))
    assert main(["check", "ten", "--shelf", str(shelf), "--scale", "G dorian", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    # C and D are in the scale, B is not.
    assert [note["pitch"] for note in found["notes"]] == [31, 36, 35, 38]
    assert (found["outside"], found["drums"]) == (1, 0)


def test_a_take_is_judged_by_its_own_brief(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    take = take_of_file(write(tmp_path / "riff.mid", RIFF))
    shelf = tmp_path / "shelf.sqlite"
    with Shelf(shelf) as opened:
        number = opened.add(take.changed(name="porch", brief=take.brief.replace(scale="G harmonic minor")))
        opened.add(take.changed(name="bare", brief=Brief.default()))

    def outside(*words: str) -> list[int]:
        assert main(["check", *words, "--shelf", str(shelf), "--json"]) == 0
        notes = json.loads(capsys.readouterr().out)["notes"]
        return [note["pitch"] for note in notes if not note["in_scale"]]

    assert outside(str(number)) == outside("porch") == [32, 40]
    assert outside("porch", "--scale", "G dorian") == [30, 32, 42]
    assert main(["check", "bare", "--shelf", str(shelf)]) == 0
    # No scale of ours holds G Ab Bb C D E F#.
    said = capsys.readouterr().out
    assert "bare: no scale." in said and "No scale explains it well; nearest come:" in said


def test_tempo_octave_and_velocity_change_no_answer(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plain = Path(write(tmp_path / "plain.mid", [40, 42, 43, 45, 47, 49, 50, 52, 47, 43, 42, 40]))
    found = []
    for tempo, up, velocity in ((500_000, 0, 90), (200_000, 0, 90), (1_200_000, 12, 20), (500_000, 24, 127)):
        file = mido.MidiFile(plain)
        for message in file.tracks[0]:
            if message.type == "set_tempo":
                message.tempo = tempo
            elif message.type in ("note_on", "note_off"):
                message.note += up
                message.velocity = velocity if message.type == "note_on" else 64
        file.save(tmp_path / "other.mid")
        assert main(["check", str(tmp_path / "other.mid"), "--json"]) == 0
        found.append([(one["scale"], one["probability"]) for one in json.loads(capsys.readouterr().out)["explains"]])
    assert found[0][0][0] == "E dorian" and found == found[:1] * 4


@pytest.mark.parametrize(
    ("played", "heading"),
    [
        ((40, 43, 45, 47, 50, 47, 45, 43), "What would explain it:"),
        ((40, 47, 40), "Too few different notes to tell a scale; what would hold them:"),
        (tuple(range(40, 64)), "No scale explains it well; nearest come:"),
    ],
)
def test_what_the_scales_are_worth_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], played: tuple[int, ...], heading: str
) -> None:
    assert main(["check", write(tmp_path / "a.mid", played)]) == 0
    assert capsys.readouterr().out.splitlines()[2] == heading


def test_scales_of_the_same_notes_are_told_apart_whatever_was_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write(tmp_path / "white.mid", [38, 40, 41, 43, 45, 47, 48, 38] * 2)
    answers = []
    for asked in ("D aeolian", "C ionian", "A minor", "F# altered"):
        assert main(["check", path, "--scale", asked, "--json"]) == 0
        answers.append(json.loads(capsys.readouterr().out)["explains"])
    assert all(answer == answers[0] for answer in answers)
    best = answers[0][0]
    assert (best["root"], best["name"], best["scale"], best["outside"]) == ("D", "dorian", "D dorian", 0)
    assert "C ionian" in best["same_notes"] and "D is" in best["why"]
    chances = [one["probability"] for one in answers[0]]
    assert len(answers[0]) == 5 and chances == sorted(chances, reverse=True) and 0 < sum(chances) <= 1.0001


def test_the_degree_that_tells_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path / "g.mid", [31, 34, 36, 38, 40, 41, 38, 34] * 4)
    assert main(["check", path, "--scale", "G minor pentatonic", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["explains"][0]["scale"] == "G dorian"
    assert "E natural is the major sixth: dorian, not minor pentatonic" in found["explains"][0]["why"]
    assert found["change"].endswith("or call it G dorian, which holds all of it.")


def test_a_picture_is_written_and_never_over_the_take(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("matplotlib")
    path = write(tmp_path / "a.mid", RIFF)
    for ending, first in (("png", b"\x89PNG"), ("svg", b"<?xml")):
        out = tmp_path / f"a.{ending}"
        assert main(["check", path, "--scale", "G dorian", "--picture", str(out)]) == 0
        assert out.read_bytes().startswith(first)
    capsys.readouterr()
    for wrong in (path, str(tmp_path / "a.gif")):
        assert main(["check", path, "--picture", wrong]) == 2
        assert capsys.readouterr().err.count("\n") == 1
    # Nothing in it, and one note: still a picture.
    for number, pitches in enumerate(([], [31])):
        bare = write(tmp_path / f"bare{number}.mid", pitches)
        assert main(["check", bare, "--picture", str(tmp_path / f"bare{number}.png")]) == 0


def test_any_name_can_stand_in_a_picture(tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    shelf, out = tmp_path / "shelf.sqlite", tmp_path / "a.svg"
    take = take_of_file(write(tmp_path / "a.mid", RIFF))
    for name in ("$\\no$", "a$b^$", "{x} %s <b>&", "_x"):
        with Shelf(shelf) as opened:
            number = opened.add(take.changed(name=name))
        assert main(["check", str(number), "--scale", "G dorian", "--shelf", str(shelf), "--picture", str(out)]) == 0
        assert out.read_bytes().startswith(b"<?xml")


def test_a_scale_of_ones_own_and_names_with_signs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path / "a.mid", RIFF)
    for text, root, notes in (
        ("E 1 b2 3 4 5 b6 b7", "E", ["E", "F", "G#", "A", "B", "C", "D"]),
        ("G♭ major", "Gb", ["Gb", "Ab", "Bb", "Cb", "Db", "Eb", "F"]),
        ("g blues", "G", ["G", "Bb", "C", "Db", "D", "F"]),
    ):
        assert main(["check", path, "--scale", text, "--json"]) == 0
        found = json.loads(capsys.readouterr().out)
        assert (found["scale"]["root"], found["scale"]["notes"]) == (root, notes)
        wanted = [bool(inside) for inside in parse_scale(text).contains(RIFF)]
        assert [note["in_scale"] for note in found["notes"]] == wanted


def test_a_take_that_is_nowhere_makes_no_shelf(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shelf = tmp_path / "none.sqlite"
    assert main(["check", "no such take", "--scale", "G dorian", "--shelf", str(shelf), "--json"]) == 2
    printed = capsys.readouterr()
    assert printed.out == "" and printed.err.count("\n") == 1 and not shelf.exists()


def test_a_torn_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    whole = Path(write(tmp_path / "a.mid", RIFF)).read_bytes()
    for length in (0, 3, 13, 20, 30):
        (tmp_path / "torn.mid").write_bytes(whole[:length])
        assert main(["check", str(tmp_path / "torn.mid"), "--scale", "G dorian"]) == 2
        printed = capsys.readouterr()
        assert printed.out == "" and printed.err.startswith("loopdeck: ") and printed.err.count("\n") == 1


def test_columns_are_aligned() -> None:
    assert table([["a", 5], ["long", 12]], ("name", "n"), right=(1,)) == "name   n\na      5\nlong  12"
    assert table([]) == ""
    # A wide letter takes two columns, a combining mark none; what would break the line is shown as
    # a question mark.
    assert table([["二", 1], ["e\u0301x", 2], ["a\nb", 3]]) == "二   1\ne\u0301x   2\na?b  3"


def test_what_is_cut_off_is_said() -> None:
    assert cut([[1], [2], [3]], 2, "notes") == ([[1], [2]], "... and 1 more note; --json lists all.")
    assert cut([[1], [2]], 2, "notes") == ([[1], [2]], "")
