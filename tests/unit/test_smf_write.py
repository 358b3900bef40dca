"""Takes laid out as pieces and written as Standard MIDI Files: what stands in them, and what happens when they cannot be written."""

import os
import resource
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest

from loopdeck.capture.events import Event
from loopdeck.export.atomic import whole_file
from loopdeck.export.piece import Piece, PieceTrack, piece_of_take
from loopdeck.export.smf import TICKS, smf_of, write_smf
from loopdeck.looper.brief import Brief
from loopdeck.looper.layers import LAYER_DTYPE, Layer, channel_of
from loopdeck.looper.transport import Anchor
from loopdeck.shelf.take import Take, take_of_file
from loopdeck.theory.scale import SCALES, parse_scale

ROOT = Path(__file__).resolve().parents[2]


def take(events: list[tuple[float, int, int, bytes]] | None = None, passes: int = 2, **fields: Any) -> Take:
    """A take at 120, 4/4, straight sixteenths; ``events``: (quarter, pitch, input, ...) as note-ons of half a quarter, or raw data."""
    own = {key: fields.pop(key) for key in list(fields) if key in Brief.default().to_dict() and key != "name"}
    brief = Brief.default().replace(**{"tempo": "120", "cycle": "4/4", "grid": "1/16", "swing": "1:1", **own})
    sec = 60.0 / brief.tempo.quarters_per_minute
    raw = []
    for quarter, pitch, port, data in events or []:
        if data:
            raw.append(Event(quarter * sec, port, data))
            continue
        raw += [
            Event(quarter * sec, port, bytes((0x90, pitch, 90))),
            Event((quarter + 0.5) * sec, port, bytes((0x80, pitch, 64))),
        ]
    return replace(
        Take(
            "riff",
            "2031-05-06T07:08:09+00:00",
            brief,
            tuple(sorted(raw, key=lambda event: event.time_sec)),
            tempo_map=(Anchor(0.0, 0.0, brief.tempo.quarters_per_minute),),
            passes=passes,
            end_sec=passes * float(brief.cycle.quarters) * sec,
        ),
        **fields,
    )


def note(quarter: float, pitch: int, port: int = 0) -> tuple[float, int, int, bytes]:
    return quarter, pitch, port, b""


def layer(
    number: int, notes: list[tuple[float, float, int]], bends: dict[int, list[tuple[float, float]]] | None = None
) -> Layer:
    """A layer of (onset, duration, pitch) in quarters, bent by curves named by the note's place."""
    rows = np.array([(on, long, pitch, 80, 0, 0, 1) for on, long, pitch in notes], LAYER_DTYPE)
    curves = tuple(np.array((bends or {}).get(index, [(0.0, 0.0)]), float) for index in range(len(notes)))
    return Layer(number, rows, curves, 0, 34, channel_of(number))


def rows(track: Any, *kinds: str) -> list[tuple[int, Any]]:
    """(tick, message) of these kinds."""
    now, found = 0, []
    for message in track:
        now += message.time
        if message.type in kinds:
            found.append((now, message))
    return found


def onsets(track: Any) -> list[tuple[int, int]]:
    """(tick, pitch) of every note that begins."""
    return [(when, message.note) for when, message in rows(track, "note_on") if message.velocity]


def names(file: Any) -> list[str]:
    return [track.name for track in file.tracks]


# ---- the conductor ------------------------------------------------------------------------------------------------------------


def signatures(one: Take) -> list[tuple[int, int, int]]:
    return [
        (when, m.numerator, m.denominator) for when, m in rows(smf_of(piece_of_take(one)).tracks[0], "time_signature")
    ]


def test_a_time_signature_stands_at_every_change_of_every_pass() -> None:
    bar, seven = 4 * TICKS, 7 * TICKS // 2
    assert signatures(take(cycle="4/4 4+3/8", passes=3)) == [
        (0, 4, 4), (bar, 7, 8), (bar + seven, 4, 4), (2 * bar + seven, 7, 8), (2 * (bar + seven), 4, 4),
        (3 * bar + 2 * seven, 7, 8),
    ]  # fmt: skip
    assert signatures(take(cycle="4/4 4/4 7/8", passes=2)) == [
        (0, 4, 4), (2 * bar, 7, 8), (2 * bar + seven, 4, 4), (4 * bar + seven, 7, 8)
    ]  # fmt: skip
    assert signatures(take(cycle="4/4", passes=16)) == [(0, 4, 4)]


