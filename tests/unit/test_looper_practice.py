"""Practice in the looper: chosen clicks, silences and the report after them, ramps, tapping,
nudging, the guide groove.
"""

import numpy as np
import pytest

from loopdeck.looper.machine import Looper
from tests.unit.looper_tools import Player, brief, check_pairs


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


@pytest.mark.parametrize(
    ("name", "args"),
    [
        ("clicks", {"clicks": "all"}),
        ("groove", {"groove": "busy"}),
        ("brief", {"fields": {"swing": "62%"}}),
        ("brief", {"fields": {"swing": "62%", "clicks": "all"}}),
    ],
)
@pytest.mark.parametrize("tempo", ["96", "133", "171.3"])
def test_a_change_at_the_very_moment_of_a_stroke_doubles_and_drops_none(
    name: str, args: dict[str, object], tempo: str
) -> None:
    """The looper runs ahead from stroke to stroke, so commands take effect just where one was
    struck.
    """
    for stop_at in range(1, 26):
        looper = Looper(brief(tempo=tempo, cycle="4/4 4+3/8", groove="busy", count_in=0))
        looper.command(0.0, "start")
        for _ in range(200):
            due = looper.next_due()
            assert due is not None
            looper.advance(due)
            if (
                len([out for out in looper._core.playback.outs if out.part == "click" and out.data[0] == 0x99])
                == stop_at
            ):
                break
        looper.command(looper.now_sec, name, **args)
        looper.advance(16.0)
        clicks = [out.time_sec for out in looper.take_outs() if out.part == "click" and out.data[0] == 0x99]
        quarters = np.array(clicks) * looper.brief.tempo.quarters_per_minute / 60.0
        places = np.array([0, 1, 2, 3, 4, 4.5, 5, 5.5, 6, 6.5, 7])
        expected = (np.arange(9)[:, None] * 7.5 + places).ravel()[: len(quarters)]
        np.testing.assert_allclose(quarters, expected, atol=1e-6)


def test_a_nudge_earlier_keeps_the_order_of_strokes() -> None:
    looper = Looper(brief(groove="busy", count_in=0))
    looper.command(0.0, "start")
    looper.advance(1.05)
    looper.command(1.05, "nudge", ms=-200)
    looper.advance(4.0)
    hats = [out.time_sec for out in looper.take_outs() if out.data[:2] == bytes((0x99, 42)) and out.data[2]]
    assert hats == sorted(hats)
    # What was jumped over comes at the jump, and everything after it 200 ms earlier than it would
    # have.
    later = [sec for sec in hats if sec > 1.06]
    assert np.allclose((np.array(later) + 0.2) / 0.125 % 1.0 % 0.9999, 0.0, atol=1e-3)


def test_a_new_layer_is_not_bent_by_the_one_before() -> None:
    player = started()
    player.command(0.1, "layer-on")
    player.on(0.5, 40)
    player.looper.midi(player.sec(0.7), player.sec(0.7), 0, bytes((0xE0, 0x7F, 0x7F)))
    player.off(1.0, 40)
    # The player's own string is straight again before the next note.
    player.looper.midi(player.sec(1.2), player.sec(1.2), 0, bytes((0xE0, 0, 0x40)))
    player.command(3.5, "layer-off")
    player.until(9.0)
    bends = [out.data for out in player.outs if out.part == "layer" and out.data[0] == 0xE1]
    assert bends and bends[-1] == bytes((0xE1, 0x7F, 0x7F))
    player.command(9.5, "undo")
    player.note(10.0, pitch=45)
    player.command(13.5, "loop-that")
    player.outs.clear()
    player.until(15.9)
    sent = [out.data for out in player.outs if out.part == "layer" and out.data[0] in (0xE1, 0x91)]
    assert sent[:2] == [bytes((0xE1, 0x00, 0x40)), bytes((0x91, 45, 90))]


