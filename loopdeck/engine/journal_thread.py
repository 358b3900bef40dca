"""The journal's own thread: the thread that plays only hands records over and never waits for a disk.

Conventions
    A record is written to the file at once, so that the death of the process loses next to nothing, and forced onto the disk at most every
    ``SYNC_EVERY_SEC``, so that a power cut loses less than 100 ms. A disk that is full (or gone) is said once; the records stay in memory and
    are tried again every ``RETRY_SEC``; when they could be written that is said too.
"""

import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any

from loopdeck.capture.journal import JournalWriter

SYNC_EVERY_SEC = 0.05
RETRY_SEC = 0.5


class JournalThread:
    """Owns a ``JournalWriter``; a ``JournalSink`` for the session. ``on_say(sentence, wrong)`` is called in the thread."""

    def __init__(self, writer: JournalWriter, on_say: Callable[[str, bool], None]) -> None:
        self._writer = writer
        self._on_say = on_say
        self._records: deque[tuple[Callable[..., None], tuple[Any, ...]]] = deque()
        self._wake = threading.Event()
        self._ending = False
        self._failed = False
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)
        self._thread.start()

    @property
    def path(self) -> str:
        """The journal's file."""
        return str(self._writer.path)

    def midi(self, at_sec: float, stamp_sec: float, arrived_sec: float, port: int, data: bytes) -> None:
        """An event."""
        self._put(self._writer.midi, at_sec, stamp_sec, arrived_sec, port, data)

    def command(self, at_sec: float, name: str, args: dict[str, Any]) -> None:
        """A command."""
        self._put(self._writer.command, at_sec, name, args)

    def mark(self, kind: str, data: dict[str, Any]) -> None:
        """A note of the session."""
        self._put(self._writer.mark, kind, data)

    def end(self, wait_sec: float = 5.0) -> bool:
        """Write the end mark and close. False when the disk did not take it within ``wait_sec``."""
        self._put(self._writer.end)
        self._ending = True
        self._wake.set()
        self._thread.join(wait_sec)
        return not self._thread.is_alive() and not self._failed

    def abandon(self, wait_sec: float = 1.0) -> bool:
        """Write what is there and let go without an end mark: the session counts as unfinished."""
        self._ending = True
        self._wake.set()
        self._thread.join(wait_sec)
        return False

    def _put(self, method: Callable[..., None], *args: Any) -> None:
        self._records.append((method, args))
        self._wake.set()

    def _run(self) -> None:
        synced = float("-inf")
        while True:
            self._wake.wait(RETRY_SEC if self._failed else None)
            ending = self._ending
            self._wake.clear()
            self._take()
            self._flush(False)
            pause = synced + SYNC_EVERY_SEC - time.monotonic()
            if pause > 0 and not ending and not self._failed:
                time.sleep(pause)
                self._take()
            self._flush(True)
            synced = time.monotonic()
            if ending and not self._records:
                break
            if self._failed:
                # New records would wake this thread in vain; the disk is asked again after a while.
                time.sleep(RETRY_SEC)
        if not self._failed:
            self._writer.close()

    def _take(self) -> None:
        while self._records:
            method, args = self._records.popleft()
            try:
                method(*args)
            except (ValueError, TypeError) as error:
                self._on_say(f"Something could not be written into the journal ({error}).", True)

    def _flush(self, sync: bool) -> None:
        try:
            self._writer.flush(sync)
        except OSError as error:
            if not self._failed:
                self._failed = True
                why = (error.strerror or str(error)).rstrip(".").lower()
                self._on_say(
                    f"The journal cannot be written ({why}); playing goes on, what is played is held in memory and tried again.",
                    True,
                )
            return
        if self._failed and sync:
            self._failed = False
            self._on_say("The journal is written again, with everything that was held back.", False)
