"""Any pass of the last minutes can be looped: the command, the cursor in the window, and the marks
of what repeats.
"""

import numpy as np
import pytest

from loopdeck.analysis.repeats.live import Recurrence
from loopdeck.analysis.repeats.naming import RiffNames
from loopdeck.looper.recorder import REMEMBERED
from loopdeck.protocol.messages import Command, PassHeard, PassRiff
from loopdeck.window import keys
from loopdeck.window.panels.passes import SHOWN, shown_passes
from loopdeck.window.panels.riff_marks import SHAPES, shape_of
from loopdeck.window.pass_picker import CHOOSE, NOTHING, PassPicker
from loopdeck.window.ui_state import UiState
from tests.unit.looper_tools import check_pairs
from tests.unit.test_live_passes import RIFF, heard, noodle
from tests.unit.test_loop_that import passes, pitches
from tests.unit.window_tools import Told, press, row, sec, written


def test_any_pass_becomes_a_layer_of_its_own_and_undo_takes_it_away() -> None:
    player = passes(20)
    assert player.command(81.0, "loop-pass", number=3) == "Pass 3 is layer 1."
    assert player.command(81.1, "loop-pass", number=20) == "Pass 20 is layer 2."
    assert pitches(player) == [[42], [59]]
    assert player.command(81.2, "loop-pass", number=3) == "Pass 3 is layer 1 already."
    player.until(90.0)
    assert {pitch for place, pitch in player.sounded() if place > 84.0} == {42, 59}
    player.command(90.1, "undo")
    player.command(90.2, "undo")
    assert pitches(player) == []
    assert player.command(90.3, "loop-pass", number=3) == "Pass 3 is layer 1."
    player.command(91.0, "stop")
    check_pairs(player.outs)


def test_what_cannot_be_looped_gets_a_sentence() -> None:
    player = passes(2)
    player.until(13.0)
    assert player.command(13.1, "loop-pass", number=3) == "Nothing was played in pass 3."
    assert player.command(13.2, "loop-pass", number=9) == "Pass 9 is not among the passes of the last minutes."
    assert "number" in player.command(13.3, "loop-pass")
    assert "1 or more" in player.command(13.4, "loop-pass", number=0)
    assert pitches(player) == []


def test_the_pass_that_runs_becomes_a_layer_when_it_ends() -> None:
    player = passes(1)
    player.note(5.5, pitch=60)
    assert player.command(6.0, "loop-pass", number=2) == "Pass 2 becomes a layer when it ends."
    assert player.command(6.1, "loop-pass", number=2) == "Pass 2 becomes a layer when it ends."
    player.until(8.1)
    assert pitches(player) == [[60]] and player.said[-1] == "Pass 2 is layer 1."


def test_the_passes_of_the_last_minutes_are_held_and_no_more() -> None:
    player = passes(REMEMBERED + 4)
    now = 4.0 * (REMEMBERED + 4) + 1.2
    assert player.command(now, "loop-pass", number=2).endswith("last minutes.")
    assert player.command(now + 0.1, "loop-pass", number=6) == "Pass 6 is layer 1."
    # While time stands, too.
    player.command(now + 0.2, "stop")
    assert player.command(now + 0.3, "loop-pass", number=7) == "Pass 7 is layer 2."


def test_loop_that_begins_anew_after_a_chosen_pass() -> None:
    player = passes(4)
    player.command(17.0, "loop-that")
    player.command(17.1, "loop-pass", number=1)
    assert player.command(17.2, "loop-that") == "Pass 3 is layer 3."
    assert pitches(player) == [[43], [40], [42]]


# ---- what repeats --------------------------------------------------------------------------------


def _riff(*starts: float, long: float = 2.0) -> Recurrence:
    spans = np.array(starts)
    return Recurrence(tuple(spans), tuple(spans + long), (1.0,) * len(starts), 9.0)


def test_one_riff_keeps_its_letter_and_another_gets_the_next() -> None:
    names = RiffNames()
    assert names.name(_riff(0.0, 10.0)) == "A"
    assert names.name(_riff(4.0, 14.0)) == "B"
    assert names.name(_riff(0.0, 10.0, 20.0)) == "A"
    # A note shorter than before, and found in one place more: still the same.
    assert names.name(_riff(0.1, 10.1, 20.1, 30.0, long=1.6)) == "A"
    assert names.name(_riff(4.0, 14.0, 34.0)) == "B"
    assert names.name(_riff(60.0, 70.0)) == "C"


def test_letters_are_forgotten_after_ten_minutes_and_not_given_again() -> None:
    names = RiffNames()
    assert names.name(_riff(0.0, 10.0)) == "A"
    assert names.name(_riff(900.0, 910.0)) == "B"
    assert list(names.spans) == ["B"]