def test_a_bend_that_is_played_sounds_through_with_its_note() -> None:
    looper = Looper(brief())
    looper.command(0.0, "thru", port=0, on=True)
    heard = [
        bytes((0xB2, 101, 0)), bytes((0x92, 40, 90)), bytes((0xE2, 0, 0x60)), bytes((0xE1, 0, 0x10)), bytes((0xB2, 6, 12)),
        bytes((0xB2, 1, 9)),
    ]  # fmt: skip
    for index, data in enumerate(heard):
        looper.midi(0.1 * index, 0.1 * index, 0, data)
        looper.midi(0.1 * index, 0.1 * index, 1, data)
    # On the one live channel; another string's bend, and controllers that are not the bend's, stay
    # out, as does an input without thru.
    assert [(out.part, out.data) for out in looper.take_outs()] == [
        ("live", bytes((0xB0, 101, 0))), ("live", bytes((0x90, 40, 90))), ("live", bytes((0xE0, 0, 0x60))),
        ("live", bytes((0xB0, 6, 12))),
    ]  # fmt: skip


def test_silent_bars_drop_out_and_the_report_says_how_far_one_had_drifted() -> None:
    player = started(clicks="1 on, 1 off")
    # In time in the bar with the click; in the silent bar every quarter comes 10 ms (0.02 quarters)
    # earlier than the one before.
    for index in range(4):
        player.note(float(index) + 0.001, pitch=40)
    for index in range(4):
        player.note(4.0 + index - 0.02 * (index + 1), pitch=40)
    player.note(8.0 - 0.1, pitch=40)
    player.until(12.5)
    assert [quarter for quarter, _ in player.sounded("click")] == [0.0, 1.0, 2.0, 3.0, 8.0, 9.0, 10.0, 11.0]
    (said,) = [text for text in player.said if "silent" in text]
    assert "ahead" in said and "fast" in said


def test_the_report_comes_soon_after_the_return_and_at_the_latest_by_a_stop() -> None:
    """Not only at the end of a pass: four bars are long."""
    for stop_q in (None, 9.2):
        player = started(cycle="4/4 4/4 4/4 4/4", clicks="1 on, 1 off")
        for index in range(9):
            player.note(index + (0.06 if index > 3 else 0.0), pitch=40)
        if stop_q is None:
            player.until(10.1)
        else:
            player.until(8.9)
            assert not [text for text in player.said if "silent" in text]
            player.command(stop_q, "stop")
        assert len([text for text in player.said if "30 ms behind" in text]) == 1, player.said


def test_a_drift_is_told_in_the_tempo_of_its_silence() -> None:
    """A ramp's step between the silence and the report changes nothing: 0.1 quarters at 120 are 50
    ms.
    """
    player = started(clicks="1 on, 1 off", ramp="+40 every 2 to 160")
    for index in range(8):
        player.note(index + (0.1 if index > 3 else 0.0), pitch=40)
    player.until(12.0)
    assert [text for text in player.said if "50 ms behind" in text], player.said


def test_silent_bars_go_on_counting_when_the_cycle_changes() -> None:
    player = started(cycle="4/4 4/4 4/4 4/4", clicks="2 on, 2 off")
    player.command(10.0, "brief", fields={"cycle": "4/4 4/4 4/4"})
    player.until(39.9)
    bars = sorted({int(quarter // 4) for quarter, _ in player.sounded("click")})
    assert bars == [0, 1, 4, 5, 8, 9]


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
    assert "from -200 to 200 ms" in player.command(4.6, "nudge", ms=5000)


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


@pytest.mark.parametrize(
    ("tempo", "step", "expected"),
    [("8th=232.5", "+20 every 1 to 160", "8th=272.5"), ("116.25", "+20 every 1 to 160", "136.25")],
)
def test_a_ramp_keeps_the_unit_the_tempo_was_written_in(tempo: str, step: str, expected: str) -> None:
    player = started(tempo=tempo, ramp=step)
    player.until(4.5)
    assert str(player.looper.brief.tempo) == expected


def test_a_clock_source_keeps_the_unit_the_tempo_was_written_in() -> None:
    player = started(tempo="8th=200")
    player.command(0.5, "follow", qpm=116.27, ms=0.0)
    assert str(player.looper.brief.tempo) == "8th=232.5"


def test_a_correction_that_is_taken_away_is_said_so() -> None:
    player = started()
    assert player.command(0.5, "late", port=0, sec=0.0) == "Input 1 is judged as it arrives."
