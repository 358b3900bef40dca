"""The process that listens, as the engine sees it: started after everything else, told nothing, and
not missed when it dies.

Theory of operation
    The process (``listening``) is a client of the link like a window: the link's own thread sends
    it what the windows are told, and after each pass it answers with a ``PassHeard``. It is no
    thread of the engine, because some milliseconds of arithmetic would hold up the thread that
    plays. It ends when the link does. A thread here starts it and waits for its end, which is said
    once.
"""

import subprocess
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Protocol

from loopdeck.process.children import python_command, start_process
from loopdeck.process.options import Options

#: What the window needs to come up is not to be shared with a process that can wait.
AFTER_SEC = 2.0
FAILED = "What comes back in your playing is no longer noticed: the process that listens has ended. Playing goes on as before."


class Listener(Protocol):
    """Says after each pass what it brought, by a ``PassHeard`` through the link."""

    def start(self) -> None:
        """Begin to listen, sooner or later; returns at once. A second call does nothing."""
        ...

    def end(self) -> None:
        """Stop listening; returns at once."""
        ...


class NoListener:
    """Nobody listens."""

    def start(self) -> None:
        """Do nothing."""

    def end(self) -> None:
        """Do nothing."""


class ListenerProcess:
    """``on_problem(sentence)`` is called once, in a thread, when the process ends although nobody
    wants it to.
    """

    def __init__(
        self,
        options: Options,
        on_problem: Callable[[str], None],
        command: tuple[str, ...] = python_command("loopdeck.engine.listening"),
        after_sec: float = AFTER_SEC,
    ) -> None:
        self._options, self._on_problem = options, on_problem
        self._command, self._after_sec = command, after_sec
        self._ending = threading.Event()
        self._begun = False
        self._child: subprocess.Popen[bytes] | None = None
        self._thread = threading.Thread(target=self._run, name="listener", daemon=True)

    @property
    def pid(self) -> int | None:
        """The process; None before it was started."""
        return self._child.pid if self._child is not None else None

    def start(self) -> None:
        """Start it after a while."""
        if not self._begun:
            self._begun = True
            self._thread.start()

    def end(self) -> None:
        """It ends by itself when the link is closed; it holds nothing that could be lost, so it is
        not waited for.
        """
        self._ending.set()
        if self._child is not None:
            with suppress(OSError):
                self._child.kill()

    def _run(self) -> None:
        if self._ending.wait(self._after_sec):
            return
        try:
            self._child = start_process(self._command, self._options.environment())
        except OSError:
            self._on_problem(FAILED)
            return
        if self._ending.is_set():
            self._child.kill()
        self._child.wait()
        if not self._ending.is_set():
            self._on_problem(FAILED)
