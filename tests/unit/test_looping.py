"""A take of the shelf as a loop again: its layers, and of its playing all passes, the best one, or
the riff.
"""

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings

from loopdeck.engine.shelf_acts import prepare
from loopdeck.errors import UserError
from loopdeck.looper import known_touch
from loopdeck.looper.commands import check_command
from loopdeck.looper.given_layers import layer_from
from loopdeck.process.shelf_client import ShelfAnswer
from loopdeck.shelf.looping import BEST, LAYERS, PASSES, PLAYING, RIFF, loop_of
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import Take, take_of_keep
from tests.unit.looper_tools import Player
from tests.unit.shelf_tools import note_off, note_on, takes

RIFF_NOTES = ((0.0, 40), (0.75, 43), (1.25, 45), (1.5, 47), (2.0, 50), (2.5, 49), (3.25, 43))
HIGH = [pitch for _, pitch in RIFF_NOTES]


def played(passes: int = 4, odd: int = 2, layer: bool = True) -> Take:
    """So many passes of a riff, one of them (``odd``) with other notes and loosely; the first one
    is a layer, too.
    """
    player = Player(tempo="120", scale="E dorian")
    player.command(0.0, "start")
    for index in range(passes):
        for at_q, pitch in RIFF_NOTES:
            moved = 0.06 if index == odd else 0.01 * (index + 1)
            player.note(4.0 * index + at_q + moved, 0.2, pitch + (1 if index == odd else 0))
        if index == 0 and layer:
            player.command(4.05, "loop-that", reach=1)
    player.command(4.0 * passes + 0.1, "keep", passes=passes, name="quay steps")
    return take_of_keep(player.kept[0])


def notes(found: dict[str, Any], layer: int) -> list[tuple[float, int]]:
    return [(round(row[0], 2), row[2]) for row in found["layers"][layer]["notes"]]


def test_the_best_pass_is_the_one_that_has_most_in_common_with_the_others_and_is_tightest() -> None:
    found = loop_of(played(), BEST)
    # The first pass is the layer itself, which does not come twice; nothing of the playing is left.
    assert len(found["layers"]) == 1 and found["name"] == "pass 1 of quay steps"
    found = loop_of(played(layer=False), BEST)
    assert (
        notes(found, 0) == [(round(at + 0.01, 2), pitch) for at, pitch in RIFF_NOTES]
        and found["name"] == "pass 1 of quay steps"
    )
    assert found["fields"]["scale"] == "E dorian" and "count_in" not in found["fields"]


def test_all_passes_are_one_long_cycle_in_which_the_layers_repeat() -> None:
    found = loop_of(played(), PASSES)
    assert found["fields"]["cycle"] == "4/4 4/4 4/4 4/4" and found["name"] == "all 4 passes of quay steps"
    assert len(notes(found, 0)) == 28 and notes(found, 0)[7] == (4.01, 40)
    # The playing without the pass that is the layer.
    assert [at for at, _ in notes(found, 1)][:2] == [4.02, 4.77] and len(notes(found, 1)) == 21


def test_the_riff_comes_in_the_bars_it_touches() -> None:
    found = loop_of(played(6, odd=3, layer=False), RIFF)
    assert found["fields"]["cycle"] == "4/4" and found["fields"]["tempo"] == "120"
    assert [pitch for _, pitch in notes(found, 0)] == HIGH
    with pytest.raises(UserError, match=r"Nothing comes back in .*; take its best pass or all of its passes"):
        loop_of(played(1, odd=9, layer=False), RIFF)


def test_layers_alone_and_beside_the_loop_without_the_brief() -> None:
    found = loop_of(played(), LAYERS, beside=True)
    assert len(found["layers"]) == 1 and found["beside"] and "fields" not in found
    with pytest.raises(UserError, match="has no layers; take what was played"):
        loop_of(played(layer=False), LAYERS)


def test_an_empty_take_and_one_that_is_too_long_get_a_sentence() -> None:
    take = played(layer=False).changed(events=(), number=7)
    with pytest.raises(UserError, match=r"^Take 7, 'quay steps', has no notes, so there is nothing to loop\.$"):
        loop_of(take)
    take = played(layer=False)
    with pytest.raises(
        UserError, match=r"has 16 passes, 80 bars in all, and a cycle has 64 at most; take the best pass"
    ):
        loop_of(take.changed(brief=take.brief.replace(cycle="4/4 4/4 4/4 4/4 4/4"), passes=16), PASSES)


def test_a_take_whose_notes_lie_behind_its_passes_gets_a_sentence() -> None:
    take = played(layer=False).changed(events=(note_on(900.0, 40), note_off(901.0, 40)), passes=1)
    with pytest.raises(UserError, match=r"^'quay steps' has no note in a pass; take its riff or its layers\.$"):
        loop_of(take)


def test_a_bend_and_a_mute_come_along() -> None:
    player = Player()
    player.command(0.0, "start")
    player.on(1.0)
    player.looper.midi(player.sec(1.5), player.sec(1.5), 0, bytes((0xE0, 0, 96)))
    player.off(2.0)
    player.command(4.1, "loop-that")
    player.command(4.2, "mute", layer=1)
    player.command(4.3, "keep")
    found = loop_of(take_of_keep(player.kept[0]))
    (layer,) = found["layers"]
    assert layer["muted"] and layer["bends"]["0"][-1] == [0.5, 1.0]


def test_there_and_back_again_on_the_shelf(tmp_path: Path) -> None:
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        number = shelf.add(played())
        found = loop_of(shelf.get(number), PASSES)
    player = Player()
    player.command(0.0, "bring-back", **found)
    assert [len(layer) for layer in player.looper.layers()] == [28, 21]
    assert player.looper.brief.cycle.quarters == 16


@settings(max_examples=150)
@given(takes())
def test_any_take_is_a_loop_that_the_looper_takes_or_a_sentence(take: Take) -> None:
    for playing in PLAYING:
        try:
            found = loop_of(take, playing)
        except UserError as error:
            assert str(error).endswith(".")
        else:
            check_command("bring-back", found)


def test_a_long_loop_is_read_before_the_looper_has_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """What takes long is done in another thread: the looper asks for it and finds it."""
    rows = [[index * 0.125, 0.1, 40 + index % 5, 90, 0, 0] for index in range(400)]
    given = {"notes": rows, "bends": {}, "program": 34, "muted": False, "qpm": 120.0}
    expected = layer_from(given, 3).touch
    known_touch._known.clear()
    prepare(ShelfAnswer(1, "loop", {"loop": {"layers": [given]}, "levels": [0.0]}))
    prepare(ShelfAnswer(2, "loop", wrong="gone"))

    def never(*_: object) -> None:
        raise AssertionError("read anew")

    monkeypatch.setattr(known_touch, "touch_of", never)
    player = Player(tempo="120", cycle=" ".join(["4/4"] * 14))
    player.command(0.0, "bring-back", layers=[given], beside=False, name="long")
    player.command(1.0, "start-now")
    (layer,) = player.looper.layers()
    for one, other in zip(layer.touch, expected, strict=True):
        assert (one == other).all()
