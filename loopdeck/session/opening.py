"""How an engine's session begins: a new one with a new journal, or a journal of an engine that died, taken up where it stopped."""

import os
import time
from datetime import UTC, datetime
from pathlib import Path

from loopdeck import __version__
from loopdeck.audio.levels import Levels, levels_of_marks
from loopdeck.brief.brief import brief_from_dict
from loopdeck.capture.errors import CaptureError
from loopdeck.capture.journal import JournalReader, JournalWriter, MarkRecord
from loopdeck.looper.keep import Keep
from loopdeck.looper.state import STOPPED
from loopdeck.process.options import SUFFIX, Options
from loopdeck.session.session import Session, header, replay

#: How long the dead engine may take to let go of its journal.
LOCK_SEC = 2.0


class OpenedSession(Session):
    """A session that may bring along keeps of which nobody knows that they were saved, and how loud everything was."""

    unsaved: tuple[Keep, ...] = ()
    levels: Levels | None = None

    def take_unsaved(self) -> tuple[Keep, ...]:
        """The keeps to save now."""
        unsaved, self.unsaved = self.unsaved, ()
        return unsaved


def open_session(options: Options, now: float) -> tuple[OpenedSession, JournalWriter, list[str]]:
    """The session, the journal it goes into, and sentences for the player. Raises BriefError, CaptureError, OSError."""
    path = Path(options.journal)
    if options.resume:
        try:
            return _resume(path)
        except (CaptureError, ValueError, OSError) as error:
            path = path.with_name(f"{path.stem}-again{int(time.time())}{SUFFIX}")
            said = [
                f"The session could not be taken up again ({str(error).rstrip('.')}); this is a new one, and the old journal is kept."
            ]
    else:
        said = []
    brief = brief_from_dict(options.brief)
    started = datetime.now(UTC).isoformat(timespec="seconds")
    head = header(brief, now, started=started, pid=os.getpid(), version=__version__)
    return OpenedSession(brief, now), JournalWriter(path, head), said


def _resume(path: Path) -> tuple[OpenedSession, JournalWriter, list[str]]:
    writer = _take_over(path)
    try:
        unsaved: list[Keep] = []
        marks: list[MarkRecord] = []
        with JournalReader(path) as reader:
            session = replay(reader.header, reader, unsaved.append, OpenedSession, marks.append)
        session.unsaved, session.levels = tuple(unsaved), levels_of_marks(marks)
    except BaseException:
        writer.close()
        raise
    session.journal = writer
    # Time stopped when the engine died; a pass that was being layered becomes a layer, as it does by any stop.
    at_sec = session.looper.now_sec
    if session.looper.state != STOPPED:
        session.command("stop", {}, at_sec)
    session.command("silence", {}, at_sec)
    session.take_outs()
    session.take_messages()
    count = len(session.looper.layers())
    layers = f"{count} layer{'' if count == 1 else 's'} stand{'s' if count == 1 else ''}"
    return session, writer, [f"The engine is back with everything that was played; {layers}. Start to go on."]


def _take_over(path: Path) -> JournalWriter:
    until = time.monotonic() + LOCK_SEC
    while True:
        try:
            return JournalWriter.resume(path)
        except CaptureError:
            if time.monotonic() > until:
                raise
            time.sleep(0.05)
