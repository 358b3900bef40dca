"""Briefs chosen, saved and drawn in a real window, on the real looper."""

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from loopdeck.brief.brief import Brief, load_brief
from loopdeck.practice.drawn import read_draws
from tests.waiting import until
from tests.window.conftest import Opened, window_on
from tests.window.screen import Screen
from tests.window.test_window import inside


@pytest.fixture
def opened(screen: Screen, tmp_path: Path) -> Iterator[Opened]:
    """A window on a small engine, with folders of its own."""
    folders = {"XDG_CONFIG_HOME": str(tmp_path / "config"), "XDG_DATA_HOME": str(tmp_path / "data")}
    with window_on(screen, Brief.default().replace(scale="E minor pentatonic"), **folders) as one:
        yield one


def test_a_brief_is_chosen_saved_and_drawn(screen: Screen, opened: Opened, tmp_path: Path) -> None:
    looper = opened.engine.looper
    first = looper.brief
    screen.key("shift+F1")
    time.sleep(0.6)
    inside(screen, opened, "briefs")
    # The first one of ours is chosen when none is in force; two further down.
    screen.key("Down", "Down", "Return")
    until(lambda: looper.brief.name == "Late tram", "the brief")
    # What was in force stands at the top now: down again, and save it under a name.
    screen.key("Up", "Up", "Up")
    time.sleep(0.3)
    screen.key("Up", "Return")
    time.sleep(0.3)
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
    time.sleep(0.4)
    inside(screen, opened, "mood")
    screen.key("BackSpace")
    until(lambda: looper.brief == before, "the draw to be taken back")
    assert before != first
