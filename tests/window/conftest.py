"""The screen and the window under test."""

import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from loopdeck.brief.brief import Brief
from loopdeck.protocol.address import forget_address, new_address
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


@pytest.fixture
def opened(screen: Screen) -> Iterator[Opened]:
    """A real window in a process of its own, on the small engine."""
    brief = Brief.default().replace(
        name="quay steps", tempo="150", cycle="4/4", swing="58%", scale="E dorian", count_in="0"
    )
    address = new_address()
    engine = SmallEngine(address, brief)
    env = screen.env | {"SDL_VIDEODRIVER": "x11", "SDL_RENDER_DRIVER": "software", "SDL_AUDIODRIVER": "dummy"}
    process = subprocess.Popen([sys.executable, "-m", "loopdeck.window.window", address], cwd=ROOT, env=env)
    try:
        assert engine.joined.wait(20), "the window did not greet the engine"
        yield Opened(engine, process, screen.window())
    finally:
        if process.poll() is None:
            process.kill()
        process.wait(10)
        engine.close()
        forget_address(address)
