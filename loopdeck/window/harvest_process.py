"""The process that searches a session for riffs, as the window sees it.

Its calls wait, so they belong into a thread (``background``); ``end`` may come from any other one.
"""

import json
import subprocess
import threading
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from loopdeck.errors import UserError
from loopdeck.process.children import environment, python_command

#: How long an engine may take to save everything, and a keep that was asked for when the window
#: ends.
SAVED_SEC, KEPT_SEC = 15.0, 5.0
FAILED = "The search has ended without an answer; loopdeck harvest searches the session's journal at any time."


@dataclass(frozen=True)
class SessionFiles:
    """A session's journal and shelf; ``ended`` is set once the engine has saved everything,
    ``leaving`` by the window before it says goodbye to the engine. ``at_end``: the riffs are shown
    when the player leaves.
    """

    journal: str
    shelf: str
    ended: threading.Event = field(default_factory=threading.Event)
    leaving: threading.Event = field(default_factory=threading.Event)
    at_end: bool = True


class HarvestProcess:
    """One search."""

    def __init__(self, files: SessionFiles) -> None:
        self._files = files
        self._child: subprocess.Popen[str] | None = None
        self._over = threading.Event()
        self._keeping = threading.Lock()

    def search(self) -> dict[str, Any]:
        """What ``loopdeck harvest --json`` prints. While leaving, once the engine has ended.
        Raises UserError, OSError.
        """
        if self._files.leaving.is_set():
            self._files.ended.wait(SAVED_SEC)
        if self._over.is_set():
            return {"riffs": [], "says": []}
        command = python_command("loopdeck.session.harvest", self._files.journal, self._files.shelf)
        pipe = subprocess.PIPE
        # What it complains of on the side is nothing the player could use.
        self._child = subprocess.Popen(
            command, env=environment(), stdin=pipe, stdout=pipe, stderr=subprocess.DEVNULL, text=True
        )
        if self._over.is_set():
            self._child.kill()
        return self._answer()

    def keep(self, letters: Sequence[str]) -> list[dict[str, Any]]:
        """Put these riffs on the shelf. Raises UserError, OSError."""
        with self._keeping:
            child = self._child
            if child is None or child.stdin is None or child.poll() is not None:
                raise UserError(FAILED)
            child.stdin.write(" ".join(letters) + "\n")
            child.stdin.flush()
            kept: list[dict[str, Any]] = self._answer()["kept"]
            return kept

    def end(self) -> None:
        """End the process; a keep that has begun is waited for."""
        self._over.set()
        with_keep = self._keeping.acquire(timeout=KEPT_SEC)
        child = self._child
        if child is not None:
            with suppress(OSError):
                child.kill()
            child.wait()
        if with_keep:
            self._keeping.release()

    def _answer(self) -> dict[str, Any]:
        child = self._child
        assert child is not None and child.stdout is not None
        line = child.stdout.readline()
        if not line:
            raise UserError(FAILED)
        found: dict[str, Any] = json.loads(line)
        if "error" in found:
            raise UserError(str(found["error"]))
        return found
