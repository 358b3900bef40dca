"""Pieces laid out, and the bytes of our Standard MIDI Files: order within a tick, ranges, muted
layers, whole files or none.
"""

import errno
import os
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import mido
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.atomic import whole_file
from loopdeck.capture.bulk_pairing import pair
from loopdeck.capture.events import Event
from loopdeck.capture.smf_read import parse_smf, read_smf
from loopdeck.errors import UserError
from loopdeck.export.piece import PieceTrack, piece_of_take, unhindered
from loopdeck.export.smf import TICKS, smf_of, write_smf
from loopdeck.looper.transport import Anchor
from loopdeck.shelf.take import take_of_file
from tests.unit import shelf_tools as tools


def track_of(notes: list[tuple[float, float, int, int]]) -> PieceTrack:
    """A track of (onset, duration, pitch, channel)."""
    table = np.array(notes, float).reshape(-1, 4)
    whole = table.astype(np.int64)
    straight = tuple(np.zeros((1, 2)) for _ in notes)
    return PieceTrack("t", table[:, 0], table[:, 1], whole[:, 2], np.full(len(notes), 90), whole[:, 3], straight)


def messages(track: mido.MidiTrack) -> list[tuple[int, str, tuple[int, ...]]]:
    """(tick, type, bytes of a channel message) of a track."""
    now, found = 0, []
    for message in track:
        now += message.time
        found.append((now, message.type, () if message.is_meta else tuple(message.bytes())))
    return found


@given(
    st.lists(
        st.tuples(st.integers(0, 40).map(lambda n: n / 8), st.floats(0, 6), st.integers(40, 42), st.integers(0, 1)),
        max_size=20,
    )
)
def test_unhindered(notes: list[tuple[float, float, int, int]]) -> None:
    track = track_of(sorted(notes))
    free = unhindered(track)
    assert free.onset_q.tolist() == track.onset_q.tolist()
    for row in range(len(notes)):
        own = [
            other
            for other in range(len(notes))
            if (track.pitch[other], track.channel[other]) == (track.pitch[row], track.channel[row])
        ]
        together = [other for other in own if track.onset_q[other] == track.onset_q[row]]
        later = [track.onset_q[other] for other in own if track.onset_q[other] > track.onset_q[row]]
        longest = track.duration_q[together].max()
        room = min(later) - track.onset_q[row] if later else np.inf
        assert free.duration_q[row] == min(longest, room)


def test_what_comes_first_within_a_tick(tmp_path: Path) -> None:
    """The program before the note, the off before the on, the bend between them; each track ends
    with the piece.
    """
    layer = tools.layer(1, [(0.0, 1.0, 33), (1.0, 1.0, 33)], {1: [(0.0, 1.0), (0.5, 0.0)]}, program=35)
    file = smf_of(piece_of_take(tools.small_take().changed(layers=(layer,), events=(), passes=1)))
    _, _, own = file.tracks
    assert messages(own) == [
        (0, "track_name", ()),
        (0, "program_change", (0xC1, 34)),
        (0, "note_on", (0x91, 33, 90)),
        (960, "note_off", (0x81, 33, 64)),
        (960, "pitchwheel", (0xE1, 0, 96)),
        (960, "note_on", (0x91, 33, 90)),
        (1440, "pitchwheel", (0xE1, 0, 64)),
        (1920, "note_off", (0x81, 33, 64)),
        (3840, "end_of_track", ()),
    ]
    assert {messages(track)[-1][0] for track in file.tracks} == {3840}


def test_a_muted_layer_is_there_and_silent() -> None:
    take = tools.small_take().changed(layers=(tools.layer(1, [(0.0, 1.0, 33)]), tools.layer(2, [(0.0, 1.0, 35)])),
        muted=frozenset({2}), passes=1,
    )  # fmt: skip
    file = smf_of(piece_of_take(take))
    volumes = {
        track.name: [row[2] for row in messages(track) if row[2][:1] and row[2][0] & 0xF0 == 0xB0]
        for track in file.tracks
    }
    assert volumes["layer 1"] == []
    assert volumes["layer 2, muted"] == [(0xB2, 7, 0)]
    assert sum(message.type == "note_on" for message in file.tracks[3]) == 1


def test_the_shortest_note_has_a_tick_and_velocities_stay_in_range() -> None:
    layer = tools.layer(1, [(0.0, 0.0, 33), (1.0, 1e-9, 34)])
    layer.notes["velocity"] = [0, 300]
    file = smf_of(piece_of_take(tools.small_take().changed(layers=(layer,), events=(), passes=1)))
    notes = [row for row in messages(file.tracks[2]) if row[1].startswith("note")]
    assert [row[0] for row in notes] == [0, 1, 960, 961]
    assert [row[2][2] for row in notes if row[1] == "note_on"] == [1, 127]


def test_bends_beyond_the_widest_range_are_cut() -> None:
    layer = tools.layer(1, [(0.0, 1.0, 33)], {0: [(0.0, 120.0), (0.5, -96.0)]})
    file = smf_of(piece_of_take(tools.small_take().changed(layers=(layer,), events=(), passes=1)))
    rows = [row[2] for row in messages(file.tracks[2])]
    assert (0xB1, 6, 96) in rows
    assert [row for row in rows if row and row[0] == 0xE1] == [(0xE1, 127, 127), (0xE1, 0, 0)]


def test_a_silent_take_is_a_file_of_its_length() -> None:
    take = tools.small_take(cycle="4/4 4+3/8").changed(events=(), layers=())
    file = smf_of(piece_of_take(take))
    assert [messages(track)[-1][0] for track in file.tracks] == [15 * TICKS] * 2


