"""Asking the process that reads the shelf: never waits for it.

Conventions
    ``ask`` returns a number at once; the answer with that number comes later, in a thread
    (``answered``). When the process dies, what was asked is answered with a sentence, and the next
    question starts another one.
"""

import json
import subprocess
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from queue import SimpleQueue
from typing import Any, NamedTuple

from loopdeck.process.children import environment, python_command
from loopdeck.process.priority import reset_priority

GONE = "The process that reads the shelf has ended; press again."


class ShelfAnswer(NamedTuple):
    """``found`` is what was asked for; ``wrong`` a sentence if it could not be found."""

    id: int
    ask: str
    found: Any = None
    wrong: str = ""


class ShelfClient:
    """``answered`` is called for each answer, in a thread."""

    def __init__(self, path: str | Path, answered: Callable[[ShelfAnswer], None]) -> None:
        self._path, self._answered = str(path), answered
        self._count = 0
        self._asked: dict[int, str] = {}
        self._lock = threading.Lock()
        self._lines: SimpleQueue[str | None] = SimpleQueue()
        self._thread: threading.Thread | None = None
        self._child: subprocess.Popen[str] | None = None

    def ask(self, ask: str, **args: Any) -> int:
        """Ask; returns the number of the question."""
        self._count += 1
        with self._lock:
            self._asked[self._count] = ask
            if self._thread is None:
                self._lines = SimpleQueue()
                self._thread = threading.Thread(target=self._run, args=(self._lines,), name="shelf", daemon=True)
                self._thread.start()
            self._lines.put(json.dumps({"id": self._count, "ask": ask, "args": args}))
        return self._count

    def close(self) -> None:
        """Let the process end; it holds nothing that could be lost, so it is not waited for."""
        self._lines.put(None)
        if self._child is not None:
            with suppress(OSError):
                self._child.kill()

    # ---- the threads -----------------------------------------------------------------------------

    def _run(self, lines: "SimpleQueue[str | None]") -> None:
        """Start the process and read its answers until it ends."""
        pipe = subprocess.PIPE
        try:
            child = subprocess.Popen(
                python_command("loopdeck.process.shelf_server", self._path), env=environment(), stdin=pipe, stdout=pipe,
                stderr=subprocess.DEVNULL, text=True, start_new_session=True,
            )  # fmt: skip
        except OSError:
            self._end(lines)
            return
        self._child = child
        # It answers somebody who waits, but not before the thread that plays.
        reset_priority(child.pid)
        threading.Thread(target=_write, args=(child, lines), name="shelf asks", daemon=True).start()
        assert child.stdout is not None
        for line in child.stdout:
            with suppress(ValueError, KeyError, TypeError):
                self._take(json.loads(line))
        child.wait()
        self._end(lines)

    def _take(self, answer: dict[str, Any]) -> None:
        with self._lock:
            ask = self._asked.pop(answer["id"], None)
        if ask is not None:
            self._answered(ShelfAnswer(answer["id"], ask, answer.get("found"), answer.get("wrong", "")))

    def _end(self, lines: "SimpleQueue[str | None]") -> None:
        lines.put(None)
        with self._lock:
            left, self._asked = self._asked, {}
            self._thread = self._child = None
        for number, ask in left.items():
            self._answered(ShelfAnswer(number, ask, wrong=GONE))


def _write(child: "subprocess.Popen[str]", lines: "SimpleQueue[str | None]") -> None:
    """Hand over what is asked; nobody else waits for a pipe that is full."""
    assert child.stdin is not None
    with suppress(OSError, ValueError), child.stdin:
        while (line := lines.get()) is not None:
            child.stdin.write(line + "\n")
            child.stdin.flush()
