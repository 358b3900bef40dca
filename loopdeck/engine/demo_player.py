"""The built-in player in the engine: a thread that hands over messages and commands at their
moments, as a device and a foot would.
"""

import threading
import time
from collections.abc import Callable
from typing import Any

from loopdeck.engine.demo_session import END_SEC_AFTER, Step

#: The window has this long to open before the first step.
BEFORE_SEC = 1.0


class DemoPlayer:
    """Performs ``steps`` once ``begin`` is called.

    ``hear(data, delta_sec)`` gets MIDI, ``order(name, args)`` commands, ``end()`` the end.
    """

    def __init__(
        self,
        steps: list[Step],
        hear: Callable[[bytes, float], None],
        order: Callable[[str, dict[str, Any]], None],
        end: Callable[[], None],
    ) -> None:
        self._steps = steps
        self._hear, self._order, self._end = hear, order, end
        self._begun = False

    def begin(self) -> None:
        """Start playing; a second call does nothing."""
        if not self._begun:
            self._begun = True
            threading.Thread(target=self._run, name="demo player", daemon=True).start()

    def _run(self) -> None:
        start = time.perf_counter() + BEFORE_SEC
        before = start
        for step in self._steps:
            moment = start + step.sec
            while (left := moment - time.perf_counter()) > 0:
                time.sleep(left)
            if step.kind == "command":
                self._order(step.name, dict(step.args))
            else:
                self._hear(step.data, moment - before)
                before = moment
        time.sleep(END_SEC_AFTER)
        self._end()
