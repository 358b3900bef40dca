"""Reading Standard MIDI Files: what well-formed ones mean, and that no file whatever does worse
than one sentence.

The corpus of broken files is made here: a good file of each format with every byte changed, cut at
every place, and written wrong on purpose in each of the ways that ``capture/smf_read.py`` forgives
or refuses.
"""

import os
import struct
import time
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.capture import smf_read
from loopdeck.capture.bulk_pairing import pair
from loopdeck.capture.smf_read import MAX_FILE, SmfRecording, parse_smf, read_smf
from loopdeck.capture.smf_track import MAX_EVENTS, read_quantity
from loopdeck.errors import UserError

END = b"\x00\xff\x2f\x00"


def quantity(value: int) -> bytes:
    """A variable-length quantity."""
    data = bytes((value & 0x7F,))
    while value := value >> 7:
        data = bytes((0x80 | value & 0x7F,)) + data
    return data


def meta(delta: int, kind: int, data: bytes) -> bytes:
    return quantity(delta) + bytes((0xFF, kind)) + quantity(len(data)) + data


def tempo(delta: int, microseconds: int) -> bytes:
    return meta(delta, 0x51, microseconds.to_bytes(3, "big"))


def chunk(kind: bytes, data: bytes) -> bytes:
    return kind + struct.pack(">I", len(data)) + data


def smf(*tracks: bytes, kind: int = 1, division: int = 96, announced: int | None = None, ended: bool = True) -> bytes:
    header = struct.pack(">HHH", kind, len(tracks) if announced is None else announced, division)
    return chunk(b"MThd", header) + b"".join(chunk(b"MTrk", track + (END if ended else b"")) for track in tracks)


def read(*tracks: bytes, kind: int = 1, division: int = 96) -> SmfRecording:
    return parse_smf(smf(*tracks, kind=kind, division=division), "riff.mid")


def refused(data: bytes) -> str:
    """The sentence that these bytes end in."""
    with pytest.raises(UserError) as error:
        parse_smf(data, "riff.mid")
    text = str(error.value)
    assert "riff.mid" in text
    assert text.endswith(".")
    assert "\n" not in text
    assert len(text) < 250
    return text


NOTE = b"\x00\x90\x28\x5a\x60\x80\x28\x40"


# ---- what files mean -----------------------------------------------------------------------------


def test_a_note_at_the_default_tempo() -> None:
    found = read(NOTE)
    assert [(event.time_sec, event.port, event.data.hex(" ")) for event in found.events] == [
        (0.0, 0, "90 28 5a"),
        (0.5, 0, "80 28 40"),
    ]
    assert found.tempo_map == ((0.0, 0.0, 120.0),)
    assert (found.meters, found.key, found.track_names, found.ticks_per_quarter) == ((), None, ("",), 96)
    assert (found.end_sec, found.remarks) == (0.5, ())


def test_tracks_are_ports_and_merge_in_order_of_time() -> None:
    found = read(b"\x10\x90\x28\x5a\x10\x28\x00", b"\x10\x90\x28\x5a\x00\x2b\x5a\x08\x28\x00\x00\x2b\x00")
    assert [(event.port, event.data[1]) for event in found.events] == [
        (0, 40),
        (1, 40),
        (1, 43),
        (1, 40),
        (1, 43),
        (0, 40),
    ]
    notes = pair(found.events).array
    assert notes["duration_sec"].tolist() == pytest.approx([16 / 192, 8 / 192, 8 / 192])


def test_running_status_goes_on_after_meta_and_exclusive_events() -> None:
    body = b"\x00\x90\x28\x5a" + meta(0, 0x01, b"text") + b"\x10\x28\x00\x00\xf0\x02\x01\xf7\x10\x28\x5a\x10\x28\x00"
    found = read(body)
    assert [event.data.hex(" ") for event in found.events] == ["90 28 5a", "90 28 00", "90 28 5a", "90 28 00"]


def test_tempo_changes_move_seconds_and_convert_both_ways() -> None:
    found = read(tempo(0, 600_000) + tempo(192, 300_000) + tempo(96, 1_000_000), b"\x83\x00\x90\x28\x5a\x60\x28\x00")
    assert found.tempo_map == ((0.0, 0.0, 100.0), (1.2, 2.0, 200.0), (1.5, 3.0, 60.0))
    assert [event.time_sec for event in found.events] == pytest.approx([2.5, 3.5])
    quarters = np.array([[-1.0, 0.0, 1.0], [2.5, 3.0, 10.0]])
    assert found.seconds(quarters) == pytest.approx(np.array([[-0.6, 0.0, 0.6], [1.35, 1.5, 8.5]]))
    assert found.quarters(found.seconds(quarters)) == pytest.approx(quarters)
    assert float(found.seconds(4)) == pytest.approx(2.5)


