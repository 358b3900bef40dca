"""The screen and the window under test."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
import pytest

from loopdeck.brief.brief import Brief
from loopdeck.protocol.address import forget_address, new_address
from loopdeck.window.layout import layout
from loopdeck.window.theme import PAPER
from tests.waiting import PATIENCE_SEC, until
from tests.window.screen import ROOT, Screen, missing
from tests.window.small_engine import SmallEngine


@pytest.fixture(scope="session")
def screen() -> Iterator[Screen]:
    """A virtual screen for all tests of this folder."""
    gone = missing()
    if gone and not os.environ.get("CI"):
        pytest.skip(
            f"a real window cannot be tested here: {', '.join(gone)} not installed (packages xvfb xdotool imagemagick)"
        )
    assert not gone, f"not installed: {', '.join(gone)}"
    one = Screen()
    yield one
    one.close()


@dataclass
class Opened:
    """A window on a small engine."""

    engine: SmallEngine
    process: "subprocess.Popen[bytes]"
    id: str


def is_drawn(screen: Screen, window: str) -> bool:
    """Whether the window shows what the engine has told it of its brief: the line at its foot
    begins with that.
    """
    x, y, w, h = screen.geometry(window)
    foot = layout(w, h).sections["devices"]
    cut = screen.shot("opening")[y + foot.y : y + foot.bottom, x + foot.x : x + foot.right]
    return bool((cut == np.array(PAPER.ink, np.uint8)).all(axis=2).mean() > 0.005)


@contextmanager
def window_on(screen: Screen, brief: Brief, **env: str) -> Iterator[Opened]:
    """A real window in a process of its own, on a small engine that plays in ``brief``."""
    screen.clear()
    address = new_address()
    engine = SmallEngine(address, brief)
    env = screen.env | {"SDL_VIDEODRIVER": "x11", "SDL_RENDER_DRIVER": "software", "SDL_AUDIODRIVER": "dummy"} | env
    process = subprocess.Popen([sys.executable, "-m", "loopdeck.window.window", address], cwd=ROOT, env=env)
    try:
        assert engine.joined.wait(PATIENCE_SEC), "the window did not greet the engine"
        one = Opened(engine, process, screen.window())
        until(lambda: is_drawn(screen, one.id), "the first picture")
        yield one
    finally:
        if process.poll() is None:
            process.kill()
        process.wait(PATIENCE_SEC)
        engine.close()
        forget_address(address)


@pytest.fixture
def opened(screen: Screen) -> Iterator[Opened]:
    """A window in 4/4, with swing and a scale."""
    brief = Brief.default().replace(
        name="quay steps", tempo="150", cycle="4/4", swing="58%", scale="E dorian", count_in="0"
    )
    with window_on(screen, brief) as one:
        yield one
