"""Where the window asks about the shelf: a process of its own reads it, and files are written by
commands of ours, so that no frame waits for either.
"""

import subprocess
from collections.abc import Callable
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any

from loopdeck.errors import UserError
from loopdeck.process.children import environment, python_command
from loopdeck.process.shelf_client import ShelfAnswer, ShelfClient
from loopdeck.shelf.paths import default_shelf
from loopdeck.window.background import Background, Done

MIDI, WAV = ".mid", ".wav"
#: The words of the command that writes each kind of file.
_WRITERS = {MIDI: ("takes", "export"), WAV: ("render",)}


class ShelfRequests:
    """Nothing is started before the first question. ``path`` is "" for the usual shelf."""

    def __init__(self, path: Callable[[], str]) -> None:
        self._path = path
        self._client: ShelfClient | None = None
        self._answers: SimpleQueue[ShelfAnswer] = SimpleQueue()
        self._background = Background()

    @property
    def shelf(self) -> Path:
        """Where the shelf lies."""
        return Path(self._path()) if self._path() else default_shelf()

    def ask(self, ask: str, **args: Any) -> int:
        """A question to the process that reads the shelf; returns its number."""
        if self._client is None:
            self._client = ShelfClient(self.shelf, self._answers.put)
        return self._client.ask(ask, **args)

    def answer(self) -> ShelfAnswer | None:
        """The oldest answer that was not taken yet; never waits."""
        try:
            return self._answers.get_nowait()
        except Empty:
            return None

    def write(self, number: int, name: str, ending: str) -> None:
        """Write a take into a file beside the shelf."""
        shelf = self.shelf
        path = free_name(shelf.parent / "files", f"{number} {name}", ending)
        command = python_command("loopdeck", *_WRITERS[ending], str(number), "-o", str(path), "--shelf", str(shelf))
        self._background.start("file", lambda: _run(command, path))

    def written(self) -> Done | None:
        """A file that is written (its ``value`` is the path) or could not be."""
        return self._background.poll()

    def close(self) -> None:
        """Nothing more will be asked."""
        if self._client is not None:
            self._client.close()


def free_name(folder: Path, name: str, ending: str) -> Path:
    """A path for a file that is not there yet, with no sign in it that a file's name cannot
    have.
    """
    plain = "".join(sign if sign.isalnum() or sign in " -_" else "-" for sign in name).strip()[:80]
    path, count = folder / f"{plain}{ending}", 2
    while path.exists():
        path, count = folder / f"{plain} {count}{ending}", count + 1
    return path


def _run(command: tuple[str, ...], path: Path) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    pipe = subprocess.PIPE
    done = subprocess.run(
        command, env=environment(), stdin=subprocess.DEVNULL, stdout=pipe, stderr=pipe, text=True, check=False
    )
    if done.returncode:
        words = (done.stderr.strip().splitlines() or ["It ended without saying why."])[-1]
        raise UserError(f"The file was not written: {words.removeprefix('loopdeck: ')}")
    return path
