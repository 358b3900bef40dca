"""The journal's own threads: the thread that plays only hands records over and never waits for a
disk.

Theory of operation
    One thread writes what it is handed to the file as soon as it is woken: for commands and marks
    at once, for events at the next quiet moment, a few milliseconds later at most
    (``quiet_moments``). So the death of the process loses next to nothing. Another thread forces
    the file onto the disk at most every ``SYNC_EVERY_SEC``, so that a power cut loses less than
    100 ms, and looks at the room that is left. A disk that is full (or gone) is said once; the
    records stay in memory and are tried again every ``RETRY_SEC``; when they could be written that
    is said too. ``SpareRoom`` keeps some room free from the start, which is given up when the disk
    is full: it is enough to go on for some minutes, and to end in order.
"""

import threading
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from loopdeck.capture.disk_room import SpareRoom, free_bytes
from loopdeck.capture.journal import JournalWriter

SYNC_EVERY_SEC = 0.05
RETRY_SEC = 0.5
#: The room on the disk is looked at so often; below so many bytes the player is warned.
LOOK_EVERY_SEC = 10.0
LOW_BYTES = 64 << 20
#: With so many records waiting the thread is woken whatever happens.
MOST_HELD = 64


class JournalThread:
    """Owns a ``JournalWriter``; a ``JournalSink`` for the session. ``on_say(sentence, wrong)`` is
    called in its threads.
    """

    def __init__(self, writer: JournalWriter, on_say: Callable[[str, bool], None]) -> None:
        self._writer = writer
        self._on_say = on_say
        self._spare = SpareRoom(writer.path)
        self._records: deque[tuple[Callable[..., None], tuple[Any, ...]]] = deque()
        self._wake = threading.Event()
        #: How many records were handed over, written, and forced onto the disk.
        self._given = self._written = self._synced = 0
        self._moved = threading.Condition()
        self._ending = False
        self._ended = False
        self._failed = False
        self._warned = False
        self._threads = [
            threading.Thread(target=self._write_all, name="journal", daemon=True),
            threading.Thread(target=self._sync_all, name="journal sync", daemon=True),
        ]
        for thread in self._threads:
            thread.start()

    @property
    def path(self) -> str:
        """The journal's file."""
        return str(self._writer.path)

    @property
    def failed(self) -> bool:
        """True while records are held in memory because they cannot be written."""
        return self._failed

    def midi(self, at_sec: float, stamp_sec: float, arrived_sec: float, port: int, data: bytes) -> None:
        """Write an event."""
        self._put(self._writer.midi, at_sec, stamp_sec, arrived_sec, port, data)

    def hold_midi(self, at_sec: float, stamp_sec: float, arrived_sec: float, port: int, data: bytes) -> None:
        """An event that is written at the next ``wake``, which has to follow soon."""
        self._records.append((self._writer.midi, (at_sec, stamp_sec, arrived_sec, port, data)))
        self._given += 1
        if len(self._records) >= MOST_HELD:
            self._wake.set()

    def wake(self) -> None:
        """Have the records written that were handed over."""
        if self._records and not self._wake.is_set():
            self._wake.set()

    def command(self, at_sec: float, name: str, args: dict[str, Any]) -> None:
        """Write a command."""
        self._put(self._writer.command, at_sec, name, args)

    def mark(self, kind: str, data: dict[str, Any]) -> None:
        """Write a mark: a note about the session."""
        self._put(self._writer.mark, kind, data)

    def wait_synced(self, given: int | None = None, wait_sec: float = 2.0) -> bool:
        """Wait until the first ``given`` records (default: all handed over by now) are on the disk.
        False when that takes too long.
        """
        goal = self._given if given is None else given
        self._wake.set()
        with self._moved:
            return self._moved.wait_for(lambda: self._synced >= goal, wait_sec)

    @property
    def given(self) -> int:
        """How many records have been handed over."""
        return self._given

    def end(self, wait_sec: float = 5.0) -> bool:
        """Write the end mark and close. False when the disk did not take it within ``wait_sec``."""
        self._put(self._writer.end)
        return self._stop(wait_sec)

    def abandon(self, wait_sec: float = 1.0) -> bool:
        """Write what is there and let go without an end mark: the session counts as unfinished.
        False when the disk did not take it.
        """
        return self._stop(wait_sec)

    def rescue(self) -> str:
        """After an end that failed: put what was not written into another place. Returns a sentence
        that says where, or that it is lost.
        """
        if any(thread.is_alive() for thread in self._threads):
            return "The disk of the journal does not answer; what was played last may be lost."
        return self._writer.put_aside()

    def _stop(self, wait_sec: float) -> bool:
        until = time.monotonic() + wait_sec
        self._ending = True
        self._wake.set()
        for thread in self._threads:
            thread.join(max(until - time.monotonic(), 0.0))
        if not self._ended:
            # The threads give up now; what they could not write stays in the writer.
            self._ended = True
            self._wake.set()
            for thread in self._threads:
                thread.join(RETRY_SEC * 2)
        done = not self._failed and self._written == self._given
        self._spare.give_up()
        return done

    def _put(self, method: Callable[..., None], *args: Any) -> None:
        self._records.append((method, args))
        self._given += 1
        self._wake.set()

    # ---- the thread that writes ------------------------------------------------------------------

    def _write_all(self) -> None:
        while True:
            self._wake.wait(RETRY_SEC if self._failed else None)
            ending = self._ending
            if not self._failed:
                self._wake.clear()
            taken = self._take()
            self._flush(taken)
            if self._ended or (ending and not self._records and not self._failed):
                break
            if self._failed:
                # New records would wake this thread in vain; the disk is asked again after a while.
                time.sleep(min(RETRY_SEC, 0.05) if self._ending else RETRY_SEC)
        self._ended = True
        if not self._failed:
            with suppress(OSError):
                self._writer.close()
        with self._moved:
            self._moved.notify_all()

    def _take(self) -> int:
        count = 0
        while self._records:
            method, args = self._records.popleft()
            count += 1
            try:
                method(*args)
            except (ValueError, TypeError, OverflowError) as error:
                self._on_say(f"Something could not be written into the journal ({error}).", True)
        return count

    def _flush(self, taken: int) -> None:
        self._pending = getattr(self, "_pending", 0) + taken
        try:
            try:
                self._writer.flush(sync=False)
            except OSError:
                if not self._spare.give_up():
                    raise
                self._writer.flush(sync=False)
                self._on_say(
                    "The disk of the journal is full. There is room for a few more minutes of playing, which "
                    "was kept free; make room now.",
                    True,
                )
        except OSError as error:
            if not self._failed:
                self._failed = True
                why = (error.strerror or str(error)).rstrip(".").lower()
                self._on_say(
                    f"The journal cannot be written ({why}); playing goes on, what is played is held in memory "
                    "and tried again.",
                    True,
                )
            return
        with self._moved:
            self._written += self._pending
            self._pending = 0
            self._moved.notify_all()
        if self._failed:
            self._failed = False
            self._on_say("The journal is written again, with everything that was held back.", False)

    # ---- the thread that forces it onto the disk -------------------------------------------------

    def _sync_all(self) -> None:
        looked = float("-inf")
        while not self._ended:
            now = time.monotonic()
            if now - looked >= LOOK_EVERY_SEC:
                looked = now
                self._look()
            with self._moved:
                self._moved.wait_for(lambda: self._ended or self._written > self._synced, LOOK_EVERY_SEC)
                written = self._written
            if written > self._synced:
                with suppress(OSError, ValueError):
                    # A file that was closed meanwhile was forced onto the disk by that.
                    self._writer.sync()
                with self._moved:
                    self._synced = written
                    self._moved.notify_all()
                if not self._ending:
                    time.sleep(SYNC_EVERY_SEC)
        with self._moved:
            self._synced = self._written
            self._moved.notify_all()

    def _look(self) -> None:
        """Keep some room free, and warn while there is still time."""
        free = free_bytes(self._writer.path)
        if free is None:
            return
        if free >= LOW_BYTES:
            self._spare.take()
            self._warned = self._warned and free < 2 * LOW_BYTES
        elif not self._warned:
            self._warned = True
            self._spare.take()
            self._on_say(
                f"Only {free / 1e6:.0f} MB are left on the disk of the journal ({self._writer.path.parent}); "
                "make room before it is full.",
                True,
            )


def what_is_unsaved(saved: bool, written: bool, journal: JournalThread) -> list[str]:
    """The truth at the end of a session, in sentences: none when the takes are ``saved`` and the
    journal is ``written``.
    """
    missing = []
    if not saved:
        missing.append(
            f"Not every take is on the shelf; the session stays open in {journal.path} and is offered at the "
            "next start."
        )
    if not written:
        missing.append(journal.rescue())
    return missing
