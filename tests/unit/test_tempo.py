"""Tempo and tempo maps."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.errors import UserError
from loopdeck.rhythm.tempo import UNITS, Tempo, TempoMap, parse_tempo


@pytest.mark.parametrize(
    ("text", "qpm", "written"),
    [
        ("96", 96.0, "96"),
        ("96.50", 96.5, "96.5"),
        ("8th=184", 92.0, "8th=184"),
        ("8TH = 184", 92.0, "8th=184"),
        ("eighth=184", 92.0, "8th=184"),
        ("dotted-quarter=120", 180.0, "dotted-quarter=120"),
        ("half=60", 120.0, "half=60"),
        ("quarter=100", 100.0, "100"),
        ("20", 20.0, "20"),
        ("400", 400.0, "400"),
    ],
)
def test_read_and_written(text: str, qpm: float, written: str) -> None:
    tempo = parse_tempo(text)
    assert tempo.quarters_per_minute == qpm
    assert str(tempo) == written
    assert parse_tempo(written) == tempo


@given(st.sampled_from(sorted(UNITS)), st.integers(20_000_000, 400_000_000))
def test_every_tempo_reads_back(unit: str, millionths: int) -> None:
    count = Fraction(round(millionths / UNITS[unit]), 1_000_000)
    try:
        tempo = Tempo(count, unit)
    except UserError:
        assert not 20 <= count * UNITS[unit] <= 400
    else:
        assert parse_tempo(str(tempo)) == tempo


@pytest.mark.parametrize("text", ["19.99", "401", "8th=900", "0", "999999", "32nd=1"])
def test_out_of_range(text: str) -> None:
    with pytest.raises(UserError, match="between 20 and 400 quarters a minute"):
        parse_tempo(text)


@pytest.mark.parametrize("text", ["", "fast", "-96", "96bpm", "nan", "1e2", "9" * 400, "９６"])
def test_no_tempo(text: str) -> None:
    with pytest.raises(UserError, match="not a tempo"):
        parse_tempo(text)


def test_an_unknown_note_value_is_named() -> None:
    with pytest.raises(UserError, match=r"'third' is not a note value.*dotted-quarter"):
        parse_tempo("third=96")


@given(st.floats(20, 400), st.floats(-1e4, 1e4))
def test_seconds_and_quarters_are_inverse(qpm: float, quarters: float) -> None:
    tempo = Tempo(Fraction(qpm))
    assert tempo.quarters(tempo.seconds(quarters)) == pytest.approx(quarters, abs=1e-9)


@st.composite
def tempo_maps(draw: st.DrawFn) -> TempoMap:
    points, sec, quarter = [], 0.0, 0.0
    for _ in range(draw(st.integers(1, 6))):
        qpm, length = draw(st.floats(20, 400)), draw(st.floats(0.5, 30))
        points.append((sec, quarter, qpm))
        sec, quarter = sec + length, quarter + length * qpm / 60
    return TempoMap(points)


@given(tempo_maps(), st.lists(st.floats(-10, 200), min_size=2, max_size=20))
def test_a_tempo_map_goes_both_ways_and_never_back(tempo_map: TempoMap, seconds: list[float]) -> None:
    times = np.sort(seconds)
    quarters = tempo_map.quarters(times)
    assert np.allclose(tempo_map.seconds(quarters), times, atol=1e-9)
    assert (np.diff(quarters) >= 0).all()


def test_a_tempo_change_by_hand() -> None:
    # Four quarters at 120 last 2 s, then 60: one quarter a second.
    tempo_map = TempoMap([(0.0, 0.0, 120.0), (2.0, 4.0, 60.0)])
    assert tempo_map.quarters([-1.0, 1.0, 2.0, 3.0]).tolist() == [-2.0, 2.0, 4.0, 5.0]
    assert tempo_map.seconds([-2.0, 2.0, 4.0, 5.0]).tolist() == [-1.0, 1.0, 2.0, 3.0]


@pytest.mark.parametrize("points", [[], [(0, 0, 0)], [(0, 0, -1)], [(0, 0, float("nan"))], [(1, 1, 60), (0, 2, 60)]])
def test_no_tempo_map(points: list[tuple[float, float, float]]) -> None:
    with pytest.raises(UserError):
        TempoMap(points)


@pytest.mark.parametrize("point", [(0.0, 0.0, 5e-324), (0.0, 0.0, 1e300), (-1e300, 0.0, 96.0), (0.0, 1e300, 96.0)])
def test_a_tempo_map_beyond_anything_that_can_be_played_is_a_sentence(point: tuple[float, float, float]) -> None:
    with pytest.raises(UserError, match=r"beyond anything that can be played\.$"):
        TempoMap([point])
