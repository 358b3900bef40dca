"""Briefs chosen, saved and drawn in a real window, on the real looper."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from loopdeck.brief.brief import Brief, load_brief
from loopdeck.practice.drawn import read_draws
from loopdeck.window.layout import layout
from tests.waiting import until
from tests.window.conftest import Opened, window_on
from tests.window.looking import still
from tests.window.screen import Screen
from tests.window.test_window import inside, open_line


@pytest.fixture
def opened(screen: Screen, tmp_path: Path) -> Iterator[Opened]:
    """A window on a small engine, with folders of its own."""
    folders = {"XDG_CONFIG_HOME": str(tmp_path / "config"), "XDG_DATA_HOME": str(tmp_path / "data")}
    with window_on(screen, Brief.default().replace(scale="E minor pentatonic"), **folders) as one:
        yield one


def test_a_brief_is_chosen_saved_and_drawn(screen: Screen, opened: Opened, tmp_path: Path) -> None:
    looper = opened.engine.looper
    first = looper.brief
    page = layout(1280, 720).page

    def lines() -> np.ndarray:
        return inside(screen, opened, "briefs")[page.y : page.bottom, page.x : page.right]

    closed = still(lines, "the lanes")
    screen.key("shift+F1")
    still(lines, "the page of briefs", closed)
    # The first one of ours is chosen when none is in force; two further down.
    screen.key("Down", "Down", "Return")
    until(lambda: looper.brief.name == "Late tram", "the brief")
    # What was in force stands at the top now: down again, and save it under a name.
    still(lines, "the brief in force at the top")
    screen.key("Up", "Up", "Up", "Up")
    open_line(screen, opened, "briefs-line")
    screen.do("type", "--delay", "30", "Night bus")
    inside(screen, opened, "briefs-name")
    screen.key("Return")
    own = tmp_path / "config" / "loopdeck" / "briefs" / "night-bus.toml"
    until(own.exists, "the file")
    assert load_brief(own).cycle == looper.brief.cycle and str(load_brief(own).scale) == "G minor blues"
    until(lambda: looper.brief.name == "Night bus", "the name")

    screen.key("shift+F12")
    before = looper.brief
    screen.key("Right", "Return")
    draws = tmp_path / "data" / "loopdeck" / "draws.json"
    until(lambda: len(read_draws(draws)) == 1 and looper.brief.mood == "happy", "a draw")
    inside(screen, opened, "mood")
    screen.key("BackSpace")
    until(lambda: looper.brief == before, "the draw to be taken back")
    assert before != first