@pytest.mark.parametrize(
    ("cycle", "clocks"), [("4/4", 24), ("6/8", 36), ("4+3/8", 48), ("7/16", 24), ("4/2", 48), ("12/8", 36)]
)
def test_the_clocks_of_a_click_are_the_first_groups(cycle: str, clocks: int) -> None:
    ((_, message),) = rows(smf_of(piece_of_take(take(cycle=cycle))).tracks[0], "time_signature")
    assert message.clocks_per_click == clocks
    assert message.notated_32nd_notes_per_beat == 8


def test_tempo_changes_stand_where_they_were() -> None:
    one = take(
        [note(0, 40), note(6, 41)], tempo_map=(Anchor(0.0, 0.0, 120.0), Anchor(1.0, 2.0, 96.0), Anchor(3.5, 6.0, 80.0))
    )
    tempi = [(when, message.tempo) for when, message in rows(smf_of(piece_of_take(one)).tracks[0], "set_tempo")]
    assert tempi == [(0, 500_000), (2 * TICKS, 625_000), (6 * TICKS, 750_000)]


def test_a_tempo_in_eighths_is_written_in_quarters() -> None:
    ((_, message),) = rows(smf_of(piece_of_take(take(tempo="8th=184", cycle="7/8"))).tracks[0], "set_tempo")
    assert message.tempo == round(60e6 / 92)


@pytest.mark.parametrize(
    ("scale", "key"),
    [("G dorian", "Gm"), ("E phrygian", "Em"), ("Bb major", "Bb"), ("F# major", "F#"), ("C minor", "Cm")],
)
def test_key_signature(scale: str, key: str) -> None:
    ((_, message),) = rows(smf_of(piece_of_take(take(scale=scale))).tracks[0], "key_signature")
    fifths, minor = parse_scale(scale).fifths(), parse_scale(scale).is_minor
    if scale.split()[1] in ("major", "minor"):
        assert message.key == key
    # A mode has the accidentals of its notes; read back, the same number and kind.
    assert -7 <= fifths <= 7
    raw = message.bytes()
    assert (raw[3] - 256 if raw[3] > 127 else raw[3], bool(raw[4])) == (fifths, minor)


