"""The looper's commands, one at a time, and what happens at the edges."""

import numpy as np
import pytest

from loopdeck.looper.commands import COMMANDS, LAYERING, LISTENING, STATES, STOPPED
from tests.unit.looper_tools import Player, check_pairs


def started(**fields: object) -> Player:
    player = Player(**fields)
    player.command(0.0, "start")
    return player


def layered(**fields: object) -> Player:
    """A bar with notes on 1 and 3 layered in pass 0; now in pass 1."""
    player = Player(**fields)
    player.command(0.0, "layer-on")
    player.note(0.02, pitch=40)
    player.note(2.03, pitch=43)
    player.command(3.0, "layer-off")
    player.until(4.0)
    return player


def test_click_marks_bar_group_and_beat() -> None:
    player = started(cycle="4/4 4+3/8")
    player.until(7.499)
    assert player.sounded("click") == [
        (0.0, 76), (1.0, 37), (2.0, 37), (3.0, 37),
        (4.0, 76), (4.5, 37), (5.0, 37), (5.5, 37), (6.0, 77), (6.5, 37), (7.0, 37),
    ]  # fmt: skip


def test_click_can_be_silent() -> None:
    player = started(click_level=0)
    player.until(8.0)
    assert player.sounded("click") == []


def test_count_in_counts_its_bars_and_then_listens() -> None:
    player = started(count_in=2)
    player.until(7.9)
    assert player.looper.state == "COUNTING IN"
    assert len(player.sounded("click")) == 8
    player.until(8.0)
    assert player.looper.state == LISTENING
    assert player.looper.pass_index == 0


def test_layered_pass_comes_back_quantized_in_the_next_pass() -> None:
    player = layered()
    player.until(11.9)
    assert player.sounded() == [(4.0, 40), (6.0, 43), (8.0, 40), (10.0, 43)]
    player.command(12.5, "stop")
    check_pairs(player.outs)


def test_strength_nought_gives_the_raw_playing_back() -> None:
    player = layered()
    player.command(7.5, "brief", fields={"strength": "0"})
    player.until(11.9)
    assert player.sounded()[2:] == [(8.02, 40), (10.03, 43)]


def test_swing_changed_later_applies_to_what_was_layered_before() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    player.note(0.25, pitch=45)
    player.command(3.0, "layer-off")
    player.command(5.0, "brief", fields={"swing": "2:1"})
    player.until(11.0)
    assert player.sounded() == [(4.25, 45), (8.0 + round(1 / 3, 6), 45)]


def test_each_pass_is_a_layer_and_undo_takes_exactly_one() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    for index in range(3):
        player.note(4 * index + 1, pitch=40 + index)
    player.command(11.0, "layer-off")
    player.until(12.6)
    assert [layer.notes["pitch"].tolist() for layer in player.looper.layers()] == [[40], [41], [42]]
    player.command(12.7, "undo")
    player.until(16.5)
    assert [pitch for quarter, pitch in player.sounded() if quarter > 12.6] == [40, 41]
    player.command(16.6, "redo")
    player.until(20.5)
    assert [pitch for quarter, pitch in player.sounded() if quarter > 16.6] == [40, 41, 42]


def test_clear_can_be_undone() -> None:
    player = layered()
    player.command(5.0, "clear")
    player.until(8.5)
    assert player.sounded() == [(4.0, 40)]
    player.command(8.6, "undo")
    player.until(12.0)
    assert player.sounded()[1:] == [(10.0, 43), (12.0, 40)]


def test_loop_that_after_the_fact() -> None:
    player = started()
    player.note(0.01, pitch=40)
    player.note(2.5, pitch=47)
    said = player.command(5.0, "loop-that")
    assert "layer 1" in said
    player.until(9.0)
    assert player.sounded() == [(6.5, 47), (8.0, 40)]


def test_loop_that_just_before_the_end_means_the_pass_that_ends() -> None:
    player = started()
    player.note(4.0, pitch=50)
    player.command(7.8, "loop-that")
    player.until(8.5)
    assert player.sounded() == [(8.0, 50)]


