"""A start after a stop: what is played in the count-in, or a little before the press, lands where
it would have at the first start.
"""

import pytest

from loopdeck.looper.recorder import FREE
from tests.unit.looper_tools import Player


def stopped_at(quarter: float, **fields: object) -> Player:
    """A player who started at 0 without a count-in, and stopped."""
    player = Player(**fields)
    player.command(0, "start-now")
    player.command(quarter, "stop")
    return player


def played_in(player: Player) -> dict[int, list[float]]:
    """By pass, where its notes begin; without the empty passes."""
    passes = player.looper._core.recorder.passes
    return {index: [round(note.at_q, 3) for note in one.notes] for index, one in passes.items() if one.notes}


@pytest.mark.parametrize("stopped_q", [0.7, 2.0, 3.9, 8.0, 10.5])
def test_notes_of_the_second_count_in_belong_to_no_pass(stopped_q: float) -> None:
    player = stopped_at(stopped_q)
    begun = stopped_q + 5
    player.command(begun, "start", bars=1)
    for index in range(10):
        player.note(begun + 0.25 + 0.75 * index)
    player.until(begun + 9)
    first = player.looper.pass_index - 1
    assert played_in(player) == {first: [0.0, 0.75, 1.5, 2.25, 3.0]}
    free = [note for note in player.looper._core.recorder.notes.values() if note.pass_index == FREE]
    assert len(free) == 5


@pytest.mark.parametrize("pause_q", [0.5, 2.0, 100.0])
def test_a_downbeat_held_over_the_second_start_is_its_downbeat(pause_q: float) -> None:
    player = stopped_at(3.0)
    begun = 3.0 + pause_q
    player.on(begun - 0.1)
    player.command(begun, "start-now")
    player.off(begun + 0.4)
    player.until(begun + 4.5)
    assert played_in(player) == {1: [-0.1]}


@pytest.mark.parametrize("pause_q", [0.5, 2.0, 100.0])
def test_a_late_pickup_at_the_second_start_is_judged_from_that_start(pause_q: float) -> None:
    player = stopped_at(3.0)
    player.looper._core.recorder.late_sec[0] = 0.05
    begun = 3.0 + pause_q
    player.command(begun, "start-now")
    player.note(begun + 0.04)
    player.until(begun + 4.5)
    assert played_in(player) == {1: [-0.06]}


def test_a_note_before_the_stop_that_arrives_after_the_next_start_stays_in_its_pass() -> None:
    player = Player()
    player.command(0, "start-now")
    player.command(3.0, "stop")
    player.command(3.1, "start-now")
    player.note(2.9, late_sec=0.15)
    player.until(8)
    assert played_in(player) == {0: [2.9]}


@pytest.mark.parametrize("stopped_q", [2.5, 3.5])
@pytest.mark.parametrize("layered", [True, False])
def test_an_early_downbeat_after_a_stop_is_not_one_of_the_pass_that_was_stopped(
    stopped_q: float, layered: bool
) -> None:
    player = Player()
    player.command(0.0, "layer-on" if layered else "start-now")
    player.note(1.0, pitch=41)
    player.command(stopped_q, "stop")
    player.command(20.0, "start", bars=1)
    player.note(23.95, 0.1, pitch=50)
    player.note(25.0, pitch=51)
    player.until(28.5)
    if not layered:
        player.command(28.5, "loop-pass", number=1)
    assert [layer.notes["pitch"].tolist() for layer in player.looper.layers()] == [[41]]
