"""A keep stands in the time and the brief its passes were played in, whatever came in between."""

import pytest

from loopdeck.rhythm.anchor import Anchor, forward
from loopdeck.shelf.material import Material, material_of
from loopdeck.shelf.take import take_of_keep
from tests.unit.looper_tools import Player


def kept(player: Player) -> Material:
    return material_of(take_of_keep(player.kept[-1]))


def places(found: Material) -> list[tuple[int, float]]:
    """(bar, quarters from the start) of each note."""
    return [(int(bar), round(float(at_q), 3)) for bar, at_q in zip(found.bars, found.onset_q, strict=True)]


@pytest.mark.parametrize("when", [3.7, 4.2])
def test_a_pass_is_kept_in_its_own_cycle_though_another_has_begun(when: float) -> None:
    player = Player()
    player.command(0.0, "start-now")
    player.note(1.0)
    player.command(2.0, "brief", fields={"cycle": "7/8", "scale": "E dorian"})
    player.command(when, "keep")
    player.until(5.0)
    brief = player.kept[-1].brief
    # What is a view of the playing goes along: the scale is that of the moment.
    assert (str(brief.cycle), str(brief.scale)) == ("4/4", "E dorian")
    assert player.kept[-1].passes == 1


def test_a_keep_may_end_with_an_earlier_pass_than_the_newest() -> None:
    player = Player()
    player.command(0.0, "start-now")
    for index in range(4):
        player.note(4 * index + 1, pitch=40 + index)
    player.until(16.5)
    assert player.command(16.5, "keep", passes=2, last=3) == "Kept passes 2 to 3."
    assert kept(player).notes.array["pitch"].tolist() == [41, 42]
    assert player.command(16.6, "keep") == "Kept pass 4."
    # In the last half beat of the pass that runs, it is waited for only if it is meant.
    assert player.command(19.7, "keep", last=4) == "Pass 4 was kept already."
    assert player.command(19.8, "keep", last=5) == "Pass 5 is kept when it ends."


def test_passes_of_several_cycles_are_one_long_cycle() -> None:
    player = Player()
    player.command(0.0, "start-now")
    player.note(0.5)
    player.command(1.0, "brief", fields={"cycle": "7/8"})
    player.note(4.5)
    player.note(7.6)
    player.command(11.2, "keep", passes=3)
    found = kept(player)
    assert (str(found.brief.cycle), found.take.recording.passes) == ("4/4 7/8 7/8", 1)
    assert places(found) == [(1, 0.5), (2, 4.5), (3, 7.6)]


def test_a_pass_after_a_stop_begins_with_a_bar() -> None:
    player = Player()
    player.command(0.0, "start-now")
    player.note(0.5)
    player.note(4.5)
    player.command(5.3, "stop")
    player.command(20.0, "tempo", tempo="90")
    player.command(20.1, "start", bars=1)
    start_q = 20.1 + 4 * 120 / 90
    player.note(start_q - 0.04, 0.1)
    player.note(start_q + 1.0, 0.1)
    player.command(start_q + 6.0, "keep", passes=3)
    found = kept(player)
    assert places(found) == [(1, 0.5), (2, 4.5), (3, 7.97), (3, 8.75)]
    assert str(found.brief.tempo) == "90"


def test_a_keep_has_the_tempo_it_was_played_in() -> None:
    player = Player()
    player.command(0.0, "start-now")
    player.note(1.0)
    player.command(3.9, "stop")
    player.command(5.0, "tempo", tempo="90")
    player.command(6.0, "keep")
    assert str(player.kept[-1].brief.tempo) == "120" and str(player.looper.brief.tempo) == "90"


@pytest.mark.parametrize("steps", [[("nudge", {"ms": 150.0})] * 3, [("follow", {"qpm": 121.0, "ms": 6.0})] * 2])
def test_what_is_kept_while_the_grid_moves_back_can_be_read(steps: list[tuple[str, dict[str, float]]]) -> None:
    player = Player()
    player.command(0.0, "start-now")
    for number, (name, args) in enumerate(steps):
        player.command(0.02 * number, name, **args)
    player.note(2.5)
    player.command(6.0, "keep")
    played = player.looper._core.recorder.passes[0].notes[0]
    assert places(kept(player)) == [(1, round(played.at_q, 3))]


def test_anchors_never_go_back() -> None:
    line = [Anchor(0.0, 0.0, 60.0), Anchor(0.1, -0.2, 60.0), Anchor(2.0, 1.7, 60.0), Anchor(2.1, 1.5, 90.0)]
    assert forward(line) == (Anchor(0.0, 0.0, 60.0), Anchor(pytest.approx(0.3), 0.0, 60.0), Anchor(2.1, 1.5, 90.0))
    assert forward(line[:1]) == (line[0],)


def test_a_pass_that_was_stopped_before_anything_was_played_in_it_does_not_count() -> None:
    player = Player()
    player.command(0.0, "start-now")
    player.note(1.0, pitch=33)
    player.note(5.0, pitch=35)
    player.command(8.2, "stop")
    assert player.command(9.0, "keep") == "Kept pass 2."
    assert player.command(9.1, "keep", passes=2) == "Kept passes 1 to 2."
    player.command(10.0, "start-now")
    player.until(15.0)
    # A whole pass of rest is one.
    assert player.command(15.0, "keep", passes=1).startswith("Nothing was played in pass 4")


def test_a_keep_led_by_a_clock_has_a_tempo_that_can_be_read() -> None:
    player = Player()
    player.command(0.0, "start-now")
    player.command(2.0, "follow", qpm=117.651543, ms=0.4)
    player.note(2.5)
    player.command(6.0, "follow", qpm=121.3, ms=0.0)
    player.command(6.5, "keep")
    assert str(player.kept[-1].brief.tempo) == "117.7"


@pytest.mark.parametrize("stopped_q", [1.5, 2.5, 3.5])
def test_an_early_downbeat_at_a_start_after_a_stop_stands_before_its_bar_line(stopped_q: float) -> None:
    player = Player()
    player.command(0.0, "start-now")
    player.note(0.5)
    player.command(stopped_q, "stop")
    # Stopped in the third beat, the next pass begins just where that one would have ended.
    player.on(19.92)
    player.command(20.0, "start-now")
    player.off(20.3)
    player.command(24.5, "keep", passes=2)
    assert [at_q for _, at_q in places(kept(player))] == [0.5, 3.92]


def test_a_tempo_at_the_edge_of_what_is_allowed_is_no_reason_not_to_keep() -> None:
    player = Player(tempo="dotted-quarter=13.333334")
    player.command(0.0, "start-now")
    player.note(1.0)
    player.command(2.0, "stop")
    player.command(3.0, "tempo", tempo="dotted-quarter=60")
    assert player.command(4.0, "keep") == "Kept pass 1."


@pytest.mark.parametrize("stopped_q", [3.8, 3.9, 3.99])
def test_an_early_downbeat_after_a_stop_just_before_the_bar_line_stands_before_it(stopped_q: float) -> None:
    player = Player()
    player.command(0.0, "start-now")
    player.note(0.5)
    player.command(stopped_q, "stop")
    player.command(20.0, "start", bars=1)
    player.note(23.95, 0.1)
    player.command(28.5, "keep", passes=2)
    assert [at_q for _, at_q in places(kept(player))] == [0.5, 3.95]