def test_a_late_foot_still_layers_this_pass() -> None:
    player = started()
    player.note(4.0, pitch=50)
    player.command(4.3, "layer-on")
    player.command(8.2, "layer-off")
    player.note(8.5, pitch=51)
    player.until(16.5)
    # The note stands on the downbeat of the pass at 4; its layer sounds on every downbeat after it.
    assert player.sounded() == [(8.0, 50), (12.0, 50), (16.0, 50)]
    assert [layer.notes["pitch"].tolist() for layer in player.looper.layers()] == [[50]]


@pytest.mark.parametrize("grid", ["1/16", "1/8"])
def test_early_downbeat_sounds_on_every_following_downbeat_once(grid: str) -> None:
    player = Player(grid=grid)
    player.command(0.0, "layer-on")
    player.note(1.0, pitch=43)
    player.command(3.0, "layer-off")
    player.note(3.95, pitch=36)
    player.until(16.5)
    downs = [quarter for quarter, pitch in player.sounded() if pitch == 36]
    # The player's own stroke was the downbeat of the pass at 4; the layer gives the ones at 8, 12
    # and 16.
    assert downs == [8.0, 12.0, 16.0]
    player.command(17.0, "stop")
    check_pairs(player.outs)


def test_early_downbeat_belongs_to_the_pass_it_begins() -> None:
    player = started()
    player.note(3.95, pitch=36)
    player.note(5.0, pitch=40)
    player.command(8.6, "loop-that")
    player.until(13.0)
    assert player.sounded() == [(9.0, 40), (12.0, 36), (13.0, 40)]


def test_raw_early_downbeat_sounds_before_the_downbeat() -> None:
    player = started(strength=0)
    player.note(3.95, pitch=36)
    player.command(8.6, "loop-that")
    player.until(16.5)
    assert player.sounded() == [(11.95, 36), (15.95, 36)]


def test_early_downbeat_with_the_start() -> None:
    player = Player()
    player.on(-0.05, pitch=36)
    player.command(0.0, "start")
    player.off(0.5, pitch=36)
    player.command(4.6, "loop-that")
    player.until(9.0)
    assert player.sounded() == [(8.0, 36)]


def test_note_held_across_the_end_keeps_its_length() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    player.note(3.0, length=2.0, pitch=40)
    player.command(5.5, "layer-off")
    player.until(16.0)
    ons = [out.time_sec * 2 for out in player.outs if out.part == "layer" and out.data[0] & 0xF0 == 0x90]
    offs = [out.time_sec * 2 for out in player.outs if out.part == "layer" and out.data[0] & 0xF0 == 0x80]
    assert ons[:2] == pytest.approx([7.0, 11.0])
    assert offs[:2] == pytest.approx([9.0, 13.0])


def test_note_held_when_playing_stops_ends_there() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    player.on(1.0, pitch=40)
    player.command(2.0, "stop")
    player.off(9.0, pitch=40)
    assert player.looper.layers()[0].notes["duration_q"].tolist() == [1.0]


def test_an_early_downbeat_held_when_playing_stops_ends_there_too() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    player.note(1.0)
    player.on(3.9, pitch=45)
    player.command(3.97, "stop")
    notes = player.looper.layers()[0].notes
    assert notes["onset_q"] == pytest.approx([-0.1, 1.0])
    assert notes["duration_q"] == pytest.approx([0.07, 0.2])


def test_stop_silences_everything() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    player.note(0.0, length=3.5)
    player.command(5.0, "stop")
    check_pairs(player.outs)
    player.until(100.0)
    assert player.looper.next_due() is None


def test_retrigger_and_two_layers_on_one_pitch() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    player.note(1.0, length=3.0, pitch=40)
    player.note(4.5, length=0.1, pitch=40)
    player.note(5.0, length=3.0, pitch=40)
    player.command(7.0, "layer-off")
    player.until(17.0)
    player.command(17.0, "stop")
    check_pairs(player.outs)


