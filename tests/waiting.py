"""Waiting for something to become true, and ending a process: tests wait for a condition, never for
a time.
"""

import subprocess
import time
from collections.abc import Callable
from typing import Any


def until(condition: Callable[[], Any], what: str = "it", sec: float = 20.0) -> Any:
    """Wait until the condition is true; returns its value. AssertionError naming ``what`` when it
    never is.
    """
    end = time.monotonic() + sec
    while not (found := condition()):
        assert time.monotonic() < end, f"{what} did not happen within {sec:g} s"
        time.sleep(0.01)
    return found


def end_server(server: "subprocess.Popen[bytes]") -> None:
    """Ask a server to end, and end it when it does not."""
    server.terminate()
    try:
        server.wait(5)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()
