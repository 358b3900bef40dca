"""Meter, tempo and swing arithmetic against figures from outside; the source stands beside each."""

from fractions import Fraction

import pytest

from loopdeck.rhythm.grid import parse_grid
from loopdeck.rhythm.meter import parse_cycle, parse_meter
from loopdeck.rhythm.quantize import slots
from loopdeck.rhythm.swing import parse_swing, warp
from loopdeck.rhythm.tempo import parse_tempo


def _ms(quarters: Fraction, tempo: str) -> float:
    return parse_tempo(tempo).seconds(float(quarters)) * 1000


# Source: arithmetic from the definition of the tempo mark, beats a minute (60,000 ms / 96 = 625 ms
# a quarter).
@pytest.mark.parametrize(
    ("cycle", "ms"), [("1/8", 312.5), ("4/4", 2500.0), ("7/8", 2187.5), ("4+3/8", 2187.5), ("4/4 4+3/8", 4687.5)]
)
def test_lengths_at_96(cycle: str, ms: float) -> None:
    assert _ms(parse_cycle(cycle).quarters, "96") == pytest.approx(ms, abs=1e-9)


# Source: the same definition; the eighth at 184 a minute lasts 60,000 / 184 ms, the dotted quarter
# at 120 lasts 500 ms.
def test_other_tempo_units() -> None:
    assert _ms(Fraction(1, 2), "8th=184") == pytest.approx(60_000 / 184)
    assert _ms(Fraction(3, 2), "dotted-quarter=120") == pytest.approx(500.0)


# Common practice, no source: seven eighths are 4+3, a 4/4 bar holds eight eighths, six eights are
# two dotted quarters.
def test_meters() -> None:
    assert parse_meter("7/8").groups == (4, 3)
    assert parse_meter("5/8").groups == (3, 2)
    assert parse_meter("4/4").quarters == 8 * Fraction(1, 2)
    assert [group.length for group in parse_cycle("6/8").groups] == [Fraction(3, 2)] * 2


# Source: the definition of the swing ratio as long:short of two consecutive eighths, Friberg &
# Sundström, "Swing Ratios and Ensemble Timing in Jazz Performance", Music Perception 19(3), 2002.
# The second of a pair falls at r / (r + 1) of it.
@pytest.mark.parametrize(
    ("swing", "percent"), [("straight", 50.0), ("2:1", 66.6667), ("3:1", 75.0), ("58%", 58.0), ("3:2", 60.0)]
)
def test_where_the_second_of_a_pair_falls(swing: str, percent: float) -> None:
    table = slots(parse_cycle("4/4"), parse_grid("1/8"), parse_swing(swing))
    assert table.played_q[1] * 100 == pytest.approx(percent, abs=1e-4)
    sixteenths = slots(parse_cycle("4/4"), parse_grid("1/16"), parse_swing(swing))
    assert sixteenths.played_q[1] * 200 == pytest.approx(percent, abs=1e-4)


# Source: as above; 2:1 swing is the first and third of a triplet, so it must fall where the triplet
# grid has its third place.
def test_two_to_one_is_the_triplet() -> None:
    cycle = parse_cycle("4/4")
    triplet = slots(cycle, parse_grid("1/8T"), parse_swing("straight")).played_q[2]
    assert warp([0.5], cycle, parse_swing("2:1"), parse_grid("1/8"))[0] == pytest.approx(triplet)


# Source: Friberg & Sundström 2002, the short note stays near 100 ms at medium and fast tempi; at
# 200 a minute that is a ratio of 2:1.
def test_the_short_note_at_a_fast_tempo() -> None:
    played = slots(parse_cycle("4/4"), parse_grid("1/8"), parse_swing("2:1")).played_q
    assert parse_tempo("200").seconds(float(played[2] - played[1])) * 1000 == pytest.approx(100.0)
