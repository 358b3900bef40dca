"""Solo, delete and the identity of a keep: any layer, not only the newest."""

import pytest

from loopdeck.brief.spec import BEAT, CYCLE, NOW
from loopdeck.looper.commands import COMMANDS, END, FIELD, LOOP, NAMED, START, Cell
from tests.unit.looper_tools import Player, check_pairs


def three() -> Player:
    """Layers 1, 2 and 3 of one note each (40, 41, 42 on beats 2); now in pass 4, counted from 0,
    all sounding.
    """
    player = Player()
    player.command(0.0, "layer-on")
    for index in range(3):
        player.note(4 * index + 1, pitch=40 + index)
    player.command(11.0, "layer-off")
    player.until(16.0)
    player.outs.clear()
    return player


def sounding(player: Player, until: float) -> list[int]:
    player.outs.clear()
    player.until(until)
    return [pitch for _, pitch in player.sounded()]


def test_solo_and_back() -> None:
    player = three()
    player.command(16.1, "mute", layer=1)
    assert player.command(16.2, "solo", layer=2) == "Solo: layer 2."
    assert sounding(player, 20.0) == [41]
    assert player.looper.muted == {1, 3}
    assert player.command(20.1, "solo", layer=2) == "No layer is soloed."
    assert sounding(player, 24.0) == [41, 42]
    player.command(24.1, "solo", layer=1)
    assert sounding(player, 28.0) == [40], "a muted layer sounds when it is soloed"
    player.command(28.1, "solo", layer="all")
    assert sounding(player, 32.0) == [40, 41, 42]


def test_solo_silences_at_once_what_sounds() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    player.note(0.0, length=3.0, pitch=40)
    player.note(4.5, length=0.5, pitch=41)
    player.command(7.0, "layer-off")
    player.until(9.0)
    player.command(9.0, "solo", layer=2)
    check_pairs([out for out in player.outs if out.part == "layer"], all_ended=True)


def test_delete_takes_any_layer_and_undo_brings_it_back() -> None:
    player = three()
    assert "undo brings it back" in player.command(16.1, "delete", layer=2)
    assert [layer.number for layer in player.looper.layers()] == [1, 3]
    assert sounding(player, 20.0) == [40, 42]
    player.command(20.1, "undo")
    assert sounding(player, 24.0) == [40, 41, 42]
    player.command(24.1, "redo")
    assert [layer.number for layer in player.looper.layers()] == [1, 3]
    assert "no layer 2" in player.command(24.2, "delete", layer=2)


def test_the_solo_ends_with_its_layer() -> None:
    player = three()
    player.command(16.1, "solo", layer=2)
    player.command(16.2, "delete", layer=2)
    assert sounding(player, 20.0) == [40, 42]


def test_delete_of_the_layer_that_is_being_replaced() -> None:
    player = three()
    player.command(17.0, "replace")
    player.note(21.0, pitch=55)
    player.command(22.0, "delete", layer=3)
    player.until(25.5)
    assert [layer.notes["pitch"].tolist() for layer in player.looper.layers()] == [[40], [41], [55]]


def test_keep_twice_on_the_same_passes_has_one_identity() -> None:
    player = three()
    assert player.command(16.6, "keep", passes=2) == "Kept passes 3 to 4."
    assert player.command(17.0, "keep", passes=2, name="again") == "Passes 3 to 4 were kept already."
    player.command(17.1, "mute", layer=1)
    player.command(17.2, "keep", passes=2)
    player.command(17.3, "keep", passes=1)
    first, again, other_layers, other_passes = [keep.identity for keep in player.kept]
    assert first == again
    assert len({first, other_layers, other_passes}) == 3


def test_a_keep_of_a_pass_that_goes_on_is_another_one_once_more_was_played() -> None:
    player = Player()
    player.command(0.0, "start")
    player.note(0.5)
    player.command(1.0, "keep")
    player.command(1.1, "keep")
    player.note(1.2)
    player.command(2.0, "keep")
    one, two, three = [keep.identity for keep in player.kept]
    assert one == two != three


