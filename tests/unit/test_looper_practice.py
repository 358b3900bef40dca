"""Practice in the looper: chosen clicks, silences and the report after them, ramps, tapping, nudging, the guide groove."""

import pytest

from tests.unit.looper_tools import Player, check_pairs


def started(**fields: object) -> Player:
    player = Player(**fields)
    player.command(0.0, "start")
    return player


def test_only_the_chosen_clicks_sound() -> None:
    player = started(clicks="2 4")
    player.until(7.9)
    assert [quarter for quarter, _ in player.sounded("click")] == [1.0, 3.0, 5.0, 7.0]


def test_clicks_change_at_once_and_none_is_doubled() -> None:
    player = started()
    player.command(1.5, "clicks", clicks="bar")
    player.command(5.5, "clicks", clicks="all; double")
    player.until(7.4)
    assert [quarter for quarter, _ in player.sounded("click")] == [0.0, 1.0, 4.0, 6.0, 6.5, 7.0]


def test_silent_bars_drop_out_and_the_report_says_how_far_one_had_drifted() -> None:
    player = started(clicks="1 on, 1 off")
    # In time in the bar with the click; in the silent bar every quarter comes 10 ms (0.02 quarters) earlier than the one before.
    for index in range(4):
        player.note(float(index) + 0.001, pitch=40)
    for index in range(4):
        player.note(4.0 + index - 0.02 * (index + 1), pitch=40)
    player.note(8.0 - 0.1, pitch=40)
    player.until(12.5)
    assert [quarter for quarter, _ in player.sounded("click")] == [0.0, 1.0, 2.0, 3.0, 8.0, 9.0, 10.0, 11.0]
    (said,) = [text for text in player.said if "silent" in text]
    assert "ahead" in said and "fast" in said


def test_no_report_without_a_silence() -> None:
    player = started()
    for index in range(12):
        player.note(index + 0.05, pitch=40)
    player.until(13.0)
    assert not [text for text in player.said if "silent" in text]


def test_ramp_rises_every_few_cycles_up_to_its_target() -> None:
    player = started()
    player.command(0.5, "ramp", ramp="+30 every 1 to 170")
    looper = player.looper
    tempi = []
    for _ in range(5):
        before = looper.pass_index
        while looper.pass_index == before:
            due = looper.next_due()
            assert due is not None
            looper.advance(due)
        tempi.append(looper.brief.tempo.quarters_per_minute)
    assert tempi == [150.0, 170.0, 170.0, 170.0, 170.0]


def test_tapping_sets_the_tempo() -> None:
    player = Player()
    for index in range(4):
        player.looper.command(1.0 + 0.4 * index, "tap")
    assert player.looper.brief.tempo.quarters_per_minute == pytest.approx(150.0, abs=0.01)


def test_nudge_moves_the_grid_and_keeps_the_tempo() -> None:
    player = started()
    player.command(0.5, "nudge", ms=20)
    player.until(2.5)
    # 20 ms are 0.04 quarters at 120.
    assert [quarter for quarter, _ in player.sounded("click")] == [0.0, 1.04, 2.04]
    player.command(2.5, "nudge", ms=-20)
    player.until(4.5)
    assert [quarter for quarter, _ in player.sounded("click")][3:] == [3.0, 4.0]
    assert "at most" in player.command(4.6, "nudge", ms=5000)


def test_groove_joins_or_replaces_the_click_and_follows_the_swing() -> None:
    player = started(groove="sparse", cycle="4/4 4+3/8")
    player.until(7.4)
    drums = player.sounded("drums")
    assert {(0.0, 36), (1.0, 38), (3.0, 38), (4.0, 36), (6.0, 38)} <= set(drums)
    assert player.sounded("click")
    alone = started(groove="medium alone", swing="2:1 1/8")
    alone.until(3.9)
    assert alone.sounded("click") == []
    assert (round(2 / 3, 6), 42) in alone.sounded("drums")
    alone.command(4.0, "stop")
    check_pairs(alone.outs)


def test_a_silent_bar_silences_the_groove_too() -> None:
    player = started(groove="busy", clicks="1 on, 1 off")
    player.until(7.99)
    assert all(quarter < 4.0 for quarter, _ in player.sounded("drums"))


def test_wrong_words_are_answered() -> None:
    player = started()
    for command, args in (("groove", {"groove": "polka"}), ("clicks", {"clicks": "purple"}), ("ramp", {"ramp": "up"})):
        before = player.looper.brief
        said = player.command(0.5, command, **args)
        assert said.endswith(".") and player.looper.brief == before
