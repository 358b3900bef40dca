"""Everything of a session that goes to the disk: its journal, the state beside it, the takes that
are put on the shelf, and the pages that are written out.
"""

from collections.abc import Callable
from dataclasses import dataclass

from loopdeck.engine.checkpointer import Checkpointer
from loopdeck.engine.journal_thread import JournalThread, what_is_unsaved
from loopdeck.engine.page_writer import PageWriter
from loopdeck.engine.take_saver import TakeSaver


@dataclass(frozen=True)
class SessionStore:
    """Its parts; each works in a thread of its own."""

    journal: JournalThread
    saver: TakeSaver
    checkpointer: Checkpointer
    pages: PageWriter
    #: End what else there is.
    let_go: tuple[Callable[[], None], ...]

    def start(self) -> None:
        """Begin to save takes, and to write the state. The journal has begun already."""
        self.saver.start()
        self.checkpointer.start()

    def close(self, saved: bool) -> list[str]:
        """End the journal.

        ``saved``: every take is on the shelf. Returns sentences on what could not be saved; none
        when all is.
        """
        for end in self.let_go:
            end()
        written = self.journal.end() if saved else self.journal.abandon()
        self.checkpointer.end(done=saved and written)
        return what_is_unsaved(saved, written, self.journal)