@pytest.mark.parametrize(("when", "changes_at"), [(NOW, 5.0), (BEAT, 6.0), (CYCLE, 8.0), (START, 8.0), (END, 5.0)])
def test_the_machine_takes_the_moment_from_the_table(
    monkeypatch: pytest.MonkeyPatch, when: str, changes_at: float
) -> None:
    player = three()
    command = COMMANDS["clear"]
    monkeypatch.setitem(COMMANDS, "clear", command._replace(cells=(Cell("clear", when),) * 5))
    player.until(17.0)
    player.command(17.2, "clear")
    at = changes_at + 12.0 + (0.2 if changes_at == 5.0 else 0.0)
    player.until(at - 0.01)
    assert bool(player.looper.layers()) == (at > 17.21)
    player.until(at + 0.01)
    assert player.looper.layers() == []


@pytest.mark.parametrize(("when", "state"), [(NOW, "LAYERING"), (CYCLE, "LISTENING"), (START, "LISTENING")])
def test_layering_begins_when_the_table_says(monkeypatch: pytest.MonkeyPatch, when: str, state: str) -> None:
    command = COMMANDS["layer-on"]
    monkeypatch.setitem(
        COMMANDS, "layer-on", command._replace(cells=(*command.cells[:2], *(Cell("layer_on", when),) * 3))
    )
    player = Player()
    player.command(0.0, "start")
    player.command(2.0, "layer-on")
    assert player.looper.state == state


def test_sentences_name_the_pass_they_speak_of() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    assert player.command(0.2, "layer-off") == "No pass is layered."
    assert player.command(0.3, "layer-on") == "Layering pass 1."
    player.note(1.0)
    assert player.command(4.3, "layer-off") == "Pass 1 was the last one layered."
    assert player.command(6.0, "layer-on") == "Layering from the next cycle."
    player.until(9.0)
    assert player.command(10.0, "layer-off") == "Pass 3 is the last one layered."
    assert player.command(11.0, "keep", passes=2) == "Kept passes 1 to 2."
    assert player.command(11.8, "keep") == "Pass 3 is kept when it ends."
    player.until(12.1)
    assert player.said[-1] == "Kept pass 3."


@pytest.mark.parametrize(("when", "at_once"), [(NOW, True), (LOOP, False)])
def test_a_loop_whose_brief_changes_changes_when_the_table_says(
    monkeypatch: pytest.MonkeyPatch, when: str, at_once: bool
) -> None:
    """A swing for the whole loop, and an undo of it (a pass is two seconds long)."""
    for name in ("vary", "undo"):
        monkeypatch.setitem(COMMANDS, name, COMMANDS[name]._replace(cells=(Cell(name, when),) * 5))
    player = three()
    straight = player.looper.brief.swing
    player.command(17.0, "vary", how="swing 66%")
    assert (player.looper.brief.swing != straight) == at_once
    player.until(20.1)
    assert player.looper.brief.swing != straight
    player.command(20.2, "undo")
    assert (player.looper.brief.swing == straight) == at_once
    player.until(24.1)
    assert player.looper.brief.swing == straight


@pytest.mark.parametrize(("when", "swings_at_once"), [(NOW, True), (FIELD, False)])
def test_fields_of_the_brief_change_when_the_table_says(
    monkeypatch: pytest.MonkeyPatch, when: str, swings_at_once: bool
) -> None:
    monkeypatch.setitem(COMMANDS, "brief", COMMANDS["brief"]._replace(cells=(Cell("change_brief", when),) * 5))
    player = three()
    straight = player.looper.brief.swing
    player.command(17.2, "brief", fields={"swing": "66%"})
    assert (player.looper.brief.swing != straight) == swings_at_once
    player.until(18.1)
    assert player.looper.brief.swing != straight


@pytest.mark.parametrize(("when", "waits"), [(NAMED, True), (NOW, False)])
def test_a_pass_that_still_runs_is_looped_when_the_table_says(
    monkeypatch: pytest.MonkeyPatch, when: str, waits: bool
) -> None:
    cells = tuple(cell._replace(when=when) for cell in COMMANDS["loop-pass"].cells)
    monkeypatch.setitem(COMMANDS, "loop-pass", COMMANDS["loop-pass"]._replace(cells=cells))
    player = Player()
    player.command(0.0, "start")
    player.note(1.0)
    assert ("when it ends" in player.command(2.0, "loop-pass", number=1)) == waits
    player.until(4.1)
    assert len(player.looper.layers()) == waits