def test_tempo_change_in_mid_cycle_moves_all_that_follows() -> None:
    player = layered()
    player.command(5.0, "tempo", tempo="60")
    # From 5 on a quarter lasts twice as long: the note on 6 comes at 7, the next downbeat at 11
    # (counted at 120).
    player.until(11.5)
    assert player.sounded() == [(4.0, 40), (7.0, 43), (11.0, 40)]
    assert [quarter for quarter, pitch in player.sounded("click") if pitch == 76] == [0.0, 4.0, 11.0]


def test_mute_is_at_once_and_unmute_brings_back() -> None:
    player = layered()
    player.command(4.05, "mute", layer=1)
    check_pairs([out for out in player.outs if out.part == "layer"])
    player.until(8.5)
    assert player.sounded() == [(4.0, 40)]
    player.command(8.6, "mute-toggle", layer="all")
    player.until(10.5)
    assert player.sounded() == [(4.0, 40), (10.0, 43)]


def test_replace_takes_the_place_of_the_newest_layer() -> None:
    player = layered()
    player.command(5.0, "replace")
    player.note(9.0, pitch=55)
    player.until(14.0)
    assert player.sounded() == [(4.0, 40), (6.0, 43), (13.0, 55)]
    assert [layer.number for layer in player.looper.layers()] == [1]
    player.command(14.0, "undo")
    player.until(16.5)
    assert player.sounded()[-1] == (16.0, 40)


def test_replace_with_nothing_played_keeps_the_layer() -> None:
    player = layered()
    player.command(5.0, "replace")
    player.until(16.5)
    assert player.sounded() == [(4.0, 40), (6.0, 43), (12.0, 40), (14.0, 43), (16.0, 40)]


def test_replace_then_undo_in_the_same_pass() -> None:
    player = layered()
    player.command(5.0, "replace")
    player.note(9.0, pitch=55)
    player.command(10.0, "undo")
    player.until(17.5)
    # Nothing is lost: what was played in the layer's place is a layer of its own.
    assert [layer.notes["pitch"].tolist() for layer in player.looper.layers()] == [[55]]
    assert player.sounded()[-2:] == [(13.0, 55), (17.0, 55)]
    player.command(18.0, "stop")
    check_pairs(player.outs)


def test_a_stop_just_before_the_end_leaves_nothing_laid_out_for_the_next_run() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    player.note(1.0, pitch=40)
    player.until(3.95)
    player.command(3.95, "stop")
    player.command(4.0, "start", bars=1)
    player.command(5.0, "brief", fields={"cycle": "4/4 4/4"})
    # An early downbeat joins the layer, and leaves it again when its own pass is layered: the layer
    # shrinks.
    player.note(7.95, pitch=45, length=0.1)
    player.command(8.2, "layer-on")
    player.note(10.5, pitch=47)
    player.until(18.5)
    assert player.sounded() == [(9.0, 40), (16.0, 45), (17.0, 40), (18.5, 47)]


def test_half_and_double_only_without_layers() -> None:
    player = layered()
    assert "there are layers" in player.command(5.0, "double")
    player.command(5.1, "clear")
    player.command(5.2, "double")
    player.until(8.5)
    assert str(player.looper.brief.cycle) == "4/4 4/4"
    player.command(9.0, "half")
    player.until(17.0)
    assert str(player.looper.brief.cycle) == "4/4"


def test_a_new_cycle_begins_with_the_next_one() -> None:
    player = started()
    player.command(1.0, "brief", fields={"cycle": "3/4"})
    player.until(11.0)
    assert [quarter for quarter, pitch in player.sounded("click") if pitch == 76] == [0.0, 4.0, 7.0, 10.0]


def test_late_arrival_still_belongs_to_the_layered_pass() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    player.note(1.0, pitch=40)
    player.command(3.0, "layer-off")
    player.until(3.7)
    # Played at 3.75, arrived 200 ms (0.4 quarters) later, after the pass had ended.
    player.note(3.75, length=0.05, pitch=47, late_sec=0.2)
    player.until(8.5)
    assert player.sounded() == [(5.0, 40), (7.75, 47)]


