"""Where we are: the clock's news to pass, bar and beat, by the check values of 4/4 4+3/8 at 96."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.protocol.messages import ClockChanged
from loopdeck.window.timeline import PAGE_QUARTERS, ClockReading, CycleLayout


def clock(**changed: Any) -> ClockReading:
    data: dict[str, Any] = {
        "state": "LISTENING", "pass_index": 0, "anchor_sec": 100.0, "anchor_q": 0.0, "qpm": 96.0,
        "pass_start_q": 0.0, "cycle": "4/4 4+3/8", "cycle_q": 7.5, "running": True,
    }  # fmt: skip
    return ClockReading.of(ClockChanged(**(data | changed)))


def test_one_cycle_at_96_takes_4_6875_seconds() -> None:
    """4/4 is 2,500 ms and 7/8 2,187.5 ms at 96 (a quarter is 60/96 s)."""
    assert clock().place(100 + 2.5).at_q == pytest.approx(4.0)
    place = clock().place(100 + 4.6875 + 0.3125)
    assert (place.pass_index, place.at_q) == (1, pytest.approx(0.5))


def test_counting_in_is_before_the_first_pass() -> None:
    counting = clock(state="COUNTING IN", pass_index=-1, anchor_q=-4.0)
    assert counting.place(100.0).at_q == pytest.approx(-4.0)
    cycle_layout = CycleLayout("4/4 4+3/8")
    assert [cycle_layout.count(-4 + beat + 0.01) for beat in range(4)] == [(0, 1), (0, 2), (0, 3), (0, 4)]
    # Were the news of the first pass late, the count-in would stay on its last count: which pass
    # follows, and what was played in it, nobody knows yet.
    late = counting.place(100 + 2.6)
    assert late.pass_index == -1 and cycle_layout.count(late.at_q) == (0, 4)


def test_news_of_a_pass_before_its_downbeat_is_no_count_in() -> None:
    """A moment before the downbeat of a later pass the one before it runs, and its last count
    stands.
    """
    place = clock(pass_index=3, run_pass=3, anchor_q=22.5, pass_start_q=22.5).place(100 - 0.01)
    assert (place.pass_index, place.at_q) == (2, pytest.approx(7.5, abs=0.02))
    assert clock(anchor_q=0.0).place(100 - 0.01).at_q < 0, "before the first pass is the count-in"


def test_counts_are_bar_and_unit_from_one() -> None:
    cycle_layout = CycleLayout("4/4 4+3/8")
    assert cycle_layout.count(0.0) == (1, 1)
    assert cycle_layout.count(3.99) == (1, 4)
    assert cycle_layout.count(4.0) == (2, 1)
    assert cycle_layout.count(7.4) == (2, 7)
    assert [arch.label for arch in cycle_layout.groups] == ["1", "2", "3", "4", "1", "5"]
    assert [arch.units for arch in cycle_layout.groups] == [1, 1, 1, 1, 4, 3]


def test_stopped_stands_still() -> None:
    assert clock(running=False).place(500.0).at_q == 0.0


@given(st.lists(st.sampled_from(["4/4", "7/8", "4+3/8", "12/8", "3/4", "11/4", "5/16"]), min_size=1, max_size=12))
def test_pages_hold_every_place_once(meters: list[str]) -> None:
    cycle_layout = CycleLayout(" ".join(meters))
    assert cycle_layout.pages[0].start_q == 0 and cycle_layout.pages[-1].end_q == cycle_layout.quarters
    for one, other in zip(cycle_layout.pages, cycle_layout.pages[1:], strict=False):
        assert one.end_q == other.start_q and one.last_bar + 1 == other.first_bar
        ends = [*cycle_layout.bar_starts[1:], cycle_layout.quarters]
        assert ends[other.first_bar - 1] - one.start_q > PAGE_QUARTERS, "the bar had room on the page before"
    for page in cycle_layout.pages:
        assert page.end_q - page.start_q <= PAGE_QUARTERS or page.first_bar == page.last_bar
        assert cycle_layout.page_at(page.start_q) == page
    assert sum(arch.length_q for arch in cycle_layout.groups) == pytest.approx(cycle_layout.quarters)
