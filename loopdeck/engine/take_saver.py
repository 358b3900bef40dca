"""The thread that puts takes on the shelf and looks after sessions that were lost, while the engine
plays on.

Conventions: ``post(event)`` hands a result to the engine and is called in this thread: a
``TakeSaved``, ``TakeListed``, ``SessionOffered`` or ``ToSay``.
"""

import json
import queue
import subprocess
import threading
import traceback
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from enum import Enum, auto
from pathlib import Path
from typing import Any, NamedTuple

from loopdeck.audio.levels import Mix
from loopdeck.engine.events import SessionOffered, TakeListed, TakeSaved, ToSay
from loopdeck.engine.journal_thread import JournalThread
from loopdeck.errors import UserError
from loopdeck.looper.keep import Keep
from loopdeck.process.children import environment, python_command
from loopdeck.process.priority import reset_priority
from loopdeck.session.keep_identity import keep_identity
from loopdeck.session.recover import lost_sessions, mark_done, row_of, said_when, source_of, when_of

RETRY_SEC = 15.0
#: A keep waits at most so long for its journal; a disk that takes longer does not keep a take from
#: the shelf.
JOURNAL_SEC = 2.0


class _Unsaved(NamedTuple):
    """A keep, how loud everything was, and how many records of the journal tell of it."""

    keep: Keep
    mix: Mix
    records: int


class _Lost(NamedTuple):
    """The player's answer to the lost session that is offered."""

    keep: bool


class _Order(Enum):
    """What else the thread is asked to do."""

    LOOK = auto()
    END = auto()


Result = TakeSaved | TakeListed | SessionOffered | ToSay


