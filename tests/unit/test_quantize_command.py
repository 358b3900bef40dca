"""``loopdeck quantize``: figures, the file that is written, defaults, the report for people, and
wrong input.
"""

import json
import subprocess
import sys
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest

from loopdeck.analysis.timing import repeating
from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.cli.main import main
from loopdeck.export.piece import PieceTrack, unhindered
from loopdeck.rhythm.meter import parse_cycle

TICKS = 480
ROOT = Path(__file__).resolve().parents[2]
#: (quarter, pitch): a riff in a bar of four and a bar of seven eighths, some of it early or late.
RIFF = [(0.02, 28), (0.81, 28), (1.0, 31), (2.52, 35), (3.98, 28), (5.0, 33), (7.02, 35), (7.46, 28)]


def write(
    path: Path,
    notes: Sequence[tuple[float, int]],
    tempi: Sequence[tuple[float, float]] = ((0, 96),),
    meters: Sequence[tuple[float, int, int]] = (),
    length: float = 0.2,
    program: int | None = None,
) -> str:
    """A file of notes at quarters, with tempi (quarter, a minute) and meters (quarter, above, below
    the line).
    """
    rows: list[tuple[float, int, Any]] = []
    for quarter, qpm in tempi:
        rows.append((quarter, 0, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(qpm))))
    for quarter, over, under in meters:
        rows.append((quarter, 0, mido.MetaMessage("time_signature", numerator=over, denominator=under)))
    if program is not None:
        rows.append((0, 1, mido.Message("program_change", program=program)))
    for quarter, pitch in notes:
        rows.append((quarter, 3, mido.Message("note_on", note=pitch, velocity=90)))
        rows.append((quarter + length, 2, mido.Message("note_off", note=pitch)))
    rows.sort(key=lambda row: row[:2])
    track, before = mido.MidiTrack(), 0
    for quarter, _, message in rows:
        now = round(quarter * TICKS)
        track.append(message.copy(time=now - before))
        before = now
    mido.MidiFile(type=0, ticks_per_beat=TICKS, tracks=[track]).save(path)
    return str(path)


def onsets(path: Path) -> list[tuple[float, int]]:
    """(quarter, pitch) of every note-on, read back with mido, in order."""
    file = mido.MidiFile(path)
    found = []
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "note_on" and message.velocity:
                found.append((tick / file.ticks_per_beat, message.note))
    return sorted(found)


