"""The process that writes the session's state beside its journal while it is played
(``session.checkpoint``), started and ended from here.
"""

import subprocess
import threading
from contextlib import suppress
from pathlib import Path

from loopdeck.process.children import environment, python_command
from loopdeck.process.priority import reset_priority
from loopdeck.session.state_file import remove_state

#: A session as short as this is replayed in no time, and its start has better things to do.
FIRST_SEC = 20.0
#: So often it is started again when it ends by itself.
MOST_STARTS = 3


class Checkpointer:
    """Keeps the process alive; ``end`` in any case when the engine ends in order."""

    def __init__(self, journal: Path) -> None:
        self._journal = journal
        self._over = threading.Event()
        self._child: subprocess.Popen[bytes] | None = None
        self._thread = threading.Thread(target=self._run, name="checkpointer", daemon=True)

    def start(self) -> None:
        """Begin; returns at once."""
        self._thread.start()

    def end(self, done: bool) -> None:
        """End the process.

        ``done``: the session ended in order, so nobody will take it up again.
        """
        self._over.set()
        child = self._child
        if child is not None and child.stdin is not None:
            with suppress(OSError):
                child.stdin.close()
        if self._thread.is_alive():
            self._thread.join(1.0)
        if done:
            remove_state(self._journal)

    def _run(self) -> None:
        for _ in range(MOST_STARTS):
            if self._over.wait(FIRST_SEC):
                return
            command = python_command("loopdeck.session.checkpoint", str(self._journal))
            try:
                # Its standard input is how it learns of our death.
                self._child = subprocess.Popen(
                    command,
                    env=environment(),
                    stdin=subprocess.PIPE,
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                )
            except OSError:
                return
            # At once: at our priority its start would keep a MIDI server that has none from
            # running, and that loses messages.
            reset_priority(self._child.pid)
            self._child.wait()