class TakeSaver:
    """Saves keeps in the order they were made; what the shelf does not take now is tried again.

    A keep goes onto the shelf once the journal that tells of it is on the disk, under an identity
    that a replay of the journal finds again: so after a crash either both know of it, or it is
    saved when the session is taken up again, and never twice.
    """

    def __init__(
        self,
        shelf_path: Path,
        journal: JournalThread,
        session_id: str,
        post: Callable[[Result], None],
        how: str,
    ) -> None:
        """``journal`` is the running session's own.

        ``how``: what to do with lost sessions, ``keep``, ``leave`` or ``ask``.
        """
        self._shelf_path, self._journal, self._session_id, self._post, self._how = (
            shelf_path, journal, session_id, post, how
        )  # fmt: skip
        self._tasks: queue.SimpleQueue[_Unsaved | _Lost | _Order] = queue.SimpleQueue()
        self._unsaved: deque[_Unsaved] = deque()
        self._saved: dict[str, int] = {}
        self._lost: deque[Path] = deque()
        #: What was complained of, and of which keep (by its records): trying again is quiet.
        self._told: set[tuple[int, str]] = set()
        self._thread = threading.Thread(target=self._run, name="take saver", daemon=True)

    def start(self) -> None:
        """Begin; lost sessions are looked for first."""
        self._tasks.put(_Order.LOOK)
        self._thread.start()

    def save(self, keep: Keep, mix: Mix) -> None:
        """Put a keep on the shelf with the levels it was heard at; returns at once. Called in the
        thread that plays, once the journal has been handed the keep.
        """
        self._tasks.put(_Unsaved(keep, mix, self._journal.given))

    def answer(self, keep: bool) -> None:
        """The player's answer to the lost session that is offered."""
        self._tasks.put(_Lost(keep))

    def end(self, wait_sec: float = 8.0) -> bool:
        """Finish what is begun.

        False when something could not be saved: it is in the journal, which must then not count as
        finished.
        """
        self._tasks.put(_Order.END)
        self._thread.join(wait_sec)
        return not self._thread.is_alive() and not self._unsaved

    # ---- the thread ------------------------------------------------------------------------------

    def _run(self) -> None:
        while True:
            # When nothing is asked for, what could not be saved is tried again.
            task = None
            with suppress(queue.Empty):
                task = self._tasks.get(timeout=RETRY_SEC if self._unsaved else None)
            match task:
                case _Unsaved():
                    self._unsaved.append(task)
                case _Lost(keep):
                    self._answer(keep)
                case _Order.LOOK:
                    self._look()
            self._save_all()
            if task is _Order.END:
                return

    def _save_all(self) -> None:
        for unsaved in list(self._unsaved):
            keep, mix, records = unsaved
            self._journal.wait_synced(records, JOURNAL_SEC)
            identity = keep_identity(keep)
            try:
                if identity in self._saved:
                    self._again(keep, self._saved[identity])
                else:
                    row = self._put(keep, mix, identity)
                    self._saved[identity] = row["number"]
                    self._post(TakeSaved(row, identity))
            except (OSError, UserError) as error:
                self._complain(self._unsaved[-1], str(error).rstrip("."))
                return
            except Exception as error:
                # A mistake of ours, which the next take may not meet.
                if self._complain(unsaved, f"a mistake in loopdeck, {type(error).__name__}"):
                    traceback.print_exc()
                continue
            self._unsaved = deque(one for one in self._unsaved if one is not unsaved)

    def _put(self, keep: Keep, mix: Mix, identity: str) -> dict[str, Any]:
        from loopdeck.shelf.store import Shelf
        from loopdeck.shelf.take import take_of_keep

        take = take_of_keep(keep, mix=mix)
        with Shelf(self._shelf_path) as shelf:
            number = shelf.add(take, source=source_of(self._session_id, identity))
        return row_of(number, take.name, take.recording.passes, take.rating)

    def _again(self, keep: Keep, number: int) -> None:
        """The same passes are kept again: a new name is what may be new; out of the bin they come
        back.
        """
        from loopdeck.shelf.store import Shelf
        from loopdeck.shelf.take import name_of_keep

        name = name_of_keep(keep)
        with Shelf(self._shelf_path) as shelf:
            binned = number in {row["number"] for row in shelf.find(binned=True)}
            if binned:
                shelf.restore(number)
            if name:
                shelf.rename(number, name)
            take = shelf.get(number)
        if binned or name:
            self._post(TakeListed(row_of(number, take.name, take.recording.passes, take.rating)))
        there = "out of the bin again" if binned else "already"
        called = f"; it is called {take.name!r}" if name else ""
        self._say(f"These passes are take {number}{',' if binned else ''} {there}{called}.", False)

    def _complain(self, unsaved: _Unsaved, why: str) -> bool:
        """Say that a keep is not on the shelf; False, and silent, where that was said already."""
        if (unsaved.records, why) in self._told:
            return False
        self._told.add((unsaved.records, why))
        journaled = self._journal.wait_synced(unsaved.records, JOURNAL_SEC)
        where = "it is in the journal" if journaled else "and not in the journal either: it is held in memory"
        self._say(f"The take is not on the shelf yet ({why}); {where}, and is tried again.", True)
        return True

    def _look(self) -> None:
        if self._how == "leave":
            return
        self._lost = deque(lost_sessions(Path(self._journal.path).parent, Path(self._journal.path)))
        if self._how == "keep":
            while self._lost:
                self._answer(True)
        elif self._lost:
            self._offer()

    def _offer(self) -> None:
        text = f"{_session(self._lost[0])} ended without warning. Keep it as a take?" if self._lost else ""
        self._post(SessionOffered(text))

    def _answer(self, keep: bool) -> None:
        if not self._lost:
            self._say("No lost session is being offered.", True)
            return
        path = self._lost.popleft()
        if keep:
            if self._how == "ask":
                # That takes a moment, and the question has gone.
                self._say(f"{_session(path)} is being put on the shelf.", False)
            self._recover(path)
        else:
            try:
                mark_done(path, "left", {})
                self._say(f"It is left where it is: {path}.", False)
            except (OSError, UserError) as error:
                self._say(str(error), True)
        if self._how == "ask":
            self._offer()

    def _recover(self, path: Path) -> None:
        command = python_command("loopdeck.session.recover", str(path), str(self._shelf_path))
        pipe = subprocess.PIPE
        try:
            child = subprocess.Popen(
                command, env=environment(), stdout=pipe, stderr=pipe, text=True, stdin=subprocess.DEVNULL
            )
        except OSError as error:
            self._say(f"The lost session stays in its journal: {error.strerror or error}.", True)
            return
        reset_priority(child.pid)
        out, errors = child.communicate()
        if child.returncode == 0:
            found = json.loads(out)
            for row in (*found["kept"], found["whole"]):
                self._post(TakeListed(row))
            self._say(_words_of(found["whole"], found["kept"], found["skipped"]), False)
        else:
            why = (errors.strip().splitlines() or ["it ended without saying why"])[-1]
            self._say(f"The lost session stays in its journal: {why}", True)

    def _say(self, text: str, wrong: bool) -> None:
        self._post(ToSay(text, wrong))


def _session(path: Path) -> str:
    """A session as it begins a sentence: ``The session of yesterday, 20:15``."""
    when = said_when(when_of(path), datetime.now())
    return f"The session of {when}" if when else "A session"


def _words_of(whole: dict[str, Any], kept: list[dict[str, Any]], skipped: int) -> str:
    """What came of a lost session, for the player."""
    words = f"The lost session is on the shelf as take {whole['number']}"
    if kept:
        numbers = ", ".join(str(row["number"]) for row in kept)
        words += f", and what you had kept in it as take {numbers}"
    if skipped:
        words += f"; {skipped:,} record{'' if skipped == 1 else 's'} of its journal could not be used"
    return f"{words}."
