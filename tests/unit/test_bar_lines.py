"""Where the bars of a melody begin: readings that add up, rests that are believed, pickups that are
found.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopdeck.analysis.bar_lines import SIGNS, places, readings, signs, strengths
from loopdeck.analysis.scale_features import BAR, BETWEEN, COUNT, GROUP, TUNE_KINDS, melody_of, tune_features
from loopdeck.analysis.scale_finder import NAMES, playing_of, probabilities
from loopdeck.rhythm.meter import parse_meter

METERS = st.sampled_from(["4/4", "3/4", "6/8", "9/8", "2/2", "4+3/8", "5/4", "12/8"])
NOTES = st.lists(st.tuples(st.integers(30, 80), st.sampled_from([0.25, 0.5, 1.0, 1.5])), min_size=1, max_size=40)


@settings(deadline=None)
@given(NOTES, METERS, st.sampled_from([0.0, 0.02, 0.5, 1.0, 8.0]), st.integers(-12, 12))
def test_readings_add_up_and_do_not_ask_for_the_key(
    line: list[tuple[int, float]], text: str, rest_q: float, up: int
) -> None:
    meter = parse_meter(text)
    length = np.array([one for _, one in line])
    onset = rest_q + np.cumsum(length) - length
    pitch = np.array([one for one, _ in line])
    here = readings(melody_of(pitch, onset, length), meter)
    there = readings(melody_of(pitch + up, onset, length), meter)
    assert sum(one.chance for one in here) == pytest.approx(1.0)
    assert [one.start_q for one in here] == [one.start_q for one in there]
    assert all(set(one.strong.tolist()) <= {BAR, GROUP, COUNT, BETWEEN} for one in here)
    found = tune_features(melody_of(pitch, onset, length), here, float(meter.quarters))
    assert found.shape == (12, 12 * len(TUNE_KINDS)) and np.isfinite(found).all()
    turned = tune_features(melody_of(pitch + up, onset, length), there, float(meter.quarters))
    assert np.allclose(np.roll(found, up, axis=0), turned)


def test_a_written_rest_is_believed() -> None:
    meter = parse_meter("4/4")
    onset = 3.0 + np.arange(17) * 1.0
    read = readings(melody_of([67, *[60, 64, 67, 64] * 4], onset, np.ones(17)), meter)
    assert len(read) == 1 and read[0].start_q % 4 == 0.0
    assert np.flatnonzero(read[0].strong == BAR).tolist() == [1, 5, 9, 13]


@pytest.mark.parametrize(
    ("text", "pickup_q", "bar"),
    [("3/4", 1.0, [2.0, 1.0]), ("6/8", 0.5, [1.0, 0.5, 1.0, 0.5]), ("4/4", 1.0, [2.0, 1.0, 1.0])],
)
def test_a_pickup_on_the_first_tick_is_found(text: str, pickup_q: float, bar: list[float]) -> None:
    meter = parse_meter(text)
    length = np.array([pickup_q, *bar * 7, float(meter.quarters) - pickup_q])
    onset = np.cumsum(length) - length
    pitch = [55, *[60 + (index * 2) % 7 for index in range(len(length) - 2)], 60]
    likeliest = max(readings(melody_of(pitch, onset, length), meter), key=lambda one: one.chance)
    assert likeliest.start_q == pickup_q


def test_strong_places_of_a_compound_bar() -> None:
    at = strengths(np.array([0.0, 0.5, 1.0, 1.5, 3.0, 3.25]), 0.0, parse_meter("6/8"))
    assert at.tolist() == [BAR, COUNT, COUNT, GROUP, BAR, BETWEEN]
    later = strengths(np.array([0.5, 3.5]), 0.5, parse_meter("6/8"))
    assert later.tolist() == [BAR, BAR]


def test_every_place_has_every_sign() -> None:
    meter = parse_meter("6/8")
    assert signs(melody_of([60, 62], [0.0, 1.0], [1.0, 1.0]), meter).shape == (len(places(meter)), len(SIGNS))


def test_the_same_tune_with_its_rest_written_or_not() -> None:
    """G major with a pickup: the bar lines of the file, a beat early, do not change what it is
    in.
    """
    line = [62, *[67, 67, 71, 69, 67, 69, 71, 74, 71, 67, 66, 67, 69, 62] * 2, 67, 71, 67]
    length = np.array([1.0, *[2.0, 1.0] * 14, 2.0, 1.0, 3.0])
    onset = np.cumsum(length) - length
    meter = parse_meter("3/4")
    for rest_q in (0.0, 2.0):
        playing = playing_of(line, onset + rest_q, length, np.full(len(line), COUNT), 3.0, True, meter)
        best = np.unravel_index(int(probabilities(playing).argmax()), (12, len(NAMES)))
        assert (int(best[0]), NAMES[int(best[1])]) == (7, "ionian")
