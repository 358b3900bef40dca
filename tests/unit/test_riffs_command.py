"""``loopdeck riffs``: the JSON, the report, the shelf, pictures, and wrong input."""

import json
from pathlib import Path

import mido
import pytest

from loopdeck.cli.main import main
from loopdeck.shelf.store import Shelf
from tests.unit.test_riffs import RIFF, at, noodle

TICKS = 480
TAKE = at(0) + noodle(1, 1, 4) + at(4) + noodle(2, 5, 9) + at(9, up=12) + noodle(3, 10, 12)


def write(path: Path, notes: list[tuple[float, int]], channel: int = 0, tempo: bool = True) -> str:
    """Notes (place in quarters, pitch), each a sixteenth long."""
    events = [(round(place * TICKS), 1, pitch) for place, pitch in notes]
    events += [(round((place + 0.2) * TICKS), 0, pitch) for place, pitch in notes]
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=500_000)] if tempo else [])
    now = 0
    for tick, on, pitch in sorted(events):
        track.append(mido.Message("note_on", channel=channel, note=pitch, velocity=90 * on, time=tick - now))
        now = tick
    mido.MidiFile(type=0, ticks_per_beat=TICKS, tracks=[track]).save(path)
    return str(path)


def riffs(capsys: pytest.CaptureFixture[str], *words: str) -> dict:
    assert main(["riffs", *words, "--json"]) == 0
    out, err = capsys.readouterr()
    assert err == "" and out.count("\n") == 1
    return json.loads(out)


def test_the_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = riffs(capsys, write(tmp_path / "take.mid", TAKE))
    assert set(found) == {"take", "notes", "drums", "riffs", "says", "remarks"} and found["notes"] == len(TAKE)
    (riff,) = found["riffs"]
    assert {"name", "bars", "notes", "occurrences", "best"} <= set(riff)
    assert (riff["name"], riff["bars"]) == ("A", 1)
    assert [(note["at_q"], note["pitch"]) for note in riff["notes"]] == list(RIFF)
    assert all(note["length_q"] == pytest.approx(0.2, abs=0.01) for note in riff["notes"])
    assert [one["bar"] for one in riff["occurrences"]] == [1, 5, 10]
    assert [one["transposed"] for one in riff["occurrences"]] == [0, 0, 12]
    assert [one["alike"] for one in riff["occurrences"]] == [1.0, 1.0, 1.0]
    assert riff["occurrences"][1]["start_sec"] == pytest.approx(8.0)
    assert riff["occurrences"][1]["end_sec"] == pytest.approx(9.85)
    order = sorted(TAKE)
    for one, bar, up in zip(riff["occurrences"], (0, 4, 9), (0, 0, 12), strict=True):
        assert [order[index] for index in one["indices"]] == at(bar, up=up)


def test_the_report_fits_a_screen(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["riffs", write(tmp_path / "take.mid", TAKE)]) == 0
    out = capsys.readouterr().out
    assert "A comes 3 times, 1 of them varied; its cleanest is at bar 1 (0:00)." in out
    assert "1, 5, 10" in out and len(out.splitlines()) <= 24


def test_the_cleanest_goes_on_the_shelf(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shelf = str(tmp_path / "shelf")
    take = write(tmp_path / "take.mid", TAKE)
    found = riffs(capsys, take, "--keep", "1", "-o", "found it", "--shelf", shelf)
    assert found["kept"] == [{"riff": "A", "number": 1, "name": "found it"}]
    with Shelf(shelf) as opened:
        kept = opened.get("found it")
    notes = kept.notes().array
    assert notes["pitch"].tolist() == [pitch for _, pitch in RIFF]
    assert notes["onset_sec"].tolist() == pytest.approx([place / 2 for place, _ in RIFF])
    assert (str(kept.brief.cycle), kept.brief.tempo.quarters_per_minute, kept.recording.passes) == ("4/4", 120.0, 1)
    assert main(["riffs", take, "--keep", "a", "--shelf", shelf]) == 0
    assert "Riff A is on the shelf: take 2, take, riff A." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--keep", "7"], "There is no riff '7' in 'take'; it has 1, or A."),
        (["--keep", "x"], "There is no riff 'x' in 'take'; it has 1, or A."),
        (["--keep", "1", "-o", " "], "name"),
        (["-o", "x"], "A name was given with -o, and nothing to keep; say which riff with --keep N."),
        (["--picture", "map.bmp"], "map.bmp has an ending that no picture has"),
        (["--meter", "4/5"], "4/5"),
    ],
)
def test_wrong_words_get_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], sentence: str
) -> None:
    take, shelf = write(tmp_path / "take.mid", TAKE), tmp_path / "shelf"
    assert main(["riffs", take, *words, "--shelf", str(shelf)]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err.count("\n") == 1 and sentence.format(take=take) in err
    if shelf.exists():
        with Shelf(shelf) as opened:
            assert opened.find() == []


@pytest.mark.parametrize(
    ("notes", "tempo"),
    [
        ([], True),
        ([(0.0, 40)], False),
        ([(1.0, pitch) for pitch in range(128)], True),
        ([(place / 4, 40 + place % 12) for place in range(3)], False),
    ],
)
def test_takes_with_nothing_in_them(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], notes: list[tuple[float, int]], tempo: bool
) -> None:
    take = write(tmp_path / "take.mid", notes, tempo=tempo)
    found = riffs(capsys, take, "--shelf", str(tmp_path / "shelf"))
    assert found["riffs"] == [] and len(found["says"]) == 1
    assert main(["riffs", take, "--keep", "1", "--shelf", str(tmp_path / "shelf")]) == 2
    assert "nothing comes back" in capsys.readouterr().err


