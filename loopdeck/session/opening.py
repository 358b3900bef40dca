"""How an engine's session begins: a new one with a new journal, or a journal of an engine that
died, taken up where it stopped.
"""

import os
import time
import uuid
from datetime import UTC, datetime
from pathlib import Path

from loopdeck import __version__
from loopdeck.audio.levels import Levels
from loopdeck.brief.brief import brief_from_dict
from loopdeck.capture.journal import JournalWriter, UnfinishedJournal
from loopdeck.errors import UserError
from loopdeck.looper.keep import Keep
from loopdeck.process.options import SUFFIX, Options
from loopdeck.session.replay import Replay, replay_records
from loopdeck.session.session import Session, header
from loopdeck.session.state_file import replay_of_state, state_bytes

#: How long the dead engine may take to let go of its journal.
LOCK_SEC = 2.0


class OpenedSession(Session):
    """A session that may bring along keeps of which nobody knows that they were saved, and how loud
    everything was.
    """

    unsaved: tuple[Keep, ...] = ()
    levels: Levels | None = None
    #: What tells this session from any other.
    identity: str = ""

    def take_unsaved(self) -> tuple[Keep, ...]:
        """The keeps to save now."""
        unsaved, self.unsaved = self.unsaved, ()
        return unsaved


def open_session(options: Options, now: float) -> tuple[OpenedSession, JournalWriter, list[str]]:
    """The session, the journal it goes into, and sentences for the player.

    Raises UserError, OSError.
    """
    path = Path(options.journal)
    if options.resume:
        try:
            return _resume(path)
        except (UserError, OSError) as error:
            path = path.with_name(f"{path.stem}-again{int(time.time())}{SUFFIX}")
            said = [
                f"The session could not be taken up again ({str(error).rstrip('.')}); this is a new one, and "
                "the old journal is kept."
            ]
    else:
        said = []
    brief = brief_from_dict(options.brief)
    started = datetime.now(UTC).isoformat(timespec="seconds")
    session = OpenedSession(brief, now)
    session.identity = uuid.uuid4().hex
    head = header(brief, now, id=session.identity, started=started, pid=os.getpid(), version=__version__)
    return session, JournalWriter(path, head), said


def _resume(path: Path) -> tuple[OpenedSession, JournalWriter, list[str]]:
    with _take_over(path) as unfinished:
        found = _replayed(unfinished)
        writer = unfinished.go_on(JournalWriter)
        session_id, unreadable = unfinished.reader.identity, unfinished.reader.unreadable
    session = found.session
    assert isinstance(session, OpenedSession)
    session.identity, session.levels, session.journal = session_id, found.levels, writer
    # Only now: what was to be kept at the end of the pass that ran is kept by the stop.
    found.stop()
    session.take_messages()
    session.unsaved, session.keep = found.unsaved, None
    count = len(session.looper.layers())
    layers = f"{count or 'no'} layer{'' if count == 1 else 's'}"
    said = [f"The engine is back with everything you played and {layers}. Start to go on."]
    if skipped := found.skipped + unreadable:
        records = "1 record" if skipped == 1 else f"{skipped:,} records"
        said.append(f"{records} of the journal could not be used and {'is' if skipped == 1 else 'are'} left out.")
    return session, writer, said


def _replayed(unfinished: UnfinishedJournal) -> Replay:
    """The session from the state beside the journal, if there is one, and the records behind it;
    else from all records.
    """
    state = state_bytes(unfinished.path)

    def begin() -> Replay:
        reader = unfinished.start_again()
        found = replay_of_state(state, reader) if state else None
        return found if found is not None else Replay(reader.header, OpenedSession)

    return replay_records(begin, lambda: unfinished.reader)


def _take_over(path: Path) -> UnfinishedJournal:
    until = time.monotonic() + LOCK_SEC
    while True:
        try:
            return UnfinishedJournal(path)
        except UserError:
            if time.monotonic() > until:
                raise
            time.sleep(0.05)