def test_the_last_of_several_tempos_at_one_place_counts_and_the_same_one_again_is_none() -> None:
    found = read(tempo(0, 600_000) + tempo(0, 300_000) + tempo(96, 300_000))
    assert found.tempo_map == ((0.0, 0.0, 200.0),)


def test_meters_keep_their_exact_places() -> None:
    body = (
        meta(0, 0x58, bytes((4, 2, 24, 8)))
        + meta(384, 0x58, bytes((7, 3, 24, 8)))
        + meta(336, 0x58, bytes((7, 3, 1, 8)))
    )
    found = read(body + meta(1, 0x58, bytes((6, 3))))
    assert [(quarter, str(meter)) for quarter, meter in found.meters] == [
        (Fraction(0), "4/4"),
        (Fraction(4), "7/8"),
        (Fraction(15, 2) + Fraction(1, 96), "6/8"),
    ]
    assert found.meters[1][1].groups == (4, 3)


@pytest.mark.parametrize("written", [(0, 2), (4, 200), (4, 6), (65, 2), (255, 255)])
def test_an_absurd_time_signature_is_ignored_with_a_reason(written: tuple[int, int]) -> None:
    found = read(meta(0, 0x58, bytes((3, 2, 24, 8))) + meta(96, 0x58, bytes((*written, 24, 8))) + NOTE)
    assert [str(meter) for _, meter in found.meters] == ["3/4"]
    assert len(found.remarks) == 1
    assert "time signature" in found.remarks[0]
    assert len(found.remarks[0]) < 120
    assert len(found.events) == 2


def test_key_signature_and_names() -> None:
    names = [meta(0, 0x03, "Ground ♭".encode()), meta(0, 0x03, b"Sl\xe4p\x1b[31m\x00"), NOTE]
    found = read(names[0] + meta(0, 0x59, b"\xfd\x01"), names[1] + meta(0, 0x59, b"\x02\x00"), names[2])
    assert found.key == (-3, True)
    assert found.track_names == ("Ground ♭", "Släp[31m", "")


def test_tempos_and_keys_that_mean_nothing_are_ignored_with_a_reason() -> None:
    found = read(tempo(0, 0) + meta(0, 0x51, b"\x01") + meta(0, 0x59, b"\x0c\x00") + meta(0, 0x58, b"") + NOTE)
    assert (found.tempo_map, found.key, found.meters) == (((0.0, 0.0, 120.0),), None, ())
    assert not found.names_tempo
    assert len(found.remarks) == 4


def test_the_patterns_of_a_format_2_file_follow_one_another() -> None:
    found = read(tempo(0, 1_000_000) + NOTE, NOTE, meta(0, 0x58, b"\x03\x02") + tempo(0, 250_000) + NOTE, kind=2)
    assert [event.port for event in found.events] == [0, 0, 1, 1, 2, 2]
    assert [event.time_sec for event in found.events] == pytest.approx([0.0, 1.0, 1.0, 1.5, 1.5, 1.75])
    assert [qpm for _, _, qpm in found.tempo_map] == [60.0, 120.0, 240.0]
    assert [(quarter, str(meter)) for quarter, meter in found.meters] == [(Fraction(2), "3/4")]
    # A pattern without length hands no tempo on either.
    assert [event.time_sec for event in read(tempo(0, 1_000_000), NOTE, kind=2).events] == [0.0, 0.5]


@pytest.mark.parametrize(("frames", "a_second"), [(24, 24.0), (25, 25.0), (29, 30_000 / 1001), (30, 30.0)])
def test_a_file_that_counts_in_frames(frames: int, a_second: float) -> None:
    division = (256 - frames) << 8 | 40
    body = tempo(0, 600_000) + meta(int(40 * frames), 0x58, b"\x04\x02") + tempo(0, 300_000) + NOTE
    found = read(body, division=division)
    start = 40 * frames / (40 * a_second)
    assert [event.time_sec for event in found.events] == pytest.approx([start, start + 96 / (40 * a_second)])
    assert found.tempo_map[1] == pytest.approx((start, start / 0.6, 200.0))
    assert float(found.meters[0][0]) == pytest.approx(start / 0.6, abs=1e-3)
    assert found.quarters(found.seconds([0.5, 3.0])) == pytest.approx([0.5, 3.0])


# ---- what is forgiven ----------------------------------------------------------------------------


def test_data_above_127_is_clipped_and_said() -> None:
    found = read(b"\x00\x90\x28\xff\x60\x80\xa0\x40")
    assert [event.data.hex(" ") for event in found.events] == ["90 28 7f", "80 7f 40"]
    assert "2 messages" in found.remarks[0]