def test_an_assumed_tempo_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = "The file names no tempo; 120 is assumed (--tempo sets another)."
    take = write(tmp_path / "take.mid", TAKE, tempo=False)
    assert riffs(capsys, take)["remarks"] == [told]
    assert riffs(capsys, take, "--tempo", "90")["remarks"] == []
    assert main(["riffs", take]) == 0
    assert capsys.readouterr().out.splitlines()[1] == told


def test_drums_are_left_out(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = riffs(capsys, write(tmp_path / "take.mid", TAKE, channel=9))
    assert (found["notes"], found["drums"], found["riffs"]) == (0, len(TAKE), [])


def test_a_line_spread_over_the_strings_of_a_pickup_is_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # Each string sends on its own channel: the riff is one line all the same.
    file = mido.MidiFile(write(tmp_path / "take.mid", TAKE))
    for message in file.tracks[0]:
        if message.type == "note_on":
            message.channel = 1 + message.note % 4
    file.save(tmp_path / "strings.mid")
    (riff,) = riffs(capsys, str(tmp_path / "strings.mid"))["riffs"]
    assert (len(riff["occurrences"]), len(riff["notes"])) == (3, 8)


def test_two_instruments_at_once_are_two_parts(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = mido.MidiFile(write(tmp_path / "take.mid", TAKE))
    held = mido.MidiTrack()
    for pitch in range(60, 84):
        held.append(mido.Message("note_on", channel=4, note=pitch, velocity=60))
        held.append(mido.Message("note_off", channel=4, note=pitch, time=2 * TICKS))
    file.type = 1
    file.tracks.append(held)
    file.save(tmp_path / "two.mid")
    best = riffs(capsys, str(tmp_path / "two.mid"))["riffs"][0]
    # By chance the noodling goes on alike after two of the three.
    assert [note["pitch"] for note in best["notes"]][: len(RIFF)] == [pitch for _, pitch in RIFF]
    assert [one["bar"] for one in best["occurrences"]] == [1, 5, 10]


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_the_map(tmp_path: Path, capsys: pytest.CaptureFixture[str], ending: str) -> None:
    pytest.importorskip("matplotlib")
    picture = tmp_path / f"map.{ending}"
    riffs(capsys, write(tmp_path / "take.mid", TAKE), "--picture", str(picture))
    head = picture.read_bytes()[:200]
    assert head.startswith(b"\x89PNG") if ending == "png" else b"<?xml" in head
    riffs(capsys, write(tmp_path / "none.mid", []), "--picture", str(picture))


def test_a_kept_riff_of_triplets_with_a_program_keeps_both(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    triplets = tuple(
        (number / 3, pitch) for number, pitch in enumerate((40, 43, 45, 47, 45, 52, 40, 38, 40, 43, 47, 50))
    )
    file = write(tmp_path / "take.mid", at(0, triplets) + noodle(1, 1, 4) + at(4, triplets) + at(5, triplets))
    read = mido.MidiFile(file)
    read.tracks[0].insert(1, mido.Message("program_change", program=35, time=0))
    read.save(file)
    shelf = str(tmp_path / "shelf")
    assert main(["riffs", file, "--keep", "1", "--shelf", shelf]) == 0
    assert main(["vary", file, "--how", "octave -1", "-o", "lower", "--shelf", shelf]) == 0
    capsys.readouterr()
    with Shelf(shelf) as opened:
        kept, varied = opened.get(1), opened.get(2)
    assert str(kept.brief.grid) == "1/8T" and str(varied.brief.grid) == "auto"
    assert next(event.data for event in kept.recording.events) == bytes((0xC0, 35))
