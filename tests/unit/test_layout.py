"""The window's rectangles for many sizes: inside the window, none over another, readable text, time
aligned.
"""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from loopdeck.window.layout import TEXT, Box, columns, layout, rows
from loopdeck.window.opening import FRAME, fits, window_size

WIDTHS = st.integers(800, 3840)
HEIGHTS = st.integers(450, 2160)


@given(WIDTHS, HEIGHTS, st.booleans())
def test_sections_lie_in_the_window_and_apart(width: int, height: int, waiting: bool) -> None:
    found = layout(width, height, waiting)
    boxes = list(found.sections.items())
    for index, (name, box) in enumerate(boxes):
        assert box.w > 0 and box.h > 0, name
        assert found.window.holds(box), (name, box)
        for other_name, other in boxes[index + 1 :]:
            assert not box.overlaps(other), (name, other_name)


@given(WIDTHS, HEIGHTS, st.booleans())
def test_a_page_covers_arches_to_panel_and_leaves_the_rest_in_sight(width: int, height: int, waiting: bool) -> None:
    found = layout(width, height, waiting)
    for name, box in found.sections.items():
        if name in ("arches", "lanes", "before", "waiting", "panel"):
            assert found.page.holds(box), name
        else:
            assert not found.page.overlaps(box), name


@given(WIDTHS, HEIGHTS)
def test_time_lies_within_the_lanes(width: int, height: int) -> None:
    found = layout(width, height)
    for box in (found.arches, found.lanes, found.sections["before"]):
        assert box.x < found.time_left < found.time_right < box.right


def test_a_larger_window_is_the_same_picture_larger() -> None:
    small, large = layout(1280, 720), layout(2560, 1440)
    for name, box in small.sections.items():
        for one, other in zip(box, large.sections[name], strict=True):
            assert abs(2 * one - other) <= 12, name


def test_reading_distance_at_the_design_size() -> None:
    """28 px at 1280 x 720 is the smallest text that matters: rows that carry such text must have
    room for it.
    """
    found = layout(1280, 720)
    cap = TEXT * 0.73
    sections = found.sections
    assert min(sections["header"].h, sections["message"].h) >= cap + 8
    # Four rows of the panel, with letters that hang down.
    assert (found.panel.h - 4) // 4 >= TEXT
    # Four strings: name above degree, both at full size, and a foot below.
    assert found.lanes.h // 4 >= 2 * cap + 18
    assert sections["count"].h >= 110


@given(st.integers(0, 3000), st.integers(0, 3000), st.integers(0, 2000), st.integers(1, 40))
def test_rows_fill_their_box_to_the_pixel(x: int, y: int, height: int, count: int) -> None:
    found = rows(Box(x, y, 10, height), count)
    assert found[0].y == y and found[-1].bottom == y + height
    assert all(one.bottom == other.y for one, other in pairwise(found))


@given(st.integers(200, 3000), st.integers(1, 5), st.integers(0, 30))
def test_columns_stay_in_their_box(width: int, count: int, gap: int) -> None:
    box = Box(7, 0, width, 10)
    found = columns(box, count, gap)
    assert found[0].x == box.x and found[-1].right == box.right
    assert all(other.x - one.right == gap for one, other in pairwise(found))


DESKTOPS = st.tuples(st.integers(800, 3840), st.integers(480, 2160))


@given(DESKTOPS)
def test_the_window_never_opens_larger_than_the_screen(desktop: tuple[int, int]) -> None:
    width, height = window_size(desktop)
    assert width <= desktop[0] and height <= desktop[1]
    assert not fits(desktop) or (width <= desktop[0] - FRAME[0] and height <= desktop[1] - FRAME[1])


def test_the_window_is_large_on_a_large_screen() -> None:
    assert window_size((1280, 720)) == (1280, 720)
    assert window_size((1600, 1000)) == (1280, 720)
    assert window_size((3840, 2160)) == (3072, 1728)
    assert window_size((800, 480)) == (800, 480)
