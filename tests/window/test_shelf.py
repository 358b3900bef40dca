"""The shelf in the real window: opened, searched by typing, heard, rated, looped while time runs,
taken back by one undo, binned.
"""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from loopdeck.capture.journal import CommandRecord, read_journal
from loopdeck.shelf.store import Shelf
from loopdeck.window.layout import Box, layout
from loopdeck.window.theme import PAPER
from tests.unit.test_looping import played
from tests.waiting import PATIENCE_SEC, until
from tests.window.looking import seen, still
from tests.window.screen import Screen
from tests.window.test_jam import Jam, jam
from tests.window.test_window import is_framed, share

__all__ = ["jam"]
NAMES = ("tide gate", "quay steps", "rain on slate", "low ember", "harbour light", "ferry bell", "kelp")


@pytest.fixture
def filled(tmp_path: Path) -> Path:
    """The shelf that the session finds."""
    path = tmp_path / "shelf.sqlite"
    take = played(3, odd=9)
    with Shelf(path) as shelf:
        for name in NAMES:
            shelf.add(replace(take, name=name))
    return path


def commands(one: Jam) -> list[CommandRecord]:
    (path,) = (one.folder / "journals").glob("*.journal")
    return [record for record in read_journal(path).records if isinstance(record, CommandRecord)]


def asked(one: Jam, name: str) -> Callable[[], bool]:
    return lambda: any(record.name == name for record in commands(one))


def test_the_shelf_while_time_runs(screen: Screen, filled: Path, jam: Jam) -> None:
    boxes = layout(1280, 720)
    page = boxes.page
    screen.key("Tab")
    until(asked(jam, "start-stop"), "the start")
    before = jam.cut("shelf-before", page)
    screen.key("shift+F11")
    # The rows come from a process that has to start; then there is ink in each of the five.
    still(lambda: jam.cut("shelf-open", page), "the page", before)
    until(lambda: share(jam.cut("shelf-open", page), PAPER.ink) > 0.02, "the rows")

    screen.key("shift+Return")
    seen(lambda: jam.cut("shelf-line", boxes.sections["message"]), is_framed, "a line to type on")
    for letter in "ember":
        screen.key(letter)
    screen.key("Return")
    # One row is left, and it is there: nothing is rated before that.
    first = Box(page.x + 30, page.y + 50, 300, 54)
    others = Box(page.x + 30, page.y + 120, page.w - 60, page.h - 250)
    until(
        lambda: (
            share(jam.cut("shelf-one", first), PAPER.ink) > 0.02
            and share(jam.cut("shelf-one", others), PAPER.ink) < 0.0005
        ),
        "one row",
    )
    screen.key("shift+Right", "shift+Right", "shift+Right")

    def rating() -> int:
        with Shelf(filled) as shelf:
            return shelf.get("low ember").rating

    until(lambda: rating() == 3, "the rating")
    jam.cut("shelf-found", page)

    # Hear it, beside the click; then its best pass is the loop.
    screen.key("Return")
    screen.key("Right", "Return")
    until(asked(jam, "bring-back"), "the loop")
    (record,) = [one for one in commands(jam) if one.name == "bring-back"]
    assert record.args["name"] == "pass 1 of low ember" and [
        len(layer["notes"]) for layer in record.args["layers"]
    ] == [7]
    # It is practised from the page, in its own tempo's first rung, until Insert ends it.
    screen.key(*["Right"] * 5, "Return")
    until(asked(jam, "start"), "practising")
    briefs = [one.args["fields"] for one in commands(jam) if one.name == "brief"]
    # Time ran in a cycle of one bar, and the take has three: the run takes its own cycle over.
    assert briefs[-1]["cycle"] == "4/4 4/4 4/4" and briefs[-1]["tempo"] == "72" and briefs[-1]["scale"] == "E dorian"
    jam.cut("shelf-practised", page)
    screen.key("Insert")
    until(lambda: [one.name for one in commands(jam)].count("brief") == 2, "the brief of before")
    screen.key("shift+F11")
    until(lambda: share(jam.cut("shelf-again", first), PAPER.ink) > 0.02, "the row")
    screen.key("Delete")

    def names() -> set[str]:
        with Shelf(filled) as shelf:
            return {row["name"] for row in shelf.find(binned=True)}

    until(lambda: names() == {"low ember"}, "the bin")
    jam.cut("shelf-empty", page)
    screen.key("Escape")
    until(lambda: share(jam.cut("shelf-looped", page), PAPER.ink) > 0.01, "the loop on the lanes")
    screen.key("BackSpace")
    until(asked(jam, "undo"), "the undo")
    screen.leave(jam.left)
    assert jam.process.wait(PATIENCE_SEC) == 0
