"""The windows of an engine (or the process that stands for one where there is no screen): who is there, and bringing back who was lost.

Conventions: seconds on the engine's clock. Nothing here waits; a window is started as a process of its own and joins by itself.
"""

import os
from collections import deque

from loopdeck.process.children import start_process
from loopdeck.process.options import Options
from loopdeck.process.priority import let_walk

#: The clients whose going matters.
ROLES = ("window", "front")
#: How long a lost window is waited for before it is brought back, and how long any may take to come.
BRING_BACK_SEC, FIRST_SEC = 1.0, 30.0
#: So often in so many seconds a window is brought back; after that it is better to end in order.
MOST_RETURNS, RETURNS_SEC = 3, 60.0
NOBODY = "Nobody is there to play for any more, so the session ends; everything is in its journal."


class Fronts:
    """Who is there. ``due`` is when ``care`` has something to do, None while somebody is there."""

    def __init__(self, options: Options, now: float) -> None:
        self._options = options
        self._there: set[int] = set()
        self._returns: deque[float] = deque()
        self.due: float | None = now + FIRST_SEC

    def joined(self, client: int, role: str) -> bool:
        """A client has come; True when it is one that matters."""
        if role not in ROLES:
            return False
        self._there.add(client)
        self.due = None
        return True

    def left(self, client: int) -> bool:
        """A client has gone; True when it was the last one that matters."""
        if client not in self._there:
            return False
        self._there.discard(client)
        return not self._there

    def lost(self, now: float) -> str:
        """The last one went without a word: it will be brought back. Returns what to say."""
        self.due = now + BRING_BACK_SEC
        what = "The process that watches over the engine" if self._options.headless else "The window"
        return f"{what} has gone without a word; what sounded is silenced, nothing is lost, and it is brought back."

    def care(self, now: float) -> str:
        """Bring back one that is missing, if it is time; returns NOBODY when that makes no sense any more, or what went wrong."""
        if self.due is None or now < self.due:
            return ""
        self.due = now + FIRST_SEC
        while self._returns and self._returns[0] < now - RETURNS_SEC:
            self._returns.popleft()
        if not self._options.front or len(self._returns) >= MOST_RETURNS:
            return NOBODY
        self._returns.append(now)
        environment = self._options.environment(engine_pid=os.getpid())
        try:
            child = start_process(self._options.front, environment)
            let_walk(child.pid)
        except OSError as error:
            return f"The window could not be started ({error.strerror})."
        return ""
