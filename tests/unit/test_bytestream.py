"""Bytes to messages: running status, real-time bytes anywhere, system exclusive, and whatever else
comes down a line.
"""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.capture.bytestream import MAX_SYSEX, ByteParser, data_bytes

REAL_TIME = [0xF8, 0xFA, 0xFB, 0xFC, 0xFE, 0xFF]


def messages_of(text: str) -> list[str]:
    return [message.hex(" ") for message in ByteParser().feed(bytes.fromhex(text))]


@pytest.mark.parametrize(
    ("stream", "expected"),
    [
        ("90 28 40", ["90 28 40"]),
        ("90 28 40 28 00 2b 40", ["90 28 40", "90 28 00", "90 2b 40"]),  # running status
        ("c0 21 22 d3 40", ["c0 21", "c0 22", "d3 40"]),
        ("90 f8 28 fe 40", ["f8", "fe", "90 28 40"]),  # real time inside a message
        ("90 28 40 f8 28 00", ["90 28 40", "f8", "90 28 00"]),  # real time does not end running status
        ("f0 7e f8 01 f7", ["f8", "f0 7e 01 f7"]),
        ("90 28 40 f0 01 f7 28 00", ["90 28 40", "f0 01 f7"]),  # system exclusive does end it
        ("90 28 40 f6 28 00", ["90 28 40", "f6"]),
        ("f2 10 20 30 40", ["f2 10 20"]),  # song position has no running status
        ("f1 11 f3 05", ["f1 11", "f3 05"]),
        ("f0 01 02 90 28 40", ["90 28 40"]),  # an exclusive message cut off by a status byte
        ("28 40 90 28 40", ["90 28 40"]),  # plugged in late
        ("90 28 80 28 40", ["80 28 40"]),  # a message that never became whole
        ("f7 f4 f5 f9 fd 12", []),
        ("90 f9 28 fd 40", ["90 28 40"]),  # undefined real time is dropped, and nothing around it
        ("90 28 40 f4 28 40", ["90 28 40"]),
    ],
)
def test_examples(stream: str, expected: list[str]) -> None:
    assert messages_of(stream) == expected


def test_an_endless_exclusive_message_does_not_fill_the_memory_and_is_dropped() -> None:
    parser = ByteParser()
    assert parser.feed(b"\xf0") == []
    for _ in range(100):
        assert parser.feed(bytes(MAX_SYSEX // 10)) == []
    assert parser._sysex is not None
    assert len(parser._sysex) <= MAX_SYSEX
    assert parser.feed(b"\xf7\x90\x28\x40") == [b"\x90\x28\x40"]
    longest = b"\xf0" + bytes(MAX_SYSEX - 2) + b"\xf7"
    assert parser.feed(longest) == [longest]
    assert parser.feed(b"\xf0" + bytes(MAX_SYSEX - 1) + b"\xf7") == []


CHANNEL = st.builds(
    lambda status, data: bytes((status, *data[: data_bytes(status) or 0])),
    st.integers(0x80, 0xEF),
    st.tuples(st.integers(0, 127), st.integers(0, 127)),
)
SYSEX = st.lists(st.integers(0, 127), max_size=5).map(lambda data: bytes((0xF0, *data, 0xF7)))
WHOLE = st.lists(st.one_of(CHANNEL, SYSEX), max_size=20)


@given(st.binary(max_size=300), st.lists(st.integers(0, 300), max_size=10))
def test_any_bytes_give_only_whole_messages_however_they_are_cut(stream: bytes, cuts: list[int]) -> None:
    at_once = ByteParser().feed(stream)
    parser, pieces = ByteParser(), []
    places = [0, *sorted(min(cut, len(stream)) for cut in cuts), len(stream)]
    for begin, end in itertools.pairwise(places):
        pieces += parser.feed(stream[begin:end])
    assert pieces == at_once
    for message in at_once:
        if message[0] == 0xF0:
            assert message[-1] == 0xF7
            assert max(message[1:-1], default=0) < 0x80
        else:
            assert len(message) == 1 + (data_bytes(message[0]) or 0)
            assert max(message[1:], default=0) < 0x80


@given(WHOLE)
def test_running_status_gives_the_same_messages(messages: list[bytes]) -> None:
    stream, last = b"", None
    for message in messages:
        stream += message[1:] if message[0] == last else message
        last = message[0] if message[0] < 0xF0 else None
    assert ByteParser().feed(stream) == messages


@given(WHOLE, st.lists(st.tuples(st.integers(0, 200), st.sampled_from(REAL_TIME)), max_size=20))
def test_real_time_bytes_anywhere_change_nothing_else(messages: list[bytes], strays: list[tuple[int, int]]) -> None:
    stream = bytearray(b"".join(messages))
    for place, byte in strays:
        stream.insert(min(place, len(stream)), byte)
    found = ByteParser().feed(bytes(stream))
    assert [message for message in found if message[0] < 0xF8] == messages
    assert sorted(message[0] for message in found if message[0] >= 0xF8) == sorted(byte for _, byte in strays)