def test_latency_correction_moves_the_judgement_not_the_event() -> None:
    player = started()
    player.command(0.1, "late", port=0, sec=0.05)
    player.note(1.1, pitch=40)
    player.command(4.6, "keep")
    (keep,) = player.kept
    assert keep.events[0].time_sec == pytest.approx(0.55)
    player.command(4.7, "loop-that")
    assert player.looper.layers()[0].notes["onset_q"][0] == pytest.approx(1.0)


def test_keep_takes_raw_events_of_the_last_passes() -> None:
    player = started()
    player.note(0.5, pitch=40)
    player.note(3.97, pitch=41)
    player.note(5.0, pitch=42)
    player.note(7.97, pitch=43)
    player.command(8.6, "keep", passes=2, name="tide gate")
    (keep,) = player.kept
    pitches = [event.data[1] for event in keep.events if event.data[0] & 0xF0 == 0x90]
    assert pitches == [40, 41, 42]
    assert (keep.passes, keep.name, keep.start_sec) == (2, "tide gate", 0.0)
    assert keep.tempo_map[0][1:] == (0.0, 120.0)


def test_keep_without_a_finished_pass_takes_what_there_is() -> None:
    player = started()
    player.note(0.5, pitch=40)
    player.command(2.0, "keep")
    assert len(player.kept[0].events) == 2
    silent = Player()
    assert "Nothing was played" in silent.command(0.0, "keep")


def test_keep_after_a_rest_says_that_what_was_played_lies_further_back() -> None:
    player = Player()
    player.command(0.0, "start")
    player.note(0.5)
    player.until(8.2)
    said = player.command(8.3, "keep")
    assert said == "Nothing was played in pass 2; keep more passes to reach further back." and not player.kept
    assert player.command(8.4, "keep", passes=2) == "Kept passes 1 to 2."


def test_keep_of_free_playing_without_any_pass() -> None:
    player = Player()
    player.note(0.5, pitch=40)
    player.command(2.0, "keep")
    assert [event.data[1] for event in player.kept[0].events] == [40, 40]


def test_bends_travel_with_the_layer() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    player.on(1.0, pitch=40)
    player.looper.midi(0.6, 0.6, 0, bytes((0xE0, 0, 96)))
    player.off(1.5, pitch=40)
    player.looper.midi(0.8, 0.8, 0, bytes((0xE0, 0, 64)))
    player.command(3.0, "layer-off")
    player.until(6.0)
    bends = [(out.time_sec * 2, out.data[1] | out.data[2] << 7) for out in player.outs if out.data[0] & 0xF0 == 0xE0]
    assert bends[0] == (5.0, 8192)
    assert bends[1] == (pytest.approx(5.2), 96 << 7)


def test_unknown_command_and_wrong_arguments_are_answered() -> None:
    player = started()
    assert "no command" in player.command(0.1, "dance")
    assert "does not take" in player.command(0.2, "undo", bars=3)
    assert "1 to 16" in player.command(0.3, "keep", passes=17)
    assert "no layer 7" in player.command(0.4, "mute", layer=7)
    before = player.looper.brief
    player.command(0.5, "brief", fields={"tempo": "9000"})
    player.command(0.6, "brief", fields={"colour": "red"})
    assert player.looper.brief == before


def test_table_has_a_cell_for_every_state_and_its_actions_exist() -> None:
    for command in COMMANDS.values():
        assert len(command.cells) == (len(STATES) if command.owner == "looper" else 0), command
        for cell in command.cells:
            assert cell.refusal or cell.action in Player().looper._actions, cell


def test_layers_are_stored_as_played() -> None:
    player = layered()
    assert np.allclose(player.looper.layers()[0].notes["onset_q"], [0.02, 2.03])
    assert player.looper.state == LISTENING
    player.command(5.0, "stop")
    assert player.looper.state == STOPPED
    assert LAYERING in STATES
