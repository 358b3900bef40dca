"""A window sleeps between two frames until something happens."""

import time
from pathlib import Path

from tests.waiting import until
from tests.window.conftest import Opened
from tests.window.screen import Screen


def sleeps(pid: int) -> int:
    """How often the main thread of a process has gone to sleep so far (Linux, proc(5))."""
    status = Path(f"/proc/{pid}/status").read_text()
    return int(status.split("\nvoluntary_ctxt_switches:")[1].split()[0])


def test_a_window_that_waits_sleeps_until_something_happens(screen: Screen, opened: Opened) -> None:
    screen.key("Tab")
    until(lambda: opened.engine.looper.state == "LISTENING", "the start")
    before, begun = sleeps(opened.process.pid), time.perf_counter()
    time.sleep(1.5)
    a_second = (sleeps(opened.process.pid) - before) / (time.perf_counter() - begun)
    # Sixty frames; looking once a millisecond made it 850. A busy machine makes it fewer.
    assert a_second < 400
    screen.note("a")
    until(lambda: len(opened.engine.keys) == 2, "a note to begin and end")
