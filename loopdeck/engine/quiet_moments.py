"""When the threads beside the one that plays are woken.

Theory of operation
    All threads share one interpreter. One that is woken to write a journal or to tell a window
    works for some tenths of a millisecond, and what falls due meanwhile leaves late. So they are
    woken where nothing is due for a while, right before the thread that plays goes to sleep; where
    there is no such moment for ``MOST_SEC``, all the same.

Conventions: seconds on the clock of the session.
"""

from typing import Any

from loopdeck.engine.journal_thread import JournalThread

#: Nothing is due for so long: about twice what the others need for a note.
QUIET_SEC = 0.001
#: The longest that they are not woken: less than half a frame of the window.
MOST_SEC = 0.007


class QuietMoments:
    """Asked once a turn of the thread that plays."""

    def __init__(self) -> None:
        self._last_sec = float("-inf")

    def now(self, now_sec: float, due_sec: float | None) -> bool:
        """True when the others may be woken; ``due_sec``: when the next message is to leave."""
        if due_sec is not None and due_sec - now_sec < QUIET_SEC and now_sec - self._last_sec < MOST_SEC:
            return False
        self._last_sec = now_sec
        return True


class PatientJournal:
    """The journal as the thread that plays uses it: its events are written at the next ``wake``."""

    def __init__(self, journal: JournalThread) -> None:
        self._journal = journal

    def midi(self, at_sec: float, stamp_sec: float, arrived_sec: float, port: int, data: bytes) -> None:
        """Hold an event until the next ``wake``."""
        self._journal.hold_midi(at_sec, stamp_sec, arrived_sec, port, data)

    def command(self, at_sec: float, name: str, args: dict[str, Any]) -> None:
        """Write a command at once; there are few of them."""
        self._journal.command(at_sec, name, args)
