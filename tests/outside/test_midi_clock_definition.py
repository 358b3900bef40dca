"""MIDI clock against the MIDI 1.0 definition, read with mido where a parser is wanted.

Source: "MIDI 1.0 Detailed Specification", MIDI Manufacturers Association, document version 4.2,
1995, the sections System Common and System Real Time Messages (from memory; the bytes are checked
against mido, another reading of the same text): F8 timing clock, 24 a quarter; FA start, FB
continue, FC stop, one byte each; F2 song position, 14 bits, least significant seven first, in MIDI
beats of six clocks, a sixteenth; start means position 0, and playing begins with the first clock
after it.
"""

from fractions import Fraction
from itertools import pairwise

import mido
import pytest

from loopdeck.midi.midi_clock import ClockFollower, ClockSender, Sent, song_position
from loopdeck.rhythm.meter import parse_cycle
from loopdeck.rhythm.tempo import parse_tempo

BYTE_SEC = 10 / 31_250  # MIDI 1.0: 31,250 baud, ten bits a byte


def _session(cycle: str, tempo: str, quarters: float) -> list[Sent]:
    parsed = parse_tempo(tempo)
    sender = ClockSender(parse_cycle(cycle).quarters)
    sender.run(0)
    return list(sender.due(parsed.seconds(quarters), parsed.seconds))


@pytest.mark.parametrize("tempo", ["96", "8th=184", "400", "20"])
def test_24_clocks_a_quarter(tempo: str) -> None:
    clocks = [one.time_sec for one in _session("4/4 4+3/8", tempo, 96) if one.data == b"\xf8"]
    assert len(clocks) == 24 * 96 + 1
    for quarter in range(97):
        assert clocks[24 * quarter] == pytest.approx(parse_tempo(tempo).seconds(float(quarter)), abs=1e-9)


def test_the_messages_as_another_parser_reads_them() -> None:
    sent = _session("4/4 4+3/8", "96", 16)
    parser = mido.Parser()
    for one in sent:
        parser.feed(one.data)
    read = list(parser)
    assert len(read) == len(sent)
    assert [one.type for one in read[:2]] == ["start", "clock"]
    # The cycle of 4 quarters and 7 eighths is 7.5 quarters, 30 sixteenths: pos counts those.
    assert [one.pos for one in read if one.type == "songpos"] == [30, 60]
    for index, one in enumerate(read):
        if one.type == "songpos":
            clocks_before = sum(other.type == "clock" for other in read[:index])
            assert clocks_before == one.pos * 6


@pytest.mark.parametrize("sixteenths", [0, 1, 127, 128, 8192, 16383])
def test_song_position_bytes(sixteenths: int) -> None:
    assert list(song_position(sixteenths)) == mido.Message("songpos", pos=sixteenths).bytes()


@pytest.mark.parametrize("sixteenths", [-1, 16384])
def test_song_positions_have_14_bits(sixteenths: int) -> None:
    with pytest.raises(ValueError, match="16383"):
        song_position(sixteenths)


@pytest.mark.parametrize("tempo", ["96", "400"])
def test_on_a_cable_no_clock_is_pushed_back(tempo: str) -> None:
    """Each message ends before the next begins, at 320 us a byte, at our fastest tempo too."""
    sent = _session("4/4", tempo, 40)[1:]
    for one, after in pairwise(sent):
        assert one.time_sec + len(one.data) * BYTE_SEC <= after.time_sec + 1e-9


def test_the_first_clock_after_start_is_the_beginning() -> None:
    follower = ClockFollower()
    # Clocks before start set the tempo and no position.
    for k in range(48):
        follower.feed(k / 48, b"\xf8")
    assert follower.position(1.0) == 0.0
    follower.feed(0.99, b"\xfa")
    for k in range(48, 97):
        follower.feed(k / 48, b"\xf8")
    assert follower.position(96 / 48) == pytest.approx(2.0)


def test_song_position_counts_six_clocks() -> None:
    follower = ClockFollower()
    follower.feed(0.0, mido.Message("songpos", pos=6).bin())
    follower.feed(0.0, b"\xfb")
    follower.feed(0.1, b"\xf8")
    follower.feed(0.1 + 1 / 48, b"\xf8")
    assert follower.position(0.1 + 1 / 48) == pytest.approx(float(Fraction(6 * 6 + 1, 24)))
