"""Quantize: the nearest played place, early downbeats, strength, window, and the timing report."""

import time
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.analysis.timing import Feel, place_onsets, report
from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.errors import UserError
from loopdeck.rhythm.grid import Grid, parse_grid
from loopdeck.rhythm.meter import Cycle, parse_cycle
from loopdeck.rhythm.quantize import locate, quantize, slots
from loopdeck.rhythm.swing import Swing, parse_swing
from loopdeck.rhythm.tempo import TempoMap, parse_tempo
from tests.unit.rhythm_strategies import cycles, grids, places, swings

STRAIGHT = Swing()


@given(cycles, grids, swings, places)
def test_every_onset_goes_to_the_nearest_place(cycle: Cycle, grid: Grid, swing: Swing, positions: list[float]) -> None:
    table = slots(cycle, grid, swing)
    found = locate(positions, table)
    for place, index, slot, target in zip(positions, *found, strict=True):
        passes = np.arange(index - 1, index + 2)
        every = (passes[:, None] * table.cycle_q + table.played_q).ravel()
        assert abs(target - place) == pytest.approx(np.abs(every - place).min(), abs=1e-9)
        assert target == pytest.approx(index * table.cycle_q + table.played_q[slot], abs=1e-9)


@given(cycles, grids, swings, st.integers(-20, 20), st.floats(0.001, 0.999))
def test_an_early_downbeat_is_a_downbeat(cycle: Cycle, grid: Grid, swing: Swing, index: int, share: float) -> None:
    table = slots(cycle, grid, swing)
    end = (index + 1) * table.cycle_q
    found = locate([end - share * table.half_q], table)
    assert (found.pass_index[0], found.slot[0]) == (index + 1, 0)
    assert found.target_q[0] == pytest.approx(end)
    before = locate([end - table.half_q * (1 + share * 0.9)], table)
    assert (before.pass_index[0], before.slot[0]) == (index, len(table) - 1)


def test_exactly_between_goes_to_the_later_one() -> None:
    table = slots(parse_cycle("4/4"), parse_grid("1/16"), STRAIGHT)
    found = locate([0.125, 3.875], table)
    assert found.slot.tolist() == [1, 0]
    assert found.pass_index.tolist() == [0, 1]


@given(cycles, grids, swings, places, st.floats(0, 1), st.floats(0.01, 1))
def test_strength_and_window(
    cycle: Cycle, grid: Grid, swing: Swing, positions: list[float], strength: float, window: float
) -> None:
    table = slots(cycle, grid, swing)
    onsets = np.array(positions)
    target = locate(onsets, table).target_q
    assert np.array_equal(quantize(onsets, table, 1.0), target)
    assert np.array_equal(quantize(onsets, table, 0.0), onsets)
    assert np.allclose(quantize(onsets, table, strength), onsets + strength * (target - onsets), atol=1e-9)
    moved = quantize(onsets, table, 1.0, window)
    for place, aim, got in zip(onsets, target, moved, strict=True):
        near = np.round((place - table.played_q) / table.cycle_q) * table.cycle_q + table.played_q
        # Every slot also in the passes before and after: the neighbour may stand in another pass
        # than the slot nearest to it.
        every = np.concatenate([near - table.cycle_q, near, near + table.cycle_q])
        neighbours = [slot for slot in every if (slot - aim) * (place - aim) > 1e-9]
        # The half distance to the neighbour on the onset's own side; the cycle itself when there is
        # one slot only.
        gap = min((abs(slot - aim) for slot in neighbours), default=table.cycle_q) / 2
        if abs(abs(place - aim) - window * gap) > 1e-6:
            assert got == (aim if abs(place - aim) < window * gap else place)


def test_the_window_looks_to_the_side_of_the_onset() -> None:
    # At 3:1 a quarter's second eighth is played at 0.75: its own half distances are 0.375 before
    # and 0.125 after.
    table = slots(parse_cycle("1/4"), parse_grid("1/8"), parse_swing("3:1"))
    assert quantize([0.55, 0.86], table, 1.0, 0.6).tolist() == [0.75, 0.86]


def test_order_is_kept_whatever_the_strength() -> None:
    table = slots(parse_cycle("4/4 4+3/8"), parse_grid("1/16"), parse_swing("2:1"))
    onsets = np.sort(np.random.default_rng(4).uniform(-10, 100, 5000))
    for strength in (0.3, 0.8, 1.0):
        assert (np.diff(quantize(onsets, table, strength)) >= -1e-12).all()


def test_shapes() -> None:
    table = slots(parse_cycle("4/4"), parse_grid("1/16"), STRAIGHT)
    assert quantize([], table).shape == (0,)
    assert quantize(1.01, table).tolist() == [1.0]
    assert locate([0.1] * 3, table).pass_index.dtype == np.int64


@pytest.mark.parametrize("bad", [float("nan"), float("inf")])
def test_positions_must_be_numbers(bad: float) -> None:
    table = slots(parse_cycle("4/4"), parse_grid("1/16"), STRAIGHT)
    with pytest.raises(UserError, match="not a number"):
        quantize([0.0, bad], table)


@pytest.mark.parametrize(("strength", "window"), [(1.1, 1), (-0.1, 1), (1, 0), (1, 1.5)])
def test_strength_and_window_have_limits(strength: float, window: float) -> None:
    table = slots(parse_cycle("4/4"), parse_grid("1/16"), STRAIGHT)
    with pytest.raises(UserError, match="out of range"):
        quantize([0.0], table, strength, window)


def test_tables_cannot_be_changed() -> None:
    table = slots(parse_cycle("4/4"), parse_grid("1/16"), STRAIGHT)
    with pytest.raises(ValueError, match="read-only"):
        table.played_q[0] = 1.0


