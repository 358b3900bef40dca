"""Tapping, ramps, dropouts and drift."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopdeck.errors import UserError
from loopdeck.rhythm.grid import parse_grid
from loopdeck.rhythm.meter import Cycle, parse_cycle
from loopdeck.rhythm.practice import ClickMask, Ramp, TapTempo, drift_report, parse_clicks, parse_ramp
from loopdeck.rhythm.quantize import slots
from loopdeck.rhythm.swing import parse_swing

from .rhythm_strategies import cycles

# ---- tapping -------------------------------------------------------------------------------------


def tapped(secs: list[float], beat_q: Fraction | float = 1) -> float | None:
    tap, qpm = TapTempo(beat_q), None
    for sec in secs:
        qpm = tap.tap(sec)
    return qpm


def test_three_taps_make_a_tempo() -> None:
    assert tapped([1.0, 1.5]) is None
    assert tapped([1.0, 1.5, 2.0]) == pytest.approx(120.0)
    assert tapped([0.0, 0.5, 1.0], Fraction(3, 2)) == pytest.approx(180.0)
    assert tapped([0.0, 0.5, 1.0], Fraction(1, 2)) == pytest.approx(60.0)


@pytest.mark.parametrize("left_out", range(1, 7))
def test_one_missed_tap_changes_nothing(left_out: int) -> None:
    assert tapped([k * 0.6 for k in range(8) if k != left_out]) == pytest.approx(100.0)


@pytest.mark.parametrize("at", [0.2, 0.75, 1.1, 1.83, 2.9, 3.3])
def test_one_extra_tap_changes_nothing(at: float) -> None:
    assert tapped(sorted([*(k * 0.5 for k in range(7)), at])) == pytest.approx(120.0, rel=0.01)


def test_human_taps() -> None:
    random = np.random.default_rng(4)
    found = [tapped((np.arange(8) * 60 / 96 + random.normal(0, 0.015, 8)).tolist()) for _ in range(200)]
    assert all(qpm is not None and abs(qpm / 96 - 1) < 0.035 for qpm in found)
    assert np.median(np.array(found, float)) == pytest.approx(96, rel=0.005)


@pytest.mark.parametrize(("qpm", "beat_q"), [(20.5, 1), (25, 1), (40, Fraction(3, 2)), (31, Fraction(3, 2))])
def test_slow_tempi_can_be_tapped(qpm: float, beat_q: Fraction | int) -> None:
    tap = TapTempo(beat_q)
    tap.tap(-3.0)  # a tap that had nothing to do with it
    for index in range(4):
        found = tap.tap(100.0 + index * 60.0 / qpm * float(beat_q))
    assert found == pytest.approx(qpm)


def test_a_first_tap_that_stood_alone_does_not_count() -> None:
    tap = TapTempo()
    for sec in (0.0, 3.0, 3.5, 4.0):
        found = tap.tap(sec)
    assert found == pytest.approx(120.0)


def test_it_forgets_after_two_seconds() -> None:
    tap = TapTempo()
    for sec in (0.0, 0.5, 1.0):
        tap.tap(sec)
    assert tap.tap(3.1) is None and tap.taps == 1
    assert tap.tap(4.1) is None
    assert tap.tap(5.1) == pytest.approx(60.0)


def test_a_new_tempo_without_a_pause_is_there_after_eight_taps() -> None:
    steady = [k * 0.5 for k in range(8)]
    assert tapped(steady + [steady[-1] + k * 0.7 for k in range(1, 8)]) == pytest.approx(60 / 0.7)


def test_out_of_range_or_backwards_is_no_tempo() -> None:
    assert tapped([0.0, 0.05, 0.1]) is None
    assert tapped([0.0, 0.5, 0.4, 1.0]) == pytest.approx(120.0)
    assert tapped([0.0, 0.0, 0.0]) is None


# ---- ramps ---------------------------------------------------------------------------------------


def test_a_ramp_up_and_down() -> None:
    up = parse_ramp("+4 every 2 to 105")
    assert [up.qpm(96, n) for n in range(-1, 8)] == [96, 96, 96, 100, 100, 104, 104, 105, 105]
    assert up.passes(96) == 6 and up.qpm(96, 5) < 105
    down = parse_ramp("-5 every 1 to 60")
    assert [down.qpm(72, n) for n in range(5)] == [72, 67, 62, 60, 60]
    # Already there, or the other way: nothing changes.
    assert up.qpm(120, 50) == 120 and up.passes(120) == 0
    assert down.qpm(60, 9) == 60


@given(
    st.integers(-99_000, 99_000).filter(bool).map(lambda n: Fraction(n, 1000)),
    st.integers(1, 1000),
    st.integers(20_000, 400_000).map(lambda n: Fraction(n, 1000)),
)
def test_ramps_round_trip(step: Fraction, every: int, target: Fraction) -> None:
    ramp = Ramp(step, every, target)
    assert parse_ramp(str(ramp)) == ramp


@given(st.integers(-20, 20).filter(bool), st.integers(1, 9), st.integers(20, 400), st.floats(20, 400))
def test_a_ramp_never_turns_nor_passes_its_target(step: int, every: int, target: int, start: float) -> None:
    ramp = Ramp(Fraction(step), every, Fraction(target))
    tempi = [ramp.qpm(start, n) for n in range(0, 400 * every, every)]
    steps = np.diff(tempi) * np.sign(step)
    assert (steps >= 0).all() and np.abs(steps).max() <= abs(step) + 1e-9
    reached = tempi[-1]
    assert reached in (start, target)
    assert ramp.qpm(start, ramp.passes(start)) == pytest.approx(reached, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("faster", "is not a ramp; write one like"),
        ("+0 every 1 to 90", "step of 0"),
        ("+4 every 0 to 90", "every 1 to 1000 passes"),
        ("+4 every 2 to 500", "must lie between 20 and 400"),
        ("", "is not a ramp"),
    ],
)
def test_wrong_ramps_get_a_sentence(text: str, words: str) -> None:
    with pytest.raises(UserError, match=words) as error:
        parse_ramp(text)
    assert str(error.value).endswith(".")


# ---- clicks --------------------------------------------------------------------------------------


def sounding(text: str, cycle: str, pass_index: int = 0) -> list[float]:
    return [float(click.position) for click in parse_clicks(text).clicks(parse_cycle(cycle), pass_index)]


@pytest.mark.parametrize(
    ("text", "cycle", "places"),
    [
        ("all", "4/4", [0, 1, 2, 3]),
        ("2 4", "4/4", [1, 3]),
        ("4, 2", "4/4 3/4", [1, 3, 5]),
        ("bar", "4/4 4+3/8", [0, 4]),
        ("group", "4/4 4+3/8", [0, 4, 6]),
        ("group", "6/8", [0, 1.5]),
        ("half", "4/4", [0, 2]),
        ("double", "2/4", [0, 0.5, 1, 1.5]),
        ("double", "3/8", [0, 0.25, 0.5, 0.75, 1, 1.25]),
        ("2 4; half", "4/4", [1]),
        ("2 4; double", "4/4", [1, 1.5, 3, 3.5]),
        ("1 on, 1 off", "4/4 4/4", [0, 1, 2, 3]),
        ("2 4; 1 on 1 off; double", "4/4 2/4", [1, 1.5, 3, 3.5]),
    ],
)
def test_which_clicks_sound(text: str, cycle: str, places: list[float]) -> None:
    assert sounding(text, cycle) == places


def test_half_time_counts_on_where_the_unit_stays() -> None:
    assert sounding("half", "7/8", 0) == [0, 1, 2, 3]
    assert sounding("half", "7/8", 1) == [0.5, 1.5, 2.5]
    assert sounding("half", "3/4 4/4", 1) == [1, 3, 5]
    # Afresh where the unit changes, and from the last row of the pass before where it does not.
    assert sounding("half", "4/4 4+3/8", 1) == [0, 2, 4, 5, 6, 7]
    assert sounding("half", "3/8 1/4 3/8", 0) == [0, 1, 1.5, 2.5, 3.5]
    assert sounding("half", "3/8 1/4 3/8", 1) == [0.5, 1.5, 2.5, 3.5]


def test_dropouts_count_bars_on_through_the_passes() -> None:
    mask, cycle = parse_clicks("2 on, 2 off"), parse_cycle("4/4 4/4 4/4")
    silent = [not any(click.bar == bar for click in mask.clicks(cycle, n)) for n in range(4) for bar in range(3)]
    assert silent == [False, False, True, True] * 3
    assert mask.silences(cycle, 4) == ((8, 16), (24, 32))
    # The third silence has not ended.
    assert mask.clicks(cycle, -1) == cycle.clicks


@settings(max_examples=60, deadline=None)
@given(
    cycles,
    st.integers(0, 5),
    st.one_of(st.sampled_from(["all", "bar", "group"]), st.lists(st.integers(1, 64), min_size=1, max_size=5)),
    st.one_of(st.just((0, 0)), st.tuples(st.integers(1, 64), st.integers(1, 64))),
    st.sampled_from(["normal", "half", "double"]),
)
def test_masks_round_trip_and_stay_inside(
    cycle: Cycle, turn: int, which: str | list[int], bars: tuple[int, int], speed: str
) -> None:
    mask = ClickMask(which if isinstance(which, str) else tuple(sorted({*which})), *bars, speed)
    assert parse_clicks(str(mask)) == mask
    clicks = mask.clicks(cycle, turn)
    places = [click.position for click in clicks]
    assert places == sorted({*places}) and all(0 <= place < cycle.quarters for place in places)
    assert not any(mask.silent(turn * len(cycle.meters) + click.bar) for click in clicks)
    if speed != "double":
        assert set(clicks) <= set(cycle.clicks)


@settings(max_examples=60, deadline=None)
@given(cycles, st.integers(0, 6))
def test_half_and_double_are_half_and_double(cycle: Cycle, turn: int) -> None:
    whole = ClickMask().clicks(cycle, turn)
    assert whole == cycle.clicks
    assert len(ClickMask(speed="double").clicks(cycle, turn)) == 2 * len(whole)
    rows = 1 + len(cycle.meters)
    assert abs(len(ClickMask(speed="half").clicks(cycle, turn)) - len(whole) / 2) <= rows / 2


@settings(max_examples=60, deadline=None)
@given(cycles, st.integers(1, 5), st.integers(1, 5), st.integers(0, 12))
def test_silences_are_where_nothing_sounds(cycle: Cycle, on: int, off: int, passes: int) -> None:
    mask = ClickMask(on_bars=on, off_bars=off)
    heard = [n * cycle.quarters + click.position for n in range(passes) for click in mask.clicks(cycle, n)]
    for start, end in mask.silences(cycle, passes):
        assert not any(start <= place < end for place in heard)
        assert end in heard


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "which clicks sound"),
        ("loud", "does not say which clicks sound; write all, bar, group"),
        ("0 2", "lie between 1 and 64"),
        ("2 4; bar", "say one thing twice, 'bar'"),
        ("0 on, 2 off", "1 to 64 bars"),
        ("0 on, 0 off", "1 to 64 bars"),
        ("99 on, 1 off", "1 to 64 bars"),
        ("half; double", "one thing twice"),
    ],
)
def test_wrong_clicks_get_a_sentence(text: str, words: str) -> None:
    with pytest.raises(UserError, match=words) as error:
        parse_clicks(text)
    assert str(error.value).endswith(".")


@pytest.mark.parametrize("which", [(), (4, 2), (2, 2), (0,), (65,), "loud"])
def test_wrong_masks(which: str | tuple[int, ...]) -> None:
    with pytest.raises(UserError):
        ClickMask(which)


# ---- drift ---------------------------------------------------------------------------------------

TABLE = slots(parse_cycle("4/4"), parse_grid("1/16"), parse_swing("straight"))


def played(
    due: np.ndarray, rate: float, since: float, base_ms: float, qpm: float, spread_ms: float = 0.0
) -> np.ndarray:
    """Onsets of a player whose tempo is ``rate`` times the right one from ``since`` on, and who is
    ``base_ms`` off before.
    """
    random = np.random.default_rng(7)
    off = base_ms * qpm / 60_000 + random.normal(0, spread_ms, len(due)) * qpm / 60_000
    return np.where(due < since, due, since + (due - since) / rate) + off


@pytest.mark.parametrize("rate", [0.96, 0.98, 0.995, 1.0, 1.01, 1.03, 1.05])
@pytest.mark.parametrize("step", [0.25, 0.5, 1.0])
def test_drift_of_a_steady_player(rate: float, step: float) -> None:
    """Two bars of click, two without; even where the drift is more than half a slot."""
    onsets = played(np.arange(0, 16 + step, step), rate, 8.0, -12.0, 96.0)
    (drift,) = drift_report(onsets, TABLE, 96.0, [(8, 16)])
    assert drift.before_ms == pytest.approx(-12.0, abs=0.1)
    assert drift.tempo_percent == pytest.approx((rate - 1) * 100, abs=0.02)
    # At the return and over the two quarters before it: the middle lies a quarter before the
    # return.
    assert drift.drift_ms == pytest.approx(7 * (1 / rate - 1) * 625, abs=0.6)
    assert drift.ms_per_quarter == pytest.approx((1 / rate - 1) * 625, abs=0.1)
    assert drift.return_ms == pytest.approx(drift.drift_ms - 12.0)
    assert drift.onsets in (8 / step, 8 / step + 1)


def test_drift_of_a_human_with_wrong_notes() -> None:
    due = np.arange(0, 32.25, 0.5)
    onsets = played(due, 1.02, 8.0, 5.0, 120.0, spread_ms=10.0)
    onsets[20::7] += 0.11
    (drift,) = drift_report(np.random.default_rng(1).permutation(onsets), TABLE, 120.0, [(8, 16)])
    assert drift.tempo_percent == pytest.approx(2.0, abs=0.5)
    assert drift.drift_ms == pytest.approx(7 * (1 / 1.02 - 1) * 500, abs=15)


def test_drift_with_swing_and_an_odd_cycle() -> None:
    cycle = parse_cycle("4/4 4+3/8")
    table = slots(cycle, parse_grid("1/8"), parse_swing("2:1"))
    due = np.concatenate([n * 7.5 + table.played_q for n in range(6)])
    mask = parse_clicks("2 on, 2 off")
    spans = mask.silences(cycle, 6)
    assert spans == ((Fraction(15, 2), Fraction(15)), (Fraction(45, 2), Fraction(30)))
    found = drift_report(played(due, 1.01, 7.5, 0.0, 96.0), table, 96.0, spans)
    assert [drift.tempo_percent for drift in found] == [pytest.approx(1.0, abs=0.05)] * 2
    assert found[0].drift_ms < -35


def test_silences_without_notes_are_left_out() -> None:
    assert drift_report([], TABLE, 96.0, [(8, 16)]) == ()
    assert drift_report([1.0, 9.0, 30.0], TABLE, 96.0, [(8, 16), (24, 32)]) == ()
    (drift,) = drift_report([8.0, 9.0, 10.0], TABLE, 96.0, [(8, 16)])
    assert (drift.before_ms, drift.drift_ms, drift.tempo_percent) == (0.0, 0.0, 0.0)
