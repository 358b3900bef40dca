"""A virtual screen, and hands and eyes on it: Xvfb, xdotool, ImageMagick's import.

Screenshots land in ``out/window`` (or the folder in LOOPDECK_SHOTS), numbered in the order they
were taken, and are read back as arrays of shape (height, width, 3), uint8.
"""

import os
import shutil
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.waiting import PATIENCE_SEC, until

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
ROOT = Path(__file__).resolve().parents[2]
NEEDED = ("Xvfb", "xdotool", "xwininfo", "xprop", "import")
#: So long after F12 was pressed twice it is pressed again.
AGAIN_SEC = 20.0
#: A property of a window that has been seen: the next one of the same process may get its number.
MARK = "LOOPDECK_SEEN"
SIZE = (1600, 1000)


def missing() -> list[str]:
    """The programs that are needed and not there."""
    return [program for program in NEEDED if shutil.which(program) is None]


class Screen:
    """One Xvfb, by default larger than the window, so that anything drawn outside of it would be
    seen.
    """

    def __init__(self, size: tuple[int, int] = SIZE) -> None:
        read, write = os.pipe()
        self.server = subprocess.Popen(
            [
                "Xvfb",
                "-displayfd",
                str(write),
                # A held key does not repeat, however long a busy machine holds it.
                "-r",
                "-screen",
                "0",
                f"{size[0]}x{size[1]}x24",
                "-nolisten",
                "tcp",
                "-noreset",
            ],
            pass_fds=[write],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(write)
        with os.fdopen(read) as pipe:
            self.display = ":" + pipe.readline().strip()
        assert self.display != ":", "Xvfb did not start"
        self.env = os.environ | {"DISPLAY": self.display}
        self.shots = Path(os.environ.get("LOOPDECK_SHOTS", ROOT / "out" / "window"))
        self.shots.mkdir(parents=True, exist_ok=True)
        if size == SIZE:
            for old in self.shots.glob("[0-9][0-9]-*.png"):
                old.unlink()
        self.count = 0

    def close(self) -> None:
        """End the server (and with it every window)."""
        self.server.terminate()
        self.server.wait(PATIENCE_SEC)

    # ---- hands -----------------------------------------------------------------------------------

    def do(self, *words: str) -> str:
        """One xdotool command; returns what it prints."""
        done = self.ask("xdotool", *words)
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()

    def ask(self, *words: str) -> subprocess.CompletedProcess[str]:
        """A command on this screen that may fail."""
        return subprocess.run(words, check=False, env=self.env, capture_output=True, text=True, timeout=PATIENCE_SEC)

    def windows(self) -> list[str]:
        """The ids of loopdeck's windows that can be seen."""
        return self.ask("xdotool", "search", "--onlyvisible", "--class", "^loopdeck$").stdout.split()

    def clear(self) -> None:
        """Wait until no window is left of a test before: the next one would be taken for it."""
        until(lambda: not self.windows(), "the end of the window before")

    def window(self) -> str:
        """The id of loopdeck's window, once it is there; the pointer is put on it, where the
        keyboard then goes too.
        """
        return str(until(lambda: self._focused(""), "a window"))

    def next_window(self, old: str, end: Callable[[], object]) -> str:
        """The window that comes in place of ``old`` once ``end`` has ended that."""
        assert self.ask("xprop", "-id", old, "-f", MARK, "8s", "-set", MARK, "x").returncode == 0
        end()
        return str(until(lambda: self._focused(MARK), "another window"))

    def _focused(self, without: str) -> str:
        """A window that has no such property, if there is one, with the keyboard; "" if not."""
        found = self.windows()
        if not found:
            return ""
        if without and f"{without}:" not in self.property(found[0], without):
            return ""
        there = [
            self.ask("xdotool", *words, found[0], *more).returncode == 0
            for words, more in ((("mousemove", "--window"), ("20", "20")), (("windowfocus",), ()))
        ]
        return found[0] if all(there) else ""

    def property(self, window: str, name: str) -> str:
        """What ``xprop`` says of a property of a window; "" when the window has gone."""
        return self.ask("xprop", "-id", window, name).stdout

    def key(self, *names: str) -> None:
        """Press and let go of keys, one after the other."""
        for name in names:
            self.do("key", name)
            time.sleep(0.06)

    def note(self, name: str, seconds: float = 0.15) -> None:
        """Hold a musical key."""
        self.do("keydown", name)
        time.sleep(seconds)
        self.do("keyup", name)

    def geometry(self, window: str) -> tuple[int, int, int, int]:
        """(x, y, width, height) of a window on the screen, without the frame a window manager may
        put around it.
        """
        # xdotool counts a frame twice.
        done = self.ask("xwininfo", "-id", window)
        assert done.returncode == 0, done.stderr
        values = dict(line.strip().split(":", 1) for line in done.stdout.splitlines() if ":" in line)
        names = ("Absolute upper-left X", "Absolute upper-left Y", "Width", "Height")
        x, y, width, height = (int(values[name]) for name in names)
        return x, y, width, height

    def leave(self, gone: Callable[[], object]) -> None:
        """Press F12 twice, and once more where a busy window has taken them for two single presses,
        until ``gone``.
        """
        pressed = float("-inf")

        def left() -> bool:
            nonlocal pressed
            if gone():
                return True
            if time.monotonic() - pressed > AGAIN_SEC:
                self.ask("xdotool", "key", "--delay", "60", "F12", "F12")
                pressed = time.monotonic()
            return False

        until(left, "the end of the window")

    # ---- eyes ------------------------------------------------------------------------------------

    def shot(self, name: str) -> NDArray[np.uint8]:
        """The whole screen, as an array; kept as a file too."""
        self.count += 1
        path = self.shots / f"{self.count:02d}-{name}.png"
        subprocess.run(["import", "-window", "root", str(path)], env=self.env, check=True, timeout=PATIENCE_SEC)
        import pygame

        return np.transpose(pygame.surfarray.array3d(pygame.image.load(str(path))), (1, 0, 2)).copy()


def end(process: "subprocess.Popen[Any]") -> None:
    """Ask a session to end, and end it and all it started when it does not."""
    if process.poll() is None:
        process.terminate()
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait(PATIENCE_SEC)
