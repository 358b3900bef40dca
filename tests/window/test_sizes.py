"""The real window on screens of every size, with and without a window manager: never larger than
the screen, its foot in sight,
no black patch left by full screen."""

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import pytest

from loopdeck.brief.brief import Brief
from loopdeck.protocol.address import forget_address, new_address
from loopdeck.window.layout import layout
from loopdeck.window.theme import PAPER
from tests.waiting import PATIENCE_SEC, until
from tests.window.looking import seen, still
from tests.window.screen import ROOT, Screen, missing
from tests.window.small_engine import SmallEngine
from tests.window.test_window import share

#: A screen and whether windows are managed on it.
SCREENS = [
    ((800, 480), False), ((800, 480), True), ((1280, 720), True), ((1920, 1080), False), ((3840, 2160), True),
]  # fmt: skip


@contextmanager
def opened_on(size: tuple[int, int], managed: bool) -> Iterator[tuple[Screen, str]]:
    """A window on a screen of its own, with openbox on it if ``managed``."""
    needed = [*missing(), *(["openbox"] if managed and shutil.which("openbox") is None else [])]
    if needed and not os.environ.get("CI"):
        pytest.skip(f"not installed: {', '.join(needed)}")
    assert not needed, f"not installed: {', '.join(needed)}"
    screen = Screen(size)
    manager = subprocess.Popen(["openbox"], env=screen.env, stderr=subprocess.DEVNULL) if managed else None
    address = new_address()
    engine = SmallEngine(address, Brief.default().replace(scale="E dorian"))
    env = screen.env | {"SDL_VIDEODRIVER": "x11", "SDL_AUDIODRIVER": "dummy"}
    if managed:
        until(lambda: "window id" in screen.ask("xprop", "-root", "_NET_SUPPORTING_WM_CHECK").stdout, "openbox")
    window = subprocess.Popen([sys.executable, "-m", "loopdeck.window.window", address], cwd=ROOT, env=env)
    try:
        assert engine.joined.wait(PATIENCE_SEC)
        found = screen.window()
        if managed and size[0] <= 1280:
            # It fills a small screen as soon as it shows something.
            until(lambda: "MAXIMIZED_VERT" in screen.property(found, "_NET_WM_STATE"), "the window to fill the screen")
        yield screen, found
    finally:
        for process in (window, manager):
            if process is not None:
                process.kill()
                process.wait(PATIENCE_SEC)
        engine.close()
        screen.close()
        forget_address(address)


def check(screen: Screen, window: str, size: tuple[int, int], name: str) -> tuple[int, int]:
    """The window lies within the screen, is drawn to its edges, and its foot is written; returns
    its size.
    """
    place = (0, 0, 0, 0)

    def drawn() -> bool:
        nonlocal place
        before, cut, place = screen.geometry(window), screen.shot(name), screen.geometry(window)
        x, y, w, h = place
        if before != place or x < 0 or y < 0 or x + w > size[0] or y + h > size[1]:
            return False
        cut = cut[y : y + h, x : x + w]
        foot = layout(w, h).sections["devices"]
        written = cut[foot.y : foot.bottom, foot.right - foot.w // 4 : foot.right]
        return not (cut == 0).all(axis=2).any() and share(written, PAPER.ink) > 0.01

    # A busy machine draws a large screen late.
    until(drawn, "a picture on the screen without a black patch, and F1: all keys at its foot")
    return place[2:]


@pytest.mark.parametrize(("size", "managed"), SCREENS, ids=[f"{w}x{h}-{m}" for (w, h), m in SCREENS])
def test_the_window_fits_and_comes_back_from_full_screen(size: tuple[int, int], managed: bool) -> None:
    name = f"{size[0]}x{size[1]}{'-openbox' if managed else ''}"
    with opened_on(size, managed) as (screen, window):
        width, height = check(screen, window, size, name)
        # Large enough for two metres: the whole of a small screen, four fifths of a large one.
        assert width >= min(1280, size[0]) * 0.97 and height >= min(720, size[1]) * 0.9
        if size[0] > 1900:
            assert width >= 0.75 * size[0]
        window = screen.next_window(window, lambda: screen.key("F11"))
        until(lambda: check(screen, window, size, f"{name}-full") == size, "the full screen")
        window = screen.next_window(window, lambda: screen.key("F11"))

        def back() -> bool:
            now = check(screen, window, size, f"{name}-back")
            return abs(now[0] - width) < 40 and abs(now[1] - height) < 60

        until(back, "the size of before")


def test_the_question_stays_while_messages_come_and_go(screen: Screen) -> None:
    """An unfinished session is offered in a place of its own; devices that connect do not push it
    aside.
    """
    from loopdeck.protocol.messages import Said

    screen.clear()
    address = new_address()
    engine = SmallEngine(address, Brief.default().replace(scale="E dorian"))
    env = screen.env | {"SDL_VIDEODRIVER": "x11", "SDL_AUDIODRIVER": "dummy"}
    window = subprocess.Popen([sys.executable, "-m", "loopdeck.window.window", address], cwd=ROOT, env=env)
    try:
        assert engine.joined.wait(PATIENCE_SEC)
        found = screen.window()
        engine.offer()
        place = layout(1280, 720, waiting=True).sections["waiting"]

        def cut(name: str) -> np.ndarray:
            x, y, _, _ = screen.geometry(found)
            whole = screen.shot(name)
            return whole[y + place.y : y + place.bottom, x + place.x : x + place.right]

        seen(lambda: cut("question"), lambda one: share(one, PAPER.ink) > 0.05, "the question")
        asked = still(lambda: cut("question"), "the whole of it")
        engine.tell(Said(text="The pickup is connected.", time_sec=time.perf_counter()))
        time.sleep(0.5)
        assert (cut("question-and-message") == asked).all()
        screen.key("shift+F8")
        until(lambda: [name for name, _ in engine.commands] == ["dismiss"], "the answer")
        seen(
            lambda: cut("question-answered"),
            lambda one: bool((one != asked).any(axis=2).mean() > 0.05),
            "the place without it",
        )
    finally:
        window.kill()
        window.wait(PATIENCE_SEC)
        engine.close()
        forget_address(address)
