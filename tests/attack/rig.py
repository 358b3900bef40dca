"""What an engine has around its session, without ports, link and clock: the journal's threads, the
take saver, and what the engine does with their news.
"""

import queue
from pathlib import Path

from loopdeck.brief.brief import Brief
from loopdeck.engine.events import TakeSaved, ToSay
from loopdeck.engine.journal_thread import JournalThread, what_is_unsaved
from loopdeck.engine.take_saver import Result, TakeSaver
from loopdeck.process.options import Options
from loopdeck.session.opening import OpenedSession, open_session


class Rig:
    """An engine in small. ``end`` returns the sentences that say what could not be saved."""

    def __init__(self, journal: Path, shelf: Path, brief: Brief, resume: bool, now: float) -> None:
        options = Options(
            address="unix:/nowhere", journal=str(journal), shelf=str(shelf), brief=brief.to_dict(), resume=resume
        )
        self.session: OpenedSession
        self.session, writer, self.greetings = open_session(options, now)
        self.said: list[str] = []
        self._inbox: queue.SimpleQueue[Result] = queue.SimpleQueue()
        self.journal = JournalThread(writer, lambda text, wrong: self._inbox.put(ToSay(text, wrong)))
        self.session.journal = self.journal
        self.saver = TakeSaver(shelf, self.journal, self.session.identity, self._inbox.put, "leave")
        for keep in self.session.take_unsaved():
            self.saver.save(keep, {})
        self.session.keep = lambda keep: self.saver.save(keep, {})
        self.saver.start()

    def turn(self) -> None:
        """Do what the engine does with news."""
        while not self._inbox.empty():
            match self._inbox.get():
                case TakeSaved(row, identity):
                    self.journal.mark("kept", {**row, "identity": identity})
                case ToSay(text):
                    self.said.append(text)

    def end(self, wait_sec: float = 5.0) -> list[str]:
        """End as the engine does."""
        now = self.session.looper.now_sec
        if self.session.looper.state != "STOPPED":
            self.session.command("stop", {}, now)
        saved = self.saver.end(wait_sec)
        self.turn()
        written = self.journal.end(wait_sec) if saved else self.journal.abandon(wait_sec)
        self.turn()
        return what_is_unsaved(saved, written, self.journal)
