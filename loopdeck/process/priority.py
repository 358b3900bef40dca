"""Keeping the interpreter and the system from delaying what is due.

What is done, and why
    Python's collector of reference cycles would stop everything for milliseconds whenever it likes:
    it is switched off, and run only while nothing is due for long enough. Another thread may hold
    the interpreter for 5 ms by default: 0.5 ms instead. The process asks the system for a higher
    priority, and the thread that plays for timers without slack and a short slice; where that is
    not allowed nothing is said.
"""

import ctypes
import gc
import os
import sys
from contextlib import suppress

import numpy as np

from loopdeck.process.clock import Clock
from loopdeck.process.time_slice import shorten_slice

SWITCH_SEC = 0.0005
#: (generation, how long nothing must be due, how long since the last time), in seconds. Measured:
#: under 1 ms, and some 10 ms.
COLLECTIONS = ((2, 0.15, 60.0), (1, 0.02, 2.0))
_PR_SET_TIMERSLACK = 29


def raise_priority() -> None:
    """Ask for a higher priority, for all threads that are started from now on: whoever holds the
    interpreter must finish soon.

    No real-time class: it would keep a MIDI server that has none from passing on what we send (seen
    with JACK).
    """
    if sys.platform == "win32":
        _priority_on_windows()
        return
    if hasattr(os, "nice"):
        with suppress(OSError):
            os.nice(-10)


def reset_priority(pid: int) -> None:
    """Give a process that we started the usual priority."""
    # On Windows a child begins with the usual priority: only the idle classes are inherited.
    if hasattr(os, "setpriority"):
        with suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, pid, 0)


def lower_priority(at_once: bool = False) -> None:
    """Give way to everybody: for a process of ours whose work can wait.

    ``at_once``: also in the midst of its work, as soon as anything else wakes, where the system has
    a class for that. While a process of low priority alone worked, what was due came up to 1.4 ms
    late (Linux 6.18, two processors). On a machine that is busy throughout, work of that class
    hardly moves.
    """
    if sys.platform.startswith("linux"):
        with suppress(OSError, AttributeError):
            os.sched_setscheduler(0, os.SCHED_IDLE if at_once else os.SCHED_BATCH, os.sched_param(0))
    if hasattr(os, "setpriority"):
        with suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, 0, 10)


def load_late_parts() -> None:
    """Load what numpy loads at the first call of some functions, 30 ms that would be missed
    later.
    """
    np.percentile(np.unique(np.zeros(3)), 75)
    np.median(np.zeros(3))


def _priority_on_windows() -> None:
    """The class above the normal one; the real-time class would starve the drivers."""
    above_normal = 0x8000
    with suppress(OSError, AttributeError):
        kernel = ctypes.WinDLL("kernel32")  # type: ignore[attr-defined,unused-ignore]
        kernel.GetCurrentProcess.restype = ctypes.c_void_p
        kernel.SetPriorityClass(ctypes.c_void_p(kernel.GetCurrentProcess()), above_normal)


class RealtimeGuard:
    """Call ``begin`` in the thread that plays, once everything is set up, and ``idle`` whenever it
    has nothing to do.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._last = {generation: clock.now() for generation, _, _ in COLLECTIONS}

    def begin(self) -> None:
        """From now on time matters."""
        load_late_parts()
        gc.collect()
        gc.freeze()
        gc.disable()
        sys.setswitchinterval(SWITCH_SEC)
        if sys.platform.startswith("linux"):
            with suppress(OSError, AttributeError):
                ctypes.CDLL(None).prctl(_PR_SET_TIMERSLACK, 1, 0, 0, 0)
        shorten_slice()

    def idle(self, until_sec: float | None, long: bool = True) -> None:
        """Nothing is due until then: a chance to tidy up. ``long``: it may take some 10 ms, for a
        sound device asks more often than that.
        """
        now = self._clock.now()
        free_sec = float("inf") if until_sec is None else until_sec - now
        for generation, wanted_sec, every_sec in COLLECTIONS:
            if generation == 2 and not long:
                continue
            if free_sec >= wanted_sec and now - self._last[generation] >= every_sec:
                gc.collect(generation)
                self._last[generation] = self._clock.now()
                return

    def end(self) -> None:
        """Time does not matter any more."""
        gc.enable()
