"""Grids and swing: slots, and the map from written to played places."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given

from loopdeck.errors import UserError
from loopdeck.rhythm.grid import STEPS, Grid, parse_grid
from loopdeck.rhythm.meter import Cycle, parse_cycle
from loopdeck.rhythm.quantize import slots
from loopdeck.rhythm.swing import Swing, parse_swing, unwarp, warp
from tests.unit.rhythm_strategies import cycles, grids, places, ratios, swings


def test_grids() -> None:
    assert parse_grid("1/16").step == Fraction(1, 4)
    assert parse_grid("1/8t").step == Fraction(1, 3)
    assert parse_grid("1/16T").triplet
    assert parse_grid("AUTO").auto
    assert parse_grid("auto").step is None
    for name in [*STEPS, "auto"]:
        assert str(parse_grid(name)) == name


@pytest.mark.parametrize("text", ["1/5", "", "16", "1/16TT", "1/4T", "x" * 5000])
def test_no_grid(text: str) -> None:
    with pytest.raises(UserError, match=r"There is no grid .*1/16T and auto") as caught:
        parse_grid(text)
    assert len(str(caught.value)) < 200


@pytest.mark.parametrize(
    ("text", "ratio", "unit", "written"),
    [
        ("straight", Fraction(1), None, "straight"),
        ("1:1", Fraction(1), None, "straight"),
        ("50%", Fraction(1), None, "straight"),
        ("2:1", Fraction(2), None, "2:1"),
        ("3:1 1/8", Fraction(3), Fraction(1, 2), "3:1 1/8"),
        ("75%", Fraction(3), None, "75%"),
        ("58%", Fraction(29, 21), None, "58%"),
        ("58% 1/16", Fraction(29, 21), Fraction(1, 4), "58% 1/16"),
        ("1.5:1", Fraction(3, 2), None, "3:2"),
        ("straight 1/8", Fraction(1), Fraction(1, 2), "straight 1/8"),
    ],
)
def test_swing_read_and_written(text: str, ratio: Fraction, unit: Fraction | None, written: str) -> None:
    swing = parse_swing(text)
    assert (swing.ratio, swing.unit) == (ratio, unit)
    assert str(swing) == written


@given(swings)
def test_a_swing_reads_back(swing: Swing) -> None:
    assert parse_swing(str(swing)) == swing


@pytest.mark.parametrize("text", ["4:1", "1:2", "49%", "76%", "3.01:1", "1:0", "0:0", "0%", "100%"])
def test_swing_out_of_range(text: str) -> None:
    with pytest.raises(UserError, match=r"between (1:1 \(50%\) and 3:1 \(75%\)|50% \(1:1\) and 75% \(3:1\))"):
        parse_swing(text)


@pytest.mark.parametrize("text", ["", "swung", "2:1:1", "2;1", "58", "2:1 1/32", "-2:1", "９:1"])
def test_no_swing(text: str) -> None:
    with pytest.raises(UserError, match="not a swing"):
        parse_swing(text)


@given(cycles, swings, grids, places)
def test_unwarp_undoes_warp_and_order_is_kept(cycle: Cycle, swing: Swing, grid: Grid, positions: list[float]) -> None:
    written = np.sort(positions)
    played = warp(written, cycle, swing, grid)
    assert np.allclose(unwarp(played, cycle, swing, grid), written, atol=1e-9)
    assert np.allclose(warp(unwarp(written, cycle, swing, grid), cycle, swing, grid), written, atol=1e-9)
    assert (np.diff(played) >= -1e-12).all()


@given(cycles, swings, grids)
def test_groups_stay_where_they_are(cycle: Cycle, swing: Swing, grid: Grid) -> None:
    starts = [float(group.start) for group in cycle.groups] + [float(cycle.quarters)]
    assert np.allclose(warp(starts, cycle, swing, grid), starts, atol=1e-12)


@given(cycles, ratios, grids)
def test_pairs_start_afresh_at_every_group(cycle: Cycle, ratio: Fraction, grid: Grid) -> None:
    """Inside each group, counted from its start, the second of every whole pair falls at L r / (r +
    1), and the rest is straight.
    """
    swing = Swing(ratio)
    unit = swing.unit_for(grid)
    for group in cycle.groups:
        subdivisions = int(group.length / unit)
        for number in range(subdivisions):
            start = group.start + number * unit
            expected = start
            if not grid.triplet and number % 2 == 1:
                expected = start - unit + 2 * unit * ratio / (ratio + 1)
            assert warp([float(start)], cycle, swing, grid)[0] == pytest.approx(float(expected), abs=1e-9)
        if subdivisions % 2 == 1:
            halfway = float(group.start + (subdivisions - 1) * unit + unit / 2)
            assert warp([halfway], cycle, swing, grid)[0] == pytest.approx(halfway, abs=1e-9)


def test_the_seventh_eighth_stays_straight() -> None:
    cycle, grid, swing = parse_cycle("4+3/8"), parse_grid("1/8"), parse_swing("2:1")
    played = slots(cycle, grid, swing).played_q
    assert played == pytest.approx([0, 2 / 3, 1, 5 / 3, 2, 8 / 3, 3])
    # Three and four: the pairs restart on the fourth eighth, the third has no partner.
    assert slots(parse_cycle("3+4/8"), grid, swing).played_q == pytest.approx(
        [0, 2 / 3, 1, 1.5, 1.5 + 2 / 3, 2.5, 2.5 + 2 / 3]
    )


def test_which_subdivision_swings() -> None:
    one = parse_cycle("1/4")
    sixteenths = slots(one, parse_grid("1/16"), parse_swing("2:1"))
    assert sixteenths.played_q == pytest.approx([0, 1 / 3, 1 / 2, 5 / 6])
    eighths = slots(one, parse_grid("1/16"), parse_swing("2:1 1/8"))
    assert eighths.played_q == pytest.approx([0, 1 / 3, 2 / 3, 5 / 6])
    assert slots(one, parse_grid("1/8"), parse_swing("2:1")).played_q == pytest.approx([0, 2 / 3])
    assert slots(one, parse_grid("1/32"), parse_swing("3:1")).played_q[:4] == pytest.approx([0, 3 / 16, 3 / 8, 7 / 16])


def test_triplets_are_never_warped() -> None:
    table = slots(parse_cycle("4/4"), parse_grid("1/8T"), parse_swing("3:1"))
    assert np.array_equal(table.played_q, table.written_q)


@given(cycles, grids, swings)
def test_slots(cycle: Cycle, grid: Grid, swing: Swing) -> None:
    table = slots(cycle, grid, swing)
    assert table.written[0] == 0
    assert table.played_q[0] == 0.0
    assert (np.diff(table.played_q) > 0).all()
    assert table.played_q[-1] < table.cycle_q == float(cycle.quarters)
    assert {group.start for group in cycle.groups} <= set(table.written)
    assert table.half_q == pytest.approx((table.cycle_q - table.played_q[-1]) / 2)
    step = grid.step
    assert step is not None
    starts = [group.start for group in cycle.groups]
    for place in table.written:
        group = max(start for start in starts if start <= place)
        assert ((place - group) / step).denominator == 1
    assert all(b - a <= step for a, b in zip(table.written, [*table.written[1:], cycle.quarters], strict=True))


def test_auto_swings_eighths_and_plays_sixteenths_live() -> None:
    table = slots(parse_cycle("1/4"), parse_grid("auto"), parse_swing("2:1"))
    assert table.played_q == pytest.approx([0, 1 / 3, 2 / 3, 5 / 6])
