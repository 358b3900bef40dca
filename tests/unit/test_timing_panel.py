"""The timing panel: which slots it judges, and what it writes."""

import pytest

from loopdeck.window.layout import Box
from loopdeck.window.note_view import NoteView
from loopdeck.window.panels import PANELS, timing
from loopdeck.window.panels.timing import SlotTiming, name_boxes, slot_timings, spread_words
from loopdeck.window.ui_state import UiState
from tests.unit.window_tools import CYCLE_Q, Told, sec, written

TURN = PANELS.index(timing.PANEL)


def mark(slot_q: float, offset_ms: float, heard: str) -> NoteView:
    return NoteView(1, 0, slot_q, slot_q, 28, 90, 0, 0.0, offset_ms=offset_ms, heard=heard)


def test_a_slot_met_once_is_not_judged() -> None:
    assert slot_timings([mark(0.5, 20.0, "late")]) == []


def test_a_slot_is_heard_where_most_of_its_notes_are_on_the_side_of_its_median() -> None:
    late = [mark(1.0, 20.0, "late"), mark(1.0, 24.0, "late"), mark(1.0, -1.0, "")]
    torn = [mark(2.0, 20.0, "late"), mark(2.0, -22.0, "early")]
    assert slot_timings([*torn, *late]) == [SlotTiming(1.0, 20.0, True), SlotTiming(2.0, -1.0, False)]


def test_playing_that_is_late_as_a_whole_is_not_called_exact() -> None:
    assert spread_words([39.0, 40.0, 41.0]) == "The middle lies 40 ms late; half of the notes within 1 ms of it."
    assert spread_words([-6.0, 0.2, 5.0]) == "Half of the notes lie within 5 ms of their places."
    assert [spread_words([one]) for one in (-12.2, 0.3)] == [
        "One note so far, 12 ms early.",
        "One note so far, in its place.",
    ], "one note has no spread"


def words(offset_ms: float, passes: int) -> list[str]:
    told = Told()
    for one in range(passes):
        told.clock(pass_index=one)
        for slot_q in (0.0, 1.75):
            at_q = slot_q + (offset_ms / 1000 / sec(1) if slot_q else 0.0)
            told.note(28, at_q, slot_q, pass_index=one, stamp_sec=sec(CYCLE_Q * one + at_q))
    now = sec(CYCLE_Q * (passes - 1) + 3)
    return [text for text, _ in written(told.view, now, UiState(panel=TURN), (1280, 720))]


@pytest.mark.parametrize(("offset_ms", "said"), [(25.0, "25 ms late"), (-25.0, "25 ms early")])
def test_the_worst_place_is_said_as_players_count(offset_ms: float, said: str) -> None:
    assert any(f"Bar 1, beat 2 a: {said}." in text for text in words(offset_ms, 3))


def test_a_player_in_time_hears_of_no_place() -> None:
    assert not any("Bar 1" in text for text in words(3.0, 3))


def test_the_milliseconds_stand_beside_their_bar_and_inside_the_plot() -> None:
    plot = Box(0, 100, 1000, 80)
    right, left, across = name_boxes(plot, 500, 110, 60, 20, (76, 980))
    assert right.x > 511 and left.right < 489 and right.y == left.y == 100 and across.y > 140
    # At the edge there is room on one side only.
    assert [box.x > 900 for box in name_boxes(plot, 960, 170, 60, 20, (76, 980))] == [False, True]
    assert all(plot.holds(box) for box in name_boxes(plot, 80, 175, 60, 20, (76, 980)))


def test_before_anything_was_played_it_says_what_will_stand_there() -> None:
    assert any(text.startswith("Nothing to judge yet") for text in words(0.0, 0))