def test_slow_and_fast_tempi_fit_into_three_bytes() -> None:
    points = (Anchor(0.0, 0.0, 1.0), Anchor(60.0, 1.0, 400.0))
    file = smf_of(piece_of_take(tools.small_take().changed(tempo_map=points, layers=())))
    assert [one.tempo for one in file.tracks[0] if one.type == "set_tempo"] == [0xFFFFFF, 150_000]


def test_the_inputs_are_tracks_with_their_own_sounds() -> None:
    take = tools.small_take().changed(
        events=(
            Event(0.0, 0, b"\xc0\x20"), tools.note_on(0.1, 40), tools.note_off(0.4, 40),
            tools.note_on(0.2, 40, port=2), tools.note_off(0.3, 40, port=2),
        ),
        layers=(),
    )  # fmt: skip
    file = smf_of(piece_of_take(take))
    assert [track.name for track in file.tracks[1:]] == ["as played, input 1", "as played, input 3"]
    programs = [[one.program for one in track if one.type == "program_change"] for track in file.tracks[1:]]
    assert programs == [[0x20], [33]]


def test_latency_is_taken_off() -> None:
    take = tools.small_take().changed(events=(tools.note_on(0.51, 40), tools.note_off(0.76, 40)), late={0: 0.01})
    track = piece_of_take(take).tracks[0]
    assert np.allclose([track.onset_q[0], track.duration_q[0]], [1.0, 0.5])


def test_words_and_names_of_any_language(tmp_path: Path) -> None:
    take = replace(tools.small_take("Größe 低音"), note="two\nlines → here")
    write_smf(tmp_path / "a.mid", piece_of_take(take))
    data = (tmp_path / "a.mid").read_bytes()
    assert "Größe 低音".encode() in data
    assert "two lines → here".encode() in data
    assert read_smf(tmp_path / "a.mid").track_names[0] == "Größe 低音"


def test_an_imported_file_goes_out_as_it_came_in(tmp_path: Path) -> None:
    """Meters with a change that no cycle repeats, a key, two tempi, two tracks."""
    take = tools.small_take().changed(
        meters=((Fraction(0), tools.imported_meters()[0][1]), (Fraction(6), tools.imported_meters()[1][1])),
        key=(3, True), tempo_map=(Anchor(0.0, 0.0, 120.0), Anchor(1.5, 3.0, 90.0)), layers=(), end_sec=6.0,
    )  # fmt: skip
    write_smf(tmp_path / "a.mid", piece_of_take(take))
    first = take_of_file(tmp_path / "a.mid")
    write_smf(tmp_path / "b.mid", piece_of_take(first))
    again = take_of_file(tmp_path / "b.mid")
    assert first.recording.key == again.recording.key == (3, True)
    assert [(quarter, meter.numerator, meter.unit) for quarter, meter in first.recording.meters] == [
        (0, 3, 4),
        (6, 7, 8),
    ]
    assert first.recording.meters == again.recording.meters
    assert first.recording.tempo_map == again.recording.tempo_map
    assert first.notes().array.tolist() == again.notes().array.tolist()
    assert np.abs(first.notes().array["onset_sec"] - take.notes().array["onset_sec"]).max() < 1 / TICKS


def test_our_reader_reads_what_we_write(tmp_path: Path) -> None:
    curve = [(0.0, 0.0), (0.25, 3.0), (0.75, -1.0)]
    take = tools.small_take().changed(layers=(tools.layer(1, [(0.0, 1.0, 33)], {0: curve}),), events=(), passes=1)
    write_smf(tmp_path / "a.mid", piece_of_take(take))
    found = parse_smf((tmp_path / "a.mid").read_bytes(), "a.mid")
    notes = pair(found.events, found.end_sec)
    assert notes.array["pitch"].tolist() == [33]
    assert np.allclose(notes.bends[0], [(sec / 2, bend) for sec, bend in curve], atol=1e-3)


# ---- whole files ---------------------------------------------------------------------------------


def test_a_file_appears_when_it_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "out"
    with whole_file(path) as file:
        file.write(b"half")
        assert not path.exists()
    assert path.read_bytes() == b"half"
    umask = os.umask(0)
    os.umask(umask)
    assert path.stat().st_mode & 0o777 == 0o666 & ~umask


@pytest.mark.parametrize(
    "error", [OSError(errno.ENOSPC, "No space left on device"), ValueError("ours"), KeyboardInterrupt()]
)
def test_a_failure_leaves_the_old_file_and_nothing_else(tmp_path: Path, error: BaseException) -> None:
    path = tmp_path / "out"
    path.write_bytes(b"old")
    with pytest.raises(type(error)) as raised, whole_file(path) as file:
        file.write(b"new")
        raise error
    assert [one.name for one in tmp_path.iterdir()] == ["out"]
    assert path.read_bytes() == b"old"
    if isinstance(raised.value, OSError):
        assert raised.value.filename == str(path)


def test_what_could_not_be_read_again_is_not_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = tmp_path / "big.mid"
    out.write_bytes(b"mine")
    monkeypatch.setattr("loopdeck.export.smf.MAX_FILE", 100)
    with pytest.raises(UserError, match="loopdeck reads Standard MIDI Files of at most 100"):
        write_smf(out, piece_of_take(tools.small_take()))
    monkeypatch.setattr("loopdeck.export.smf.MAX_EVENTS", 2)
    with pytest.raises(UserError, match="are the most that can be read again"):
        write_smf(out, piece_of_take(tools.small_take()))
    assert out.read_bytes() == b"mine" and [path.name for path in tmp_path.iterdir()] == ["big.mid"]