def test_a_track_without_end_mark_is_read_and_said() -> None:
    found = parse_smf(smf(NOTE, ended=False), "riff.mid")
    assert len(found.events) == 2
    assert "no end mark" in found.remarks[0]


def test_what_stands_after_the_end_mark_is_not_read() -> None:
    assert len(read(NOTE + END + NOTE).events) == 2


def test_longer_headers_unknown_chunks_more_tracks_and_trailing_bytes() -> None:
    plain = smf(NOTE)
    longer = b"MThd" + struct.pack(">I", 9) + plain[8:14] + b"xyz" + plain[14:]
    assert parse_smf(longer, "a").events == parse_smf(plain, "a").events
    strange = plain[:14] + chunk(b"XFIH", bytes(33)) + plain[14:] + chunk(b"odd!", b"")
    assert parse_smf(strange, "a").events == parse_smf(plain, "a").events
    for rest in (b"\0", b"\0" * 7, b"\0" * 7 + b"\1" * 9, b"MTr", b"some words at the end"):
        assert parse_smf(plain + rest, "a").events == parse_smf(plain, "a").events
    more = parse_smf(smf(NOTE, NOTE, announced=1), "a")
    assert len(more.events) == 4
    assert "announces 1" in more.remarks[0]


# ---- what is refused -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b"RIFF\0\0\0\0RMID", "not a Standard MIDI File"),
        (b"MThd\0\0", "breaks off inside its header"),
        (smf(NOTE, kind=3), "format 3"),
        (smf(NOTE, kind=0xFFFF), "format 65535"),
        (smf(NOTE, division=0), "0 ticks a quarter"),
        (smf(NOTE, division=0xE700), "0 parts of 25 frames"),
        (smf(NOTE, division=0x8028), "128 frames"),
        (b"MThd" + struct.pack(">IHHH", 5, 0, 1, 96) + smf(NOTE)[14:], "header has 5 bytes"),
        (b"MThd" + struct.pack(">IHHH", 0xFFFFFFFF, 0, 1, 96) + smf(NOTE)[14:], "4,294,967,295"),
        (smf(), "without any track"),
        (smf(NOTE)[:14], "without any track"),
        (smf(NOTE, announced=2), "announces 2 tracks and has 1"),
        (smf(NOTE)[:-1], "is cut off"),
        (smf(b"\x00\x28\x5a"), "0x28 at offset 23, where a status byte is due"),
        (smf(b"\x00\xf8"), "0xf8 at offset 23, which has no business"),
        (smf(b"\x00\xf1\x00"), "0xf1"),
        (smf(b"\xff\xff\xff\xff\x7f\x90\x28\x5a"), "more than four bytes at offset 22"),
        (smf(b"\x00\xf0\xff\xff\xff\x7f\x01"), "middle of an event"),
        (smf(b"\x00\xff\x51\xff\xff\xff\xff\x7f"), "more than four bytes"),
        (smf(b"\x00\x90\x28", ended=False), "middle of an event"),
        (smf(b"\x00\x90", ended=False), "middle of an event"),
        (smf(b"\x00\xff", ended=False), "middle of an event"),
        (smf(b"\x00", ended=False), "middle of an event"),
        (smf(b"\x81", ended=False), "middle of an event"),
        (smf(b"\xff\xff\xff\x7f\x90\x28\x5a" * 99), "lasts"),
        (smf(tempo(0, 1) + b"\xff\xff\xff\x7f\x90\x28\x5a" * 99, division=1), "lasts"),
    ],
)
def test_broken_files_get_one_sentence(data: bytes, words: str) -> None:
    assert words in refused(data)


def test_the_quantitys_own_errors() -> None:
    with pytest.raises(ValueError):
        read_quantity(b"\x81\x80", 0, 2)
    with pytest.raises(OverflowError):
        read_quantity(b"\x81\x80\x80\x80\x00", 0, 5)


def test_huge_files_are_refused_in_a_moment() -> None:
    """Each of these once took tens of seconds or a gigabyte on the way; seconds are generous for a
    busy machine.
    """
    changes = b"\x01\xff\x51\x03\x01\x02\x03\x01\xff\x58\x02\x03\x02\x01\xff\x58\x02\x04\x02"
    hostile = {
        "1,000,000 events": smf(b"\x00\xc0\x21" + b"\x01\x21" * (MAX_EVENTS + 1)),
        "changes of tempo": smf(changes * 100_000),
        "4,096 tracks": smf(*[b""] * 5000, announced=1, ended=False),
    }
    for words, data in hostile.items():
        begin = time.process_time()
        assert words in refused(data)
        assert time.process_time() - begin < 30.0


