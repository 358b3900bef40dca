"""Waiting for something to become true, and ending a process: tests wait for a condition, never for
a time.
"""

import subprocess
import time
from collections.abc import Callable
from typing import Any

#: The longest wait for anything, in seconds: a limit that a slow and busy machine does not reach
#: either. A wait that succeeds is not longer for it.
PATIENCE_SEC = 90.0


def until(condition: Callable[[], Any], what: str = "it", sec: float = PATIENCE_SEC, pause_sec: float = 0.01) -> Any:
    """Wait until the condition is true, looking again after each pause; returns its value.
    AssertionError naming ``what`` when it never is.
    """
    end = time.monotonic() + sec
    while True:
        # Asked for before the last look: a machine may stand still in between.
        over = time.monotonic() >= end
        if found := condition():
            return found
        assert not over, f"{what} did not happen within {sec:g} s"
        time.sleep(pause_sec)


def end_server(server: "subprocess.Popen[bytes]") -> None:
    """Ask a server to end, and end it when it does not."""
    server.terminate()
    try:
        server.wait(5)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()
