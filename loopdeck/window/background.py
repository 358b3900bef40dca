"""Work that would hold up a frame (files, the shelf), done in a thread of its own, one job after
the other; the window asks before each frame whether one is done.
"""

import queue
import threading
import traceback
from collections.abc import Callable
from typing import Any, NamedTuple

from loopdeck.errors import UserError


class Done(NamedTuple):
    """A job that is done: what it returned, or what it raised."""

    job: str
    value: Any
    error: Exception | None = None


class Background:
    """A thread that begins with the first job."""

    def __init__(self) -> None:
        self._jobs: queue.SimpleQueue[tuple[str, Callable[[], Any]]] = queue.SimpleQueue()
        self._done: queue.SimpleQueue[Done] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None
        self.busy = 0
        """How many jobs are not done yet."""

    def start(self, job: str, work: Callable[[], Any]) -> None:
        """Do ``work`` when all before it is done; ``job`` tells one kind from another."""
        self.busy += 1
        self._jobs.put((job, work))
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name="window background", daemon=True)
            self._thread.start()

    def poll(self) -> Done | None:
        """The oldest job that is done and was not asked for yet; never waits."""
        try:
            found = self._done.get_nowait()
        except queue.Empty:
            return None
        self.busy -= 1
        return found

    def _run(self) -> None:
        while True:
            job, work = self._jobs.get()
            try:
                self._done.put(Done(job, work()))
            except Exception as error:  # the thread goes on to the next job
                if not _expected(error):
                    traceback.print_exc()
                self._done.put(Done(job, None, error))


def _expected(error: Exception) -> bool:
    """True for what files and players get wrong; anything else is a bug, and shows a traceback."""
    return isinstance(error, UserError | OSError)


def sentence(error: Exception) -> str:
    """What went wrong, for the player."""
    if not _expected(error):
        return f"That failed because of a bug in loopdeck ({type(error).__name__})."
    if isinstance(error, OSError) and error.filename and error.strerror:
        return f"{error.filename}: {error.strerror}."
    return str(error)