def figures(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    """What the command prints with --json."""
    assert main(["quantize", *words, "--json"]) == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    found: dict[str, Any] = json.loads(printed.out)
    return found


@pytest.fixture
def riff(tmp_path: Path) -> str:
    return write(tmp_path / "riff.mid", RIFF)


def test_the_command_of_the_handbook(riff: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out.mid"
    options = ["--tempo", "96", "--meter", "4/4 4+3/8", "--grid", "1/16", "--swing", "2:1", "--strength", "100"]
    found = figures(capsys, riff, "-o", str(out), *options)
    assert (found["tempo"], found["meter"], found["swing"], found["strength"]) == ("96", "4/4 4+3/8", "2:1", 100)
    rows = [(note["bar"], note["written"], note["slot"]) for note in found["notes"]]
    assert rows == [
        (1, "0", 0), (1, "3/4", 3), (1, "1", 4), (1, "5/2", 10), (2, "0", 16), (2, "1", 20), (2, "3", 28), (3, "0", 0),
    ]  # fmt: skip
    # At 96 a quarter lasts 625 ms. 2:1 on sixteenths plays the fourth one at 5/6 of a quarter.
    played = [0, 5 / 6, 1, 2.5, 4, 5, 7, 7.5]
    for note, (quarter, pitch), place in zip(found["notes"], RIFF, played, strict=True):
        onset = round(quarter * TICKS) / TICKS
        assert note["pitch"] == pitch
        assert note["onset_sec"] == pytest.approx(onset * 0.625, abs=1e-6)
        assert note["quantized_sec"] == pytest.approx(place * 0.625, abs=1e-6)
        assert note["offset_ms"] == pytest.approx((onset - place) * 625, abs=1e-3)
    assert [note["index"] for note in found["notes"]] == list(range(8))
    read = onsets(out)
    assert [pitch for _, pitch in read] == [pitch for _, pitch in RIFF]
    assert [quarter for quarter, _ in read] == pytest.approx(played, abs=1 / 960)


def test_the_written_file_has_tempo_and_every_change_of_meter(riff: str, tmp_path: Path) -> None:
    out = tmp_path / "out.mid"
    assert main(["quantize", riff, "-o", str(out), "--tempo", "8th=200", "--meter", "4/4 4+3/8"]) == 0
    file = mido.MidiFile(out)
    assert (file.type, file.ticks_per_beat) == (1, 960)
    tick, meters, tempi = 0, [], []
    for message in file.tracks[0]:
        tick += message.time
        if message.type == "time_signature":
            meters.append((tick / 960, message.numerator, message.denominator))
        if message.type == "set_tempo":
            tempi.append(mido.tempo2bpm(message.tempo))
    assert meters[:3] == [(0, 4, 4), (4, 7, 8), (7.5, 4, 4)]
    assert tempi == pytest.approx([100])


def test_straight_writes_the_written_places(riff: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out.mid"
    found = figures(capsys, riff, "-o", str(out), "--meter", "4/4 4+3/8", "--swing", "2:1", "--straight")
    assert [quarter for quarter, _ in onsets(out)] == pytest.approx([0, 0.75, 1, 2.5, 4, 5, 7, 7.5], abs=1e-9)
    # The offset is still the distance from where it should have been played.
    assert found["notes"][1]["offset_ms"] == pytest.approx((389 / 480 - 5 / 6) * 625, abs=1e-3)
    assert found["notes"][1]["quantized_sec"] == pytest.approx(0.75 * 0.625, abs=1e-9)


def test_strength_and_window(riff: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    half = figures(capsys, riff, "--strength", "50")["notes"][3]
    assert half["quantized_sec"] == pytest.approx((half["onset_sec"] + 2.5 * 0.625) / 2, abs=1e-6)
    none = figures(capsys, riff, "--strength", "0")["notes"]
    assert [note["quantized_sec"] for note in none] == [note["onset_sec"] for note in none]
    # 0.81 is 0.06 from its sixteenth, nearly half of the half distance of 0.125: outside 40 %,
    # inside 60 %.
    outside, inside = (figures(capsys, riff, "--window", window)["notes"][1] for window in ("40", "60"))
    assert outside["quantized_sec"] == outside["onset_sec"]
    assert inside["quantized_sec"] == pytest.approx(0.75 * 0.625)


def test_the_files_own_tempo_map_and_meters(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # Three quarters at 120, then 60; a bar of three, a bar of six eighths, then fives.
    notes = [(0.0, 40), (2.99, 41), (4.5, 42), (6.01, 43), (11.0, 44)]
    tempi, meters = [(0, 120), (3, 60)], [(0, 3, 4), (3, 6, 8), (6, 5, 4)]
    path = write(tmp_path / "own.mid", notes, tempi, meters)
    found = figures(capsys, path)
    assert found["tempo"] == "120 then 60"
    assert found["meter"] == "3/4 then 6/8 then 5/4"
    rows = [(note["bar"], note["written"], note["slot"]) for note in found["notes"]]
    assert rows == [(1, "0", 0), (2, "0", 0), (2, "3/2", 6), (3, "0", 0), (4, "0", 0)]
    quantized = [note["quantized_sec"] for note in found["notes"]]
    assert quantized == pytest.approx([0, 1.5, 3.0, 4.5, 9.5], abs=1e-6)
    assert found["notes"][1]["offset_ms"] == pytest.approx((1435 / 480 - 3) * 500, abs=1e-3)


def test_without_tempo_and_meter_a_file_is_at_120_in_four(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = figures(capsys, write(tmp_path / "bare.mid", [(4.0, 40)], tempi=()))
    assert (found["tempo"], found["meter"], found["grid"], found["swing"]) == ("120", "4/4", "1/16", "straight")
    assert (found["notes"][0]["bar"], found["notes"][0]["onset_sec"]) == (2, 2.0)


def test_a_tempo_asked_for_counts_from_the_start(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path / "fast.mid", [(0.0, 40), (4.0, 41)], tempi=[(0, 120)])
    note = figures(capsys, path, "--tempo", "60")["notes"][1]
    assert (note["bar"], note["written"], note["onset_sec"]) == (1, "2", 2.0)


def test_bars_that_come_round_are_a_cycle(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    meters = [(7.5 * turn + start, over, under) for turn in range(3) for start, over, under in ((0, 4, 4), (4, 7, 8))]
    path = write(
        tmp_path / "round.mid", [(7.5 * turn + place, 40) for turn in range(3) for place in (0, 4)], meters=meters
    )
    found = figures(capsys, path)
    assert found["meter"] == "4/4 7/8"
    assert [(note["bar"], note["slot"]) for note in found["notes"]] == [
        (1, 0),
        (2, 16),
        (3, 0),
        (4, 16),
        (5, 0),
        (6, 16),
    ]


def test_auto_grid(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    places = [0.0, 1 / 3, 2 / 3, 1.0, 1.25, 1.5, 1.75]
    found = figures(capsys, write(tmp_path / "mixed.mid", [(place, 40) for place in places]), "--grid", "auto")
    assert [note["written"] for note in found["notes"]] == ["0", "1/3", "2/3", "1", "5/4", "3/2", "7/4"]


def test_auto_says_durations_ornaments_and_swing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    places = [beat + off for beat in range(16) for off in (0.0, 0.3125, 0.5, 0.8125)]
    take = write(tmp_path / "swung.mid", [(place, 40) for place in places], length=0.15)
    found = figures(capsys, take, "--grid", "auto")
    assert [note["written"] for note in found["notes"][:5]] == ["0", "1/4", "1/2", "3/4", "1"]
    assert found["swing_found"] == "1.67:1 1/16"
    assert {note["duration"] for note in found["notes"]} == {"1/4"}
    assert {note["ornament"] for note in found["notes"]} == {False}
    # The played place keeps the swing; asked to be straight, the notes go to their written places.
    assert found["notes"][1]["quantized_sec"] == pytest.approx(0.3125 * 0.625, abs=0.003)
    straight = figures(capsys, take, "--grid", "auto", "--straight")
    assert straight["notes"][1]["quantized_sec"] == pytest.approx(0.25 * 0.625)
    # A swing that is given is not looked for.
    assert figures(capsys, take, "--grid", "auto", "--swing", "straight")["swing_found"] is None
    assert main(["quantize", take, "--grid", "auto"]) == 0
    assert "four a beat in 16 beats, swung 1.67:1 in sixteenths, written straight" in capsys.readouterr().out


def test_a_trill_stays_one_and_is_not_late(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    notes = [(index / 2, 36 + 7 * (index % 2)) for index in range(16)]
    trill = [(4.0 + 0.137 * index, 76 + index % 2) for index in range(6)]
    take, out = write(tmp_path / "trill.mid", sorted(notes + trill), length=0.12), str(tmp_path / "out.mid")
    assert main(["quantize", take, "--grid", "auto", "-o", out]) == 0
    text = capsys.readouterr().out
    assert "5 ornaments" in text and " ms late" not in text.split("\n\n")[1]
    again = figures(capsys, out, "--grid", "1/16")["notes"]
    assert len(again) == len(notes + trill)
    assert [note["onset_sec"] for note in again if note["pitch"] > 70] == pytest.approx(
        [at * 0.625 for at, _ in trill], abs=0.003
    )


def test_what_makes_no_rhythm_and_a_swing_in_doubt_are_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for notes, says in (
        ([(1.0, 40)], "One note alone makes no rhythm"),
        ([(1.0, pitch) for pitch in range(128)], "What is struck at once makes no rhythm"),
        ([(at, 40) for at in (0.0, 1.0, 1.65, 2.0, 3.0, 3.65)], "so few could be triplets or dotted as well"),
    ):
        assert main(["quantize", write(tmp_path / "few.mid", notes), "--grid", "auto"]) == 0
        assert says in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_a_picture(riff: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], ending: str) -> None:
    pytest.importorskip("matplotlib")
    picture = tmp_path / f"riff.{ending}"
    figures(capsys, riff, "--meter", "4/4 4+3/8", "--picture", str(picture))
    assert picture.read_bytes()[:5] in (b"\x89PNG\r", b"<?xml")
    assert main(["quantize", riff, "--picture", str(tmp_path / "riff.gif")]) == 2
    assert "pictures are written as .png or .svg" in capsys.readouterr().err


def test_an_empty_take_has_a_picture_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("matplotlib")
    take = write(tmp_path / "empty.mid", [])
    found = figures(capsys, take, "--grid", "auto", "--picture", str(tmp_path / "empty.png"))
    assert (found["count"], found["swing_found"], found["divisions"]) == (0, None, {})


def test_the_report_for_people(riff: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["quantize", riff, "-o", str(tmp_path / "out.mid"), "--meter", "4/4 4+3/8"]) == 0
    text = capsys.readouterr().out
    lines = text.splitlines()
    assert lines[0] == "riff: 8 notes at 96 in 4/4 4+3/8"
    # In quarters: 0.02 .0604 0 .0208 -.0208 0 .0208 -.0396 from their places, at 625 ms each.
    assert lines[2].startswith("2 early, 4 late, 2 within 6 ms; median 6.5 ms late")
    head = next(index for index, line in enumerate(lines) if line.startswith("bar"))
    assert "37.8 ms late" in lines[head + 1]
    shown = [float(line.split(" ms ")[0].split()[-1]) for line in lines[head + 1 :] if " ms " in line]
    assert shown == sorted(shown, reverse=True)
    assert len(shown) >= 6
    assert len({line.index("early") for line in lines[head + 1 :] if "early" in line}) == 1
    assert lines[-1] == f"Written to {tmp_path / 'out.mid'}."


def test_the_report_stays_on_one_screen(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path / "long.mid", [(index * 0.26, 40 + index % 5) for index in range(300)])
    assert main(["quantize", path, "-o", str(tmp_path / "out.mid")]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines[:-1])) <= 80  # the last line names the file, however long that is
    assert any("more notes" in line for line in lines)


def test_an_assumed_tempo_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = "The file names no tempo; 120 is assumed (--tempo sets another)."
    path = write(tmp_path / "take.mid", RIFF, tempi=())
    assert main(["quantize", path]) == 0
    assert told in capsys.readouterr().out.splitlines()
    for words, remarks in (([], [told]), (["--tempo", "90"], [])):
        assert main(["quantize", path, "--json", *words]) == 0
        assert json.loads(capsys.readouterr().out)["remarks"] == remarks


def test_a_file_without_notes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, out = write(tmp_path / "rest.mid", []), tmp_path / "out.mid"
    assert main(["quantize", path]) == 0
    assert "There are no notes." in capsys.readouterr().out
    assert main(["quantize", path, "-o", str(out)]) == 2
    assert "has no notes" in capsys.readouterr().err
    assert not out.exists()


def test_layers_are_quantized_and_written_once_each_on_a_track_of_its_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:

    from loopdeck.shelf.store import Shelf
    from tests.unit.shelf_tools import layer, small_take

    shelf, out = tmp_path / "shelf.sqlite", tmp_path / "out.mid"
    with Shelf(shelf) as opened:
        opened.add(small_take("both"))
        opened.add(small_take("layered").changed(events=(), layers=(layer(2, [(1.02, 0.5, 31)], program=30),)))
    found = figures(capsys, "both", "--shelf", str(shelf), "-o", str(out))
    assert [(note["source"], note["written"], note["count"]) for note in found["notes"]] == [
        (0, "0", "1"),
        (1, "0", "1"),
        (0, "2", "3"),
        (1, "5/2", "3 and"),
    ]
    assert [note["offset_ms"] for note in found["notes"]] == pytest.approx([10, 15, 20, -10], abs=1e-6)
    assert onsets(out) == [(0, 31), (0, 43), (2, 46), (2.5, 34)]
    assert [track.name for track in mido.MidiFile(out).tracks[1:]] == ["both", "layer 1"]
    assert len(figures(capsys, "both", "--shelf", str(shelf), "--played")["notes"]) == 2
    # A take made of layers alone has notes.
    found = figures(capsys, "layered", "--shelf", str(shelf), "-o", str(out))
    assert [(note["source"], note["pitch"]) for note in found["notes"]] == [(2, 31)]
    (track,) = mido.MidiFile(out).tracks[1:]
    assert [message.program for message in track if message.type == "program_change"] == [29]


def test_places_are_said_in_beats_and_notes_as_the_scale_spells_them(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write(tmp_path / "flat.mid", [(0.0, 43), (1.54, 46)])
    assert main(["quantize", path, "--scale", "G dorian"]) == 0
    row = capsys.readouterr().out.splitlines()[-2]
    assert row.split()[:4] == ["1", "2", "and", "Bb2"]


def test_json_and_nothing_else_in_a_process_of_its_own(riff: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "loopdeck", "quantize", riff, "--json"],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert done.returncode == 0
    assert done.stderr == ""
    assert len(json.loads(done.stdout)["notes"]) == 8


def test_a_take_from_the_shelf_has_its_briefs_grid(
    riff: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:

    from loopdeck.shelf.store import Shelf
    from loopdeck.shelf.take import take_of_file

    shelf = tmp_path / "shelf.sqlite"
    take = take_of_file(riff)
    brief = take.brief.replace(grid="1/8", swing="3:1", strength="50", cycle="4/4 4+3/8")
    with Shelf(shelf) as opened:
        number = opened.add(take.changed(brief=brief, meters=(), name="stairs"))
    for text in (str(number), "stairs"):
        found = figures(capsys, text, "--shelf", str(shelf))
        assert (found["grid"], found["swing"], found["strength"], found["meter"]) == ("1/8", "3:1", 50, "4/4 4+3/8")
        # The first eighth's partner is played at three quarters of the pair.
        assert found["notes"][1]["written"] == "1/2"
        assert found["notes"][1]["offset_ms"] == pytest.approx((389 / 480 - 0.75) * 625, abs=1e-3)


# ---- what is written -----------------------------------------------------------------------------


def _track(rows: Sequence[tuple[float, float, int]]) -> PieceTrack:
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    ones = np.ones(len(rows), np.int64)
    return PieceTrack("t", columns[0].astype(float), columns[1].astype(float), columns[2], ones, ones, ())


def test_no_note_reaches_into_the_next_of_its_pitch() -> None:
    track = _track([(0.0, 1.5, 40), (0.0, 3.0, 41), (1.0, 0.5, 40), (1.0, 0.8, 40), (2.0, 0.5, 40)])
    assert unhindered(track).duration_q.tolist() == pytest.approx([1.0, 3.0, 0.8, 0.8, 0.5])


def test_notes_moved_together_keep_their_sound(tmp_path: Path) -> None:
    path, out = write(tmp_path / "close.mid", [(0.95, 40), (1.2, 40)], length=0.2), tmp_path / "out.mid"
    assert main(["quantize", path, "-o", str(out), "--grid", "1/4"]) == 0
    played = [message for message in mido.MidiFile(out).tracks[1] if message.type in ("note_on", "note_off")]
    assert [message.type for message in played] == ["note_on", "note_on", "note_off", "note_off"]
    assert sum(message.time for message in played[2:]) == pytest.approx(0.2 * 960, abs=2)


def test_the_program_is_kept(tmp_path: Path) -> None:
    path, out = write(tmp_path / "bass.mid", RIFF, program=34), tmp_path / "out.mid"
    assert main(["quantize", path, "-o", str(out)]) == 0
    assert [m.program for track in mido.MidiFile(out).tracks for m in track if m.type == "program_change"] == [34]


def test_repeating() -> None:
    def stretches(*parts: tuple[float, str]) -> list[Stretch]:
        return [Stretch(Fraction(start), parse_cycle(cycle)) for start, cycle in parts]

    rounds = stretches((0, "4/4"), (4, "7/8"), (7.5, "4/4"), (11.5, "7/8"))
    assert repeating(rounds, 14.0) == (Stretch(Fraction(0), parse_cycle("4/4 7/8")),)
    # The last seven eighths go on for another bar: no cycle.
    assert repeating(rounds, 15.5) == tuple(rounds)
    once = stretches((0, "4/4"), (4, "7/8"))
    assert repeating(once, 5.0) == tuple(once)
    # A bar that is cut off is none.
    cut = stretches((0, "4/4"), (3, "4/4"))
    assert repeating(cut, 6.0) == tuple(cut)
    same = stretches((0, "4/4"), (8, "4/4"))
    assert repeating(same, 9.0) == (Stretch(Fraction(0), parse_cycle("4/4")),)


# ---- wrong input ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--meter", "7/9"], "9 below the line"),
        (["--meter", "0/4"], "no beats"),
        (["--meter", "3++4/8"], "not a meter"),
        (["--tempo", "500"], "between 20 and 400"),
        (["--grid", "1/5"], "no grid '1/5'"),
        (["--swing", "4:1"], "between 1:1"),
        (["--strength", "101"], "between 0 and 100 percent"),
        (["--window", "0"], "between 1 and 100 percent"),
    ],
)
def test_a_wrong_option_gets_one_sentence_and_no_file(
    riff: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], says: str
) -> None:
    out = tmp_path / "out.mid"
    assert main(["quantize", riff, "-o", str(out), *words]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert says in printed.err
    assert printed.err.count("\n") == 1
    assert not out.exists()


def test_the_report_needs_no_file(riff: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["quantize", riff]) == 0
    text = capsys.readouterr().out
    assert text.startswith("riff: 8 notes at 96 in 4/4") and "Written to" not in text


@pytest.mark.parametrize("name", ["out.mp3", "out", "out.mid.wav"])
def test_an_ending_that_is_not_written_gets_what_can_be(
    riff: str, tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["quantize", riff, "--out", str(tmp_path / name)]) == 2
    printed = capsys.readouterr().err
    assert "a Standard MIDI File (.mid, .midi, .smf)" in printed and printed.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["riff.mid"]


@pytest.mark.parametrize("option", ["-o", "--out", "--output"])
def test_the_file_to_write_has_three_spellings(riff: str, tmp_path: Path, option: str) -> None:
    assert main(["quantize", riff, option, str(tmp_path / "new.MID")]) == 0
    assert len(onsets(tmp_path / "new.MID")) == 8


def test_the_take_itself_is_never_overwritten(riff: str, capsys: pytest.CaptureFixture[str]) -> None:
    before = Path(riff).read_bytes()
    assert main(["quantize", riff, "-o", riff]) == 2
    assert "never altered" in capsys.readouterr().err
    assert Path(riff).read_bytes() == before


@pytest.mark.parametrize(
    "content", [b"", b"MThd", b"not a file", b"MThd\x00\x00\x00\x06\x00\x01\x00\x01\x01\xe0MTrk\xff\xff\xff\xff"]
)
def test_what_is_no_midi_file(tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes) -> None:
    bad, out = tmp_path / "bad.mid", tmp_path / "out.mid"
    bad.write_bytes(content)
    assert main(["quantize", str(bad), "-o", str(out)]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert not out.exists()


def test_a_file_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["quantize", str(tmp_path / "none.mid"), "-o", str(tmp_path / "out.mid")]) == 2
    assert "none.mid: No such file" in capsys.readouterr().err


def test_a_folder_that_is_not_there(riff: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "nowhere" / "out.mid"
    assert main(["quantize", riff, "-o", str(out)]) == 2
    printed = capsys.readouterr().err
    assert str(out) in printed
    assert ".part" not in printed


def test_a_folder_that_is_a_file(riff: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["quantize", riff, "-o", f"{riff}/out.mid"]) == 2
    assert f"{riff}/out.mid: Not a directory." in capsys.readouterr().err
