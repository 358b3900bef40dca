"""The thread that puts takes on the shelf and looks after sessions that were lost, while the engine plays on.

Conventions: ``post(kind, data)`` hands a result to the engine and is called in this thread. Kinds: ``saved`` (the take's row),
``say`` (text, wrong), ``offer`` (text; empty when nothing is offered any more).
"""

import json
import queue
import subprocess
import threading
from collections import deque
from collections.abc import Callable
from pathlib import Path
from typing import Any

from loopdeck.audio.levels import Mix
from loopdeck.looper.keep import Keep
from loopdeck.process.children import environment, python_command
from loopdeck.process.priority import let_walk
from loopdeck.session.recover import lost_sessions, row_of, settle, when_of

RETRY_SEC = 15.0


class Keeper:
    """Saves keeps in the order they were made; what the shelf does not take now is tried again."""

    def __init__(self, shelf_path: Path, journal: Path, post: Callable[[str, dict[str, Any]], None], how: str) -> None:
        """``journal`` is the running session's own. ``how``: what to do with lost sessions, ``keep``, ``leave`` or ``ask``."""
        self._shelf_path, self._journal, self._post, self._how = shelf_path, journal, post, how
        self._tasks: queue.SimpleQueue[tuple[str, Any]] = queue.SimpleQueue()
        self._unsaved: deque[tuple[Keep, Mix, int]] = deque()
        self._lost: deque[Path] = deque()
        self._ending = False
        self._thread = threading.Thread(target=self._run, name="keeper", daemon=True)

    def start(self) -> None:
        """Begin; lost sessions are looked for first."""
        self._tasks.put(("look", None))
        self._thread.start()

    def save(self, keep: Keep, mix: Mix, ordinal: int) -> None:
        """Put a keep on the shelf, the ``ordinal``-th of its session, with the levels it was heard at; returns at once."""
        self._tasks.put(("save", (keep, mix, ordinal)))

    def answer(self, keep: bool) -> None:
        """The player's answer to the lost session that is offered."""
        self._tasks.put(("answer", keep))

    def end(self, wait_sec: float = 8.0) -> bool:
        """Finish what is begun. False when something could not be saved: it is in the journal, which must then not count as finished."""
        self._tasks.put(("end", None))
        self._thread.join(wait_sec)
        return not self._thread.is_alive() and not self._unsaved

    # ---- the thread -----------------------------------------------------------------------------------------------------

    def _run(self) -> None:
        while True:
            try:
                kind, value = self._tasks.get(timeout=RETRY_SEC if self._unsaved else None)
            except queue.Empty:
                kind, value = "again", None
            if kind == "save":
                self._unsaved.append(value)
            elif kind == "look":
                self._look()
            elif kind == "answer":
                self._answer(value)
            elif kind == "end":
                self._ending = True
            self._save_all()
            if kind == "end":
                return

    def _save_all(self) -> None:
        from loopdeck.shelf.store import Shelf
        from loopdeck.shelf.take import take_of_keep

        while self._unsaved:
            keep, mix, ordinal = self._unsaved[0]
            try:
                take = take_of_keep(keep, mix=mix)
                with Shelf(self._shelf_path) as shelf:
                    number = shelf.add(take, source=f"{self._journal.name} keep {ordinal}")
            except (OSError, ValueError) as error:
                why = str(error).rstrip(".")
                self._say(f"The take is not on the shelf yet ({why}); it is in the journal, and is tried again.", True)
                return
            self._unsaved.popleft()
            self._post("saved", row_of(number, take.name, take.passes, take.rating))

    def _look(self) -> None:
        if self._how == "leave":
            return
        self._lost = deque(lost_sessions(self._journal.parent, self._journal))
        if self._how == "keep":
            while self._lost:
                self._answer(True)
        elif self._lost:
            self._offer()

    def _offer(self) -> None:
        when = when_of(self._lost[0]) if self._lost else ""
        text = f"The session of {when} ended without warning; shall it be kept as a take?" if self._lost else ""
        self._post("offer", {"text": text})

    def _answer(self, keep: bool) -> None:
        if not self._lost:
            self._say("No lost session is being offered.", True)
            return
        path = self._lost.popleft()
        if keep:
            self._recover(path)
        else:
            try:
                settle(path, "left", {})
                self._say(f"It is left where it is: {path}.", False)
            except (OSError, ValueError) as error:
                self._say(str(error), True)
        if self._how == "ask":
            self._offer()

    def _recover(self, path: Path) -> None:
        command = python_command("loopdeck.session.recover", str(path), str(self._shelf_path))
        pipe = subprocess.PIPE
        child = subprocess.Popen(
            command, env=environment(), stdout=pipe, stderr=pipe, text=True, stdin=subprocess.DEVNULL
        )
        let_walk(child.pid)
        out, errors = child.communicate()
        if child.returncode == 0:
            row = json.loads(out)
            self._post("recovered", row)
            self._say(f"The lost session is on the shelf as take {row['number']}.", False)
        else:
            why = (errors.strip().splitlines() or ["it ended without saying why"])[-1]
            self._say(f"The lost session stays in its journal: {why}", True)

    def _say(self, text: str, wrong: bool) -> None:
        self._post("say", {"text": text, "wrong": wrong})
