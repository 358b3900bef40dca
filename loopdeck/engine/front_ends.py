"""The windows of an engine (or the process that stands for one where there is no screen): who is
there, and bringing back who was lost.

Conventions: seconds on the engine's clock. Nothing here waits; a window is started as a process of
its own and joins by itself.
"""

import os
from collections import deque
from collections.abc import Callable

from loopdeck.engine.listener import Listener
from loopdeck.process.children import start_process
from loopdeck.process.options import Options
from loopdeck.process.priority import reset_priority

#: The clients whose going matters.
ROLES = ("window", "front")
#: How long a lost window is waited for before it is brought back, and how long any may take to
#: come.
BRING_BACK_SEC, FIRST_SEC = 1.0, 30.0
#: So often in so many seconds a window is brought back; after that it is better to end in order.
MOST_RETURNS, RETURNS_SEC = 3, 60.0
NOBODY = "No window is left and none can be opened, so the session ends."


class FrontEnds:
    """Who is there; a ``Timer``. ``complain(sentence)`` tells the player; ``give_up`` is called
    when nobody will come any more, ``begin`` when
    somebody has come. ``listener`` begins to listen then."""

    def __init__(
        self,
        options: Options,
        now: float,
        complain: Callable[[str], None],
        give_up: Callable[[], None],
        begin: Callable[[], None],
        listener: Listener,
    ) -> None:
        self._options, self._complain, self._give_up, self._begin = options, complain, give_up, begin
        self._listener = listener
        self._there: set[int] = set()
        self._returns: deque[float] = deque()
        self._due: float | None = now + FIRST_SEC

    def joined(self, client: int, role: str) -> None:
        """A client has joined."""
        if role in ROLES:
            self._there.add(client)
            self._due = None
            self._begin()
            self._listener.start()

    def left(self, client: int) -> bool:
        """A client has gone; True when it was the last one that matters."""
        if client not in self._there:
            return False
        self._there.discard(client)
        return not self._there

    def lost(self, now: float) -> None:
        """The last one went without a word: say so, and bring it back."""
        self._due = now + BRING_BACK_SEC
        what = "The process that watches over the engine" if self._options.headless else "The window"
        self._complain(f"{what} has gone without a word; what sounded is silenced, and it is brought back.")

    def end(self) -> None:
        """Stop listening for riffs: nobody is left to be told."""
        self._listener.end()

    def next_due(self) -> float | None:
        """When somebody has been missing for long enough; None while somebody is there."""
        return self._due

    def run(self, now: float) -> None:
        """Bring back one that is missing, if it is time, or give up when that makes no sense any
        more.
        """
        if self._due is None or now < self._due:
            return
        self._due = now + FIRST_SEC
        while self._returns and self._returns[0] < now - RETURNS_SEC:
            self._returns.popleft()
        if not self._options.front or len(self._returns) >= MOST_RETURNS:
            self._complain(NOBODY)
            self._give_up()
            return
        self._returns.append(now)
        try:
            child = start_process(self._options.front, self._options.environment(engine_pid=os.getpid()))
            reset_priority(child.pid)
        except OSError as error:
            self._complain(f"The window could not be started ({error.strerror}).")