def test_the_passes_a_riff_stands_in_have_its_letter() -> None:
    other = [(0.0, 40), (0.5, 43), (0.75, 45), (1.5, 40), (2.0, 38), (2.75, 36), (3.25, 40)]
    answers = heard([noodle(1), RIFF, other, noodle(2), other, RIFF, noodle(3), RIFF, noodle(4), other, noodle(5)])
    marks = {index: {one.name for one in answers[-1].riffs if one.pass_index == index} for index in range(11)}
    assert marks[1] == marks[5] == marks[7] and len(marks[1]) == 1
    assert marks[2] == marks[4] == marks[9] and len(marks[2]) == 1 and marks[1] != marks[2]
    assert not marks[0] and not marks[3] and not marks[6]


def test_riffs_differ_in_shape_and_not_by_colour() -> None:
    assert [shape_of(letter) for letter in "ABCDEFG"] == [*SHAPES, SHAPES[0]]
    assert shape_of("AA") == SHAPES[26 % len(SHAPES)]


# ---- the cursor ----------------------------------------------------------------------------------


def played(count: int) -> Told:
    """Passes 0 to ``count - 1`` with a note each, and pass ``count`` runs."""
    told = Told()
    for index in range(count + 1):
        told.clock(pass_index=index)
        if index < count:
            told.note(40, 1.0, pass_index=index)
    told.layers(loops_next=count - 1)
    return told


def test_stepping_chooses_and_end_loops() -> None:
    told, ui = played(5), UiState()
    assert press(ui, told, "End") == [] and told.view.message(0.0).text == CHOOSE  # type: ignore[union-attr]
    press(ui, told, "PageUp")
    assert ui.passes.chosen == 4, "the first press chooses what Space would take"
    press(ui, told, "PageUp")
    press(ui, told, "PageUp")
    assert told.view.message(0.0).text == "Pass 3: End loops it."  # type: ignore[union-attr]
    assert press(ui, told, "End") == [Command(name="loop-pass", args={"number": 3})]
    for _ in range(9):
        press(ui, told, "PageUp")
    assert ui.passes.chosen == 0
    press(ui, told, "PageDown")
    assert ui.passes.chosen == 1


def test_the_sentence_names_riff_and_layer() -> None:
    told, ui = played(3), UiState()
    told.hear(PassHeard(pass_index=2, riffs=(PassRiff(1, "B"), PassRiff(2, "A"), PassRiff(2, "B"))))
    press(ui, told, "PageUp")
    assert told.view.message(0.0).text == "Pass 3, riff A, riff B: End loops it."  # type: ignore[union-attr]
    told.layers(row(1, pass_index=1), loops_next=2)
    press(ui, told, "PageUp")
    assert told.view.message(0.0).text == "Pass 2, riff B: it is layer 1."  # type: ignore[union-attr]


def test_rests_are_stepped_over_and_nothing_played_is_said() -> None:
    told, ui = Told(), UiState()
    told.clock("STOPPED", -1, running=False)
    press(ui, told, "PageUp")
    assert told.view.message(0.0).text == NOTHING  # type: ignore[union-attr]
    told = played(2)
    told.clock(pass_index=5)
    told.note(41, 0.5, pass_index=5)
    press(ui, told, "PageUp")
    assert ui.passes.chosen == 1
    press(ui, told, "PageDown")
    assert ui.passes.chosen == 5, "the one that runs can be chosen, too"


def test_a_foot_does_the_same() -> None:
    told, ui = played(3), UiState()
    assert ui.asked("window-pass-step", {"step": -1}, told.view, 0.0) == []
    assert ui.asked("window-pass-loop", {}, told.view, 0.0) == [Command(name="loop-pass", args={"number": 3})]


def test_the_panel_follows_the_cursor_into_the_past() -> None:
    told, ui = played(30), UiState(panel=2)
    now = sec(30 * 7.5 + 1.0)
    assert shown_passes(told.view, ui, now) == list(range(31 - SHOWN, 31))
    ui.passes.chosen = 4
    assert shown_passes(told.view, ui, now) == list(range(4, 4 + SHOWN))


@pytest.mark.parametrize("size", [(1280, 720), (800, 480), (1920, 1080)])
def test_number_mark_and_word_of_a_pass_are_large_and_apart(size: tuple[int, int]) -> None:
    told, ui = played(30), UiState(panel=2, passes=PassPicker(chosen=27))
    told.hear(PassHeard(pass_index=29, riffs=tuple(PassRiff(n, "ABC"[n % 3]) for n in range(30))))
    log = written(told.view, sec(30 * 7.5 + 1.0), ui, size)
    words = [(text, box) for text, box in log if box.y > size[1] * 0.7]
    unit = min(size[0] / 1280, size[1] / 720)
    numbers = [box for text, box in words if text in {str(n) for n in range(16, 32)}]
    assert len(numbers) >= 16 and min(box.h for box in numbers) >= 18 * unit
    assert [text for text, _ in words if text in "ABC"] and any(text == "End" for text, _ in words)
    inside = [box for _, box in words if box.y < size[1] * 0.93]
    for index, one in enumerate(inside):
        assert not any(one.overlaps(other) for other in inside[index + 1 :])


def test_keys_of_the_cursor_are_no_musical_keys() -> None:
    assert {keys.CODES[name] for name in ("PageUp", "PageDown", "End")} == {75, 78, 77}
