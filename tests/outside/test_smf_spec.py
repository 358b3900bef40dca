"""Our reader against the standard's own figures and against mido's reader.

Sources
    The table of variable-length quantities and the worked example of a format 0 file: Standard MIDI
    Files 1.0 (RP-001), written down from memory. mido's reader is by other people, and shares no
    code with ours.
"""

import io
from fractions import Fraction
from typing import Any

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.capture.bulk_pairing import pair
from loopdeck.capture.smf_read import parse_smf
from loopdeck.capture.smf_track import read_quantity

#: From memory.
QUANTITIES = {
    0x00000000: "00",
    0x00000040: "40",
    0x0000007F: "7F",
    0x00000080: "81 00",
    0x00002000: "C0 00",
    0x00003FFF: "FF 7F",
    0x00004000: "81 80 00",
    0x00100000: "C0 80 00",
    0x001FFFFF: "FF FF 7F",
    0x00200000: "81 80 80 00",
    0x0FFFFFFF: "FF FF FF 7F",
}

#: From memory; it parses, and its length field agrees.
EXAMPLE = bytes.fromhex(
    "4D546864 00000006 0000 0001 0060 4D54726B 0000003B 00FF580404021808 00FF510307A120 00C005 00C12E 00C246 00923060"
    "003C60 60914340 60904C20 8140823040 003C40 00814340 00804C40 00FF2F00"
)


@pytest.mark.parametrize(("value", "written"), QUANTITIES.items())
def test_variable_length_quantities(value: int, written: str) -> None:
    data = bytes.fromhex(written)
    assert read_quantity(data, 0, len(data)) == (value, len(data))
    assert read_quantity(b"\x55" + data + b"\xff", 1, len(data) + 2) == (value, len(data) + 1)


def test_the_worked_example() -> None:
    found = parse_smf(EXAMPLE, "example.mid")
    assert found.tempo_map == ((0.0, 0.0, 120.0),)
    assert [(quarter, str(meter)) for quarter, meter in found.meters] == [(Fraction(0), "4/4")]
    assert (found.ticks_per_quarter, found.end_sec, found.remarks) == (96, 2.0, ())
    programs = {event.data[0] & 15: event.data[1] for event in found.events if event.data[0] & 0xF0 == 0xC0}
    assert programs == {0: 5, 1: 46, 2: 70}
    notes = pair(found.events, found.end_sec).array
    # Channel 3 holds two notes through the bar, channel 2 comes in on the second quarter, channel 1
    # on the third.
    assert notes[["onset_sec", "duration_sec", "pitch", "velocity", "channel"]].tolist() == [
        (0.0, 2.0, 48, 96, 2),
        (0.0, 2.0, 60, 96, 2),
        (0.5, 1.5, 67, 64, 1),
        (1.0, 1.0, 76, 32, 0),
    ]


def test_mido_reads_the_example_the_same() -> None:
    assert [event.data for event in parse_smf(EXAMPLE, "example.mid").events] == [
        data for _, data in mido_events(EXAMPLE)
    ]


def mido_events(data: bytes) -> list[tuple[float, bytes]]:
    """(second, message) of the channel messages, as mido plays them."""
    events, now = [], 0.0
    for message in mido.MidiFile(file=io.BytesIO(data)):
        now += message.time
        if not message.is_meta and message.type != "sysex":
            events.append((now, bytes(message.bytes())))
    return events


DATA = st.integers(0, 127)
MESSAGES: Any = st.one_of(
    st.builds(lambda c, n, v: mido.Message("note_on", channel=c, note=n, velocity=v), st.integers(0, 15), DATA, DATA),
    st.builds(lambda c, n: mido.Message("note_off", channel=c, note=n), st.integers(0, 15), DATA),
    st.builds(lambda p: mido.Message("program_change", program=p), DATA),
    st.builds(lambda p: mido.Message("pitchwheel", pitch=p), st.integers(-8192, 8191)),
    st.builds(lambda c, v: mido.Message("control_change", control=c, value=v), DATA, DATA),
    st.builds(lambda d: mido.Message("sysex", data=d), st.lists(DATA, max_size=200)),
    st.builds(lambda t: mido.MetaMessage("set_tempo", tempo=t), st.integers(1, 0xFFFFFF)),
    st.builds(lambda t: mido.MetaMessage("text", text="x" * t), st.integers(0, 300)),
)
TRACKS = st.lists(
    st.lists(st.tuples(st.one_of(st.just(0), st.integers(0, 100_000)), MESSAGES), max_size=20), min_size=1, max_size=4
)


@given(TRACKS, st.integers(1, 0x7FFF))
def test_what_mido_writes_is_read_as_mido_reads_it(tracks: list[list[tuple[int, Any]]], resolution: int) -> None:
    # Beyond a week of playing we refuse; with few ticks a quarter and slow tempos such a file would
    # be drawn by chance.
    resolution = max(resolution, 96)
    file = mido.MidiFile(type=1, ticks_per_beat=resolution)
    for track in tracks:
        file.tracks.append(mido.MidiTrack(message.copy(time=delta) for delta, message in track))
    buffer = io.BytesIO()
    file.save(file=buffer)
    found = parse_smf(buffer.getvalue(), "riff.mid")
    expected = mido_events(buffer.getvalue())
    assert [event.data for event in found.events] == [data for _, data in expected]
    assert [event.time_sec for event in found.events] == pytest.approx(
        [second for second, _ in expected], rel=1e-9, abs=1e-9
    )
    assert found.remarks == ()