def test_the_longest_cycle_is_quick() -> None:
    begun = time.process_time()
    slots(parse_cycle("16/4 " * 64), parse_grid("1/32"), parse_swing("2:1"))
    assert time.process_time() - begun < 10.0


# ---- the report ----------------------------------------------------------------------------------


def _feel(grid: str = "1/16", swing: str = "straight", **rest: float) -> Feel:
    return Feel(parse_grid(grid), parse_swing(swing), **rest)  # type: ignore[arg-type]


def _stretch(cycle: str, start: int | Fraction = 0) -> Stretch:
    return Stretch(Fraction(start), parse_cycle(cycle))


def test_report_by_hand() -> None:
    # At 96 a quarter is 625 ms; 2:1 on sixteenths plays the second sixteenth at a third of a
    # quarter, 208.333 ms.
    tempo_map = TempoMap.steady(parse_tempo("96"))
    onsets = [-0.010, 0.220, 2.490, 4.6875 + 2.5 + 0.001]
    found, placed = report(onsets, [28, 31, 33, 35], tempo_map, [_stretch("4/4 4+3/8")], _feel(swing="2:1"))
    rows = [(note["bar"], note["written"], note["slot"]) for note in found["notes"]]
    assert rows == [(1, "0", 0), (1, "1/4", 1), (2, "0", 16), (4, "0", 16)]
    assert [note["offset_ms"] for note in found["notes"]] == pytest.approx([-10.0, 11.6667, -10.0, 1.0], abs=1e-3)
    assert [note["quantized_sec"] for note in found["notes"]] == pytest.approx([0, 0.208333, 2.5, 7.1875], abs=1e-6)
    assert (found["early"], found["late"], found["on_time"], found["count"]) == (2, 1, 1, 4)
    assert found["median_ms"] == pytest.approx(-4.5)
    assert list(found["notes"][0]) == [
        "index", "pitch", "onset_sec", "quantized_sec", "offset_ms", "bar", "written", "slot",
    ]  # fmt: skip
    assert placed.written[1] == Fraction(1, 4)


def test_the_seventh_eighth_in_the_report() -> None:
    placed = place_onsets([7.0, 14.5], [_stretch("4/4 4+3/8")], _feel("1/8", "2:1"))
    assert placed.written == [Fraction(3), Fraction(3)]
    assert placed.bar.tolist() == [2, 4]
    assert placed.target_q.tolist() == [7.0, 14.5]


@given(st.lists(st.floats(0, 60), min_size=1, max_size=30), grids, swings)
def test_one_stretch_a_bar_is_the_cycle(positions: list[float], grid: Grid, swing: Swing) -> None:
    """A file with a time signature at every bar says the same as the cycle those bars make."""
    feel = Feel(grid, swing)
    whole = place_onsets(positions, [_stretch("4/4 4+3/8")], feel)
    starts = [Fraction(15, 2) * index + extra for index in range(10) for extra in (0, 4)]
    bars = [_stretch(("4/4", "4+3/8")[index % 2], start) for index, start in enumerate(starts)]
    split = place_onsets(positions, bars, feel)
    near = np.abs(whole.target_q - split.target_q) < 1e-9
    # At an exact tie a rounding error may choose the other side.
    assert np.allclose(np.abs(whole.target_q - positions), np.abs(split.target_q - positions), atol=1e-9)
    assert np.array_equal(whole.bar[near], split.bar[near])
    assert [w for w, same in zip(whole.written, near, strict=True) if same] == [
        w for w, same in zip(split.written, near, strict=True) if same
    ]


def test_a_bar_cut_off_by_a_new_meter() -> None:
    # The second bar of four ends after two and a half quarters; 3/4 begins there, at 6.5.
    bars = [_stretch("4/4"), _stretch("3/4", Fraction(13, 2))]
    placed = place_onsets([5.9, 6.3, 6.45, 6.5, 9.49], bars, _feel("1/4"))
    assert placed.target_q.tolist() == [6.0, 6.5, 6.5, 6.5, 9.5]
    assert placed.bar.tolist() == [2, 3, 3, 3, 4]
    assert placed.quantized_q.tolist() == [6.0, 6.5, 6.5, 6.5, 9.5]


def test_straight_takes_the_swing_out() -> None:
    feel = _feel("1/8", "2:1", straight=True)
    placed = place_onsets([0.65, 8.02], [_stretch("4/4")], feel)
    assert placed.quantized_q.tolist() == [0.5, 8.0]
    assert placed.target_q == pytest.approx([2 / 3, 8.0])
    loose = place_onsets([0.65], [_stretch("4/4")], _feel("1/8", "2:1", straight=True, strength=0.0))
    assert loose.quantized_q == pytest.approx([0.5 + 0.65 - 2 / 3])


def test_no_notes() -> None:
    found, placed = report([], [], TempoMap.steady(parse_tempo("96")), [_stretch("4/4")], _feel())
    assert (found["count"], found["notes"], placed.written) == (0, [], [])


def test_auto_in_the_report() -> None:
    placed = place_onsets([0.0, 0.34, 0.66, 1.0, 1.26], [_stretch("4/4")], _feel("auto"))
    assert placed.written == [0, Fraction(1, 3), Fraction(2, 3), 1, Fraction(5, 4)]


def test_a_file_of_many_time_signatures_is_quick() -> None:
    bars = [_stretch("4/4" if index % 2 else "3/4", Fraction(7, 2) * index) for index in range(10_000)]
    onsets = np.linspace(0, 35_000, 10_000)
    begun = time.process_time()
    place_onsets(onsets, bars, _feel())
    assert time.process_time() - begun < 20.0