def test_remarks_are_few_however_much_is_wrong() -> None:
    found = read(tempo(0, 0) * 1000 + meta(0, 0x59, b"\x63\x00") * 1000)
    assert len(found.remarks) == smf_read.MAX_REMARKS


def test_files_on_disk(tmp_path: Path) -> None:
    path = tmp_path / "riff.mid"
    path.write_bytes(smf(NOTE))
    assert read_smf(path) == parse_smf(smf(NOTE), "riff.mid")
    assert read_smf(str(path)) == read_smf(path)
    with pytest.raises(UserError, match="is a folder"):
        read_smf(tmp_path)
    with pytest.raises(FileNotFoundError):
        read_smf(tmp_path / "nowhere.mid")
    with open(path, "r+b") as file:
        file.truncate(MAX_FILE + 1)
    with pytest.raises(UserError, match=f"{MAX_FILE + 1:,} bytes"):
        read_smf(path)
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe.mid")
        with pytest.raises(UserError, match="a device or a pipe"):
            read_smf(tmp_path / "pipe.mid")


# ---- any file ------------------------------------------------------------------------------------

FULL = (
    meta(0, 0x03, b"Ground")
    + tempo(0, 625_000)
    + meta(0, 0x58, bytes((4, 2, 24, 8)))
    + meta(0, 0x59, b"\xfe\x01")
    + b"\x00\xc0\x21\x00\xf0\x03\x7e\x01\xf7\x00\xb0\x65\x00\x00\x64\x00\x00\x06\x0c\x00\xe0\x00\x50"
    + NOTE
    + b"\x00\x90\x2b\x40\x81\x40\x2b\x00"
    + meta(0, 0x7F, bytes(3))
    + b"\x00\xf7\x01\xf8"
)
GOOD = [smf(FULL, kind=0), smf(FULL, NOTE, FULL, kind=1, division=960), smf(FULL, NOTE, kind=2, division=0xE728)]


def sane(data: bytes) -> bool:
    """Reads, or is refused in a sentence; whatever is read keeps the rules. Returns whether it was
    read.
    """
    try:
        found = parse_smf(data, "riff.mid")
    except UserError as error:
        assert str(error).endswith(".")
        assert len(str(error)) < 250
        return False
    times = [event.time_sec for event in found.events]
    assert times == sorted(times)
    assert not times or 0.0 <= times[0] <= times[-1] <= found.end_sec * (1 + 1e-12)
    for event in found.events:
        assert 0x80 <= event.data[0] < 0xF0
        assert max(event.data[1:]) < 0x80
        assert 0 <= event.port < len(found.track_names)
    assert found.tempo_map[0][:2] == (0.0, 0.0)
    assert np.all(np.diff(np.array(found.tempo_map)[:, :2], axis=0) > 0.0)
    assert np.all(np.isfinite(found.tempo_map))
    assert len(found.remarks) <= smf_read.MAX_REMARKS
    return True


@pytest.mark.parametrize("data", GOOD)
def test_good_files_are_read_without_remarks(data: bytes) -> None:
    assert sane(data)
    assert parse_smf(data, "riff.mid").remarks == ()


@pytest.mark.parametrize("data", GOOD)
def test_a_good_file_cut_anywhere_gets_a_sentence(data: bytes) -> None:
    for length in range(len(data)):
        refused(data[:length])


@pytest.mark.parametrize("data", GOOD)
def test_a_good_file_with_any_byte_changed_does_no_harm(data: bytes) -> None:
    outcomes = {
        sane(data[:place] + bytes((value,)) + data[place + 1 :])
        for place in range(len(data))
        for value in {0, 1, 0x7F, 0x80, 0xF0, 0xFF, data[place] ^ 1, data[place] ^ 0x80}
    }
    assert outcomes == {True, False}


@given(st.binary(max_size=200))
def test_any_bytes_as_a_track_do_no_harm(body: bytes) -> None:
    sane(smf(body))
    sane(smf(body, ended=False, kind=2))


@given(st.binary(max_size=100))
def test_any_bytes_as_a_file_do_no_harm(data: bytes) -> None:
    sane(data)
    sane(b"MThd" + data)
    sane(smf(NOTE)[:14] + data)


@given(st.integers(0, 2), st.binary(min_size=2, max_size=2), st.lists(st.integers(0, 0x0FFFFFFF), max_size=20))
def test_any_division_and_deltas_do_no_harm(kind: int, division: bytes, deltas: list[int]) -> None:
    body = b"".join(quantity(delta) + b"\x90\x28\x5a" + tempo(delta, delta & 0xFFFFFF) for delta in deltas)
    sane(smf(body, NOTE, kind=kind, division=int.from_bytes(division, "big")))