def test_every_scale_has_a_key_signature_that_can_be_written(tmp_path: Path) -> None:
    for name in SCALES:
        for root in ["C", "C#", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B"]:
            smf_of(piece_of_take(take(scale=f"{root} {name}")))
    write_smf(tmp_path / "none.mid", piece_of_take(take(scale="")))
    assert not rows(mido.MidiFile(tmp_path / "none.mid").tracks[0], "key_signature")


# ---- playing and layers -------------------------------------------------------------------------------------------------------


def test_the_playing_stays_as_it_was_played_and_layers_sound_in_every_pass() -> None:
    one = take(
        [note(0.03, 43), note(5.9, 46)],
        layers=(layer(1, [(0.02, 0.5, 31), (2.27, 0.25, 34)]), layer(2, [(1.0, 1, 55)])),
    )
    file = smf_of(piece_of_take(one))
    assert names(file) == ["riff", "as played", "layer 1", "layer 2"]
    assert file.type == 1 and file.ticks_per_beat == 960
    assert onsets(file.tracks[1]) == [(29, 43), (5664, 46)]
    assert onsets(file.tracks[2]) == [(0, 31), (2160, 34), (3840, 31), (6000, 34)]
    assert onsets(file.tracks[3]) == [(960, 55), (4800, 55)]
    assert [when for when, _ in rows(file.tracks[2], "note_off")] == [480, 2400, 4320, 6240]
    assert {m.channel for _, m in rows(file.tracks[1], "note_on")} == {0}
    assert {m.channel for _, m in rows(file.tracks[2], "note_on")} == {1}
    ends = {sum(message.time for message in track) for track in file.tracks}
    assert ends == {8 * TICKS}


def test_swing_is_kept_in_the_times_unless_straight() -> None:
    one = take(
        [note(0.68, 40)], swing="2:1", grid="1/8", layers=(layer(1, [(0.0, 0.3, 31), (0.6, 0.3, 34)]),), passes=1
    )
    swung, straight = (smf_of(piece_of_take(one, flag)) for flag in (False, True))
    assert onsets(swung.tracks[2]) == [(0, 31), (640, 34)]
    assert onsets(swung.tracks[1]) == [(653, 40)]
    assert onsets(straight.tracks[2]) == [(0, 31), (480, 34)]
    assert onsets(straight.tracks[1]) == [(480, 40)]
    assert names(straight)[1] == "as written"


def test_strength_moves_layers_part_of_the_way() -> None:
    one = take(strength="50", layers=(layer(1, [(0.1, 0.3, 31)]),), passes=1)
    assert onsets(smf_of(piece_of_take(one)).tracks[2]) == [(48, 31)]
    assert onsets(smf_of(piece_of_take(one, straight=True)).tracks[2]) == [(0, 31)]


def test_an_early_downbeat_gets_a_bar_in_front() -> None:
    one = take([note(-0.04, 43), note(1.0, 46)], layers=(layer(1, [(0.0, 0.5, 31)]),), cycle="3/4 4/4", passes=1)
    file = smf_of(piece_of_take(one))
    assert onsets(file.tracks[1]) == [(round(2.96 * TICKS), 43), (4 * TICKS, 46)]
    assert onsets(file.tracks[2]) == [(3 * TICKS, 31)]
    assert [(when, m.numerator) for when, m in rows(file.tracks[0], "time_signature")] == [(0, 3), (6 * TICKS, 4)]
    assert onsets(smf_of(piece_of_take(one, straight=True)).tracks[1]) == [(0, 43), (TICKS, 46)]


def test_each_input_has_a_track_and_its_own_latency() -> None:
    one = take([note(0, 40), note(0.25, 40, 1), note(1, 52, 2)], late={1: 0.125, 7: 9.0})
    file = smf_of(piece_of_take(one))
    assert names(file)[1:] == ["as played, input 1", "as played, input 2", "as played, input 3"]
    assert [onsets(track) for track in file.tracks[1:]] == [[(0, 40)], [(0, 40)], [(960, 52)]]


def test_sounds() -> None:
    one = take([note(0, 40), (2.0, 0, 0, b"\xc0\x1d"), note(2.0, 41)], program="40", layers=(layer(1, [(0, 1, 30)]),))
    file = smf_of(piece_of_take(one))
    assert [(when, m.program) for when, m in rows(file.tracks[1], "program_change")] == [(2 * TICKS, 29)]
    assert [(when, m.channel, m.program) for when, m in rows(file.tracks[2], "program_change")] == [(0, 1, 33)]
    plain = smf_of(piece_of_take(take([note(0, 40)], program="40")))
    assert [(when, m.program) for when, m in rows(plain.tracks[1], "program_change")] == [(0, 39)]


def test_a_muted_layer_is_there_and_silent() -> None:
    one = take(layers=(layer(1, [(0, 1, 30)]), layer(2, [(0, 1, 33)])), muted=frozenset({1}))
    file = smf_of(piece_of_take(one))
    assert names(file)[2:] == ["layer 1, muted", "layer 2"]
    assert len(onsets(file.tracks[2])) == 2
    assert [(m.control, m.value) for _, m in rows(file.tracks[2], "control_change")] == [(7, 0)]
    assert not rows(file.tracks[3], "control_change")


def test_a_note_longer_than_the_way_to_its_next_is_cut_there() -> None:
    file = smf_of(piece_of_take(take(layers=(layer(1, [(0, 4, 30), (2, 0.25, 33), (3.5, 4.0, 30)]),))))
    sounding: set[int] = set()
    for _, message in rows(file.tracks[2], "note_on", "note_off"):
        if message.type == "note_on":
            assert message.note not in sounding
            sounding.add(message.note)
        else:
            sounding.remove(message.note)
    assert not sounding


def test_no_notes_at_all_is_a_file_too(tmp_path: Path) -> None:
    write_smf(tmp_path / "empty.mid", piece_of_take(take()))
    back = mido.MidiFile(tmp_path / "empty.mid")
    assert names(back) == ["riff", "as played"]
    assert back.length == pytest.approx(4.0)


# ---- bends --------------------------------------------------------------------------------------------------------------------


def curve(track: Any) -> list[tuple[int, float]]:
    """(tick, semitones) as a receiver follows them: range by RPN 0,0, two semitones until then."""
    reach, parameter, found = 2, [127, 127], []
    for when, message in rows(track, "control_change", "pitchwheel"):
        if message.type == "pitchwheel":
            found.append((when, message.pitch / 8192 * reach))
        elif message.control in (100, 101):
            parameter[101 - message.control] = message.value
        elif message.control == 6 and parameter == [0, 0]:
            reach = message.value
    return found


@pytest.mark.parametrize("top", [1.0, 2.0, 3.5, 12.0])
def test_bends_come_back_as_semitones(top: float) -> None:
    bends = {0: [(0.0, 0.0), (0.25, top / 2), (0.5, top)], 1: [(0.0, 0.0)]}
    file = smf_of(piece_of_take(take(layers=(layer(1, [(0, 1, 40), (2, 1, 40)], bends),), passes=1)))
    found = curve(file.tracks[2])
    assert [when for when, _ in found] == [240, 480, 1920]
    assert [semitones for _, semitones in found] == pytest.approx([top / 2, top, 0.0], abs=0.0005 * top)
    assert bool(rows(file.tracks[2], "control_change")) == (top > 2)


def test_bends_of_notes_that_overlap_come_in_order_of_time() -> None:
    events = [
        note(0, 40), (0.125, 0, 0, b"\xe0\x00\x50"), note(0.25, 45), (0.375, 0, 0, b"\xe0\x00\x60"), (0.625, 0, 0, b"\xe0\x00\x40"),
    ]  # fmt: skip
    found = curve(smf_of(piece_of_take(take(events))).tracks[1])
    assert found == [(120, 0.5), (360, 1.0), (600, 0.0)]


def test_a_bend_stands_before_the_note_it_is_for() -> None:
    bends = {0: [(0.0, 1.0)]}
    track = smf_of(piece_of_take(take(layers=(layer(1, [(0, 1, 40)], bends),), passes=1))).tracks[2]
    kinds = [message.type for message in track if message.time == 0]
    assert kinds.index("pitchwheel") < kinds.index("note_on")


# ---- imported files -----------------------------------------------------------------------------------------------------------


def test_an_imported_file_keeps_meters_tempi_tracks_and_sounds(tmp_path: Path) -> None:
    file = mido.MidiFile(type=1, ticks_per_beat=480)
    meta = mido.MetaMessage
    file.tracks.append(
        mido.MidiTrack(
            [
                meta("time_signature", numerator=3, denominator=4), meta("key_signature", key="Ebm"),
                meta("set_tempo", tempo=400_000), meta("time_signature", numerator=7, denominator=8, time=3 * 480),
                meta("set_tempo", tempo=700_000, time=480),
            ]
        )
    )  # fmt: skip
    for channel, pitch, program in ((3, 40, 32), (3, 40, 38)):
        file.tracks.append(
            mido.MidiTrack(
                [
                    mido.Message("program_change", channel=channel, program=program),
                    mido.Message("note_on", channel=channel, note=pitch, velocity=70, time=700),
                    mido.Message("note_off", channel=channel, note=pitch, time=960),
                ]
            )
        )
    file.save(tmp_path / "in.mid")
    write_smf(tmp_path / "out.mid", piece_of_take(take_of_file(tmp_path / "in.mid")))
    back = mido.MidiFile(tmp_path / "out.mid")
    conductor = back.tracks[0]
    assert [(t, m.tempo) for t, m in rows(conductor, "set_tempo")] == [(0, 400_000), (4 * TICKS, 700_000)]
    assert [(t, m.numerator, m.denominator) for t, m in rows(conductor, "time_signature")] == [
        (0, 3, 4),
        (3 * TICKS, 7, 8),
    ]
    assert [m.key for _, m in rows(conductor, "key_signature")] == ["Ebm"]
    assert names(back)[1:] == ["as played, track 2", "as played, track 3"]
    for track, program in zip(back.tracks[1:], (32, 38), strict=True):
        assert onsets(track) == [(1400, 40)]
        assert [when for when, _ in rows(track, "note_off")] == [3320]
        assert [(m.channel, m.program) for _, m in rows(track, "program_change")] == [(3, program)]


# ---- writing ------------------------------------------------------------------------------------------------------------------


def small_piece(notes: int = 1) -> Piece:
    place = np.arange(notes, dtype=float)
    whole = np.full(notes, 40)
    track = PieceTrack("a", place, place * 0 + 0.5, whole, whole, whole * 0, (np.zeros((1, 2)),) * notes)
    return Piece("p", ((0.0, 120.0),), (), None, (track,), float(notes))


def test_a_file_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "out.mid"
    write_smf(path, small_piece())
    before = path.read_bytes()
    with pytest.raises(RuntimeError), whole_file(path) as out:
        out.write(b"half of it")
        raise RuntimeError
    assert path.read_bytes() == before
    assert os.listdir(tmp_path) == ["out.mid"]
    umask = os.umask(0)
    os.umask(umask)
    assert path.stat().st_mode & 0o777 == 0o666 & ~umask


@pytest.mark.skipif(not hasattr(resource, "RLIMIT_FSIZE"), reason="no limit on the size of files here")
def test_a_full_disk_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "out.mid"
    write_smf(path, small_piece())
    before = path.read_bytes()
    code = (
        "import resource, sys; from tests.unit.test_smf_write import small_piece, write_smf\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))\n"
        "try: write_smf(sys.argv[1], small_piece(10_000))\n"
        "except OSError as error: print(error.filename)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], check=False, cwd=ROOT, capture_output=True, text=True, timeout=60
    )
    assert (done.stdout.strip(), done.stderr) == (str(path), "")
    assert path.read_bytes() == before
    assert os.listdir(tmp_path) == ["out.mid"]


def test_a_disk_that_is_full_says_so_in_one_sentence(tmp_path: Path) -> None:
    """A file system of 64 KB, really full; needs the right to mount one."""
    disk = tmp_path / "disk"
    disk.mkdir()
    if subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", disk], check=False, capture_output=True
    ).returncode:
        pytest.skip("no right to mount a small disk here")
    try:
        take_file = tmp_path / "long.mid"
        write_smf(take_file, small_piece(20_000))
        command = [sys.executable, "-m", "loopdeck", "quantize", str(take_file), "-o", str(disk / "out.mid")]
        done = subprocess.run(command, check=False, cwd=ROOT, capture_output=True, text=True, timeout=60)
        assert done.returncode == 2
        assert done.stderr == f"loopdeck: {disk}/out.mid: No space left on device.\n"
        assert os.listdir(disk) == []
    finally:
        subprocess.run(["umount", disk], check=True)


def test_a_device_is_written_to_and_stays_one(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = subprocess.Popen(["cat", pipe], stdout=subprocess.PIPE)
    write_smf(pipe, small_piece())
    assert reader.communicate(timeout=10)[0][:4] == b"MThd"
    assert pipe.is_fifo()
    if Path("/dev/full").exists():
        with pytest.raises(OSError, match="No space"):
            write_smf("/dev/full", small_piece())


@pytest.mark.parametrize("where", ["", "nowhere/out.mid"])
def test_where_nothing_can_be_written(tmp_path: Path, where: str) -> None:
    with pytest.raises(OSError) as error:
        write_smf(tmp_path / where, small_piece())
    assert str(error.value.filename) == str(tmp_path / where)
