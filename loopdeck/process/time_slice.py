"""Asking the system to run a thread soon after it wakes.

Method
    Since version 6.12 the Linux scheduler (earliest eligible virtual deadline first) takes a slice
    of its own for each thread, through ``sched_setattr``. A thread with a short slice goes before
    one with a long slice that is running when it wakes, but gets no more of the processor in all
    (Linux, Documentation/scheduler/sched-eevdf.rst). It needs no privilege. Older systems ignore
    the value.
"""

import ctypes
import os
import platform
import struct
import sys
from contextlib import suppress

#: The shortest slice that the scheduler takes.
SHORTEST_SEC = 0.0001
#: The number of the system call (Linux, arch/*/include and tools/scripts/syscall.tbl), for C
#: libraries that have no function of that name.
_SET_ATTRIBUTES = {"x86_64": 314, "aarch64": 274, "riscv64": 274}
#: ``struct sched_attr`` (Linux, include/uapi/linux/sched/types.h): size, policy, flags, nice,
#: priority, runtime (ns), deadline, period, and the bounds of use.
_ATTRIBUTES = "IIQiIQQQII"
_OTHER = 0


def shorten_slice(slice_sec: float = SHORTEST_SEC) -> bool:
    """Give this thread, and those that it starts from now on, a slice of this length (0.1 to 100
    ms). Its nice value stays. Returns whether the system took it.
    """
    if not sys.platform.startswith("linux"):
        return False
    with suppress(OSError, AttributeError, ValueError):
        if os.sched_getscheduler(0) != _OTHER:
            return False
        nice = os.getpriority(os.PRIO_PROCESS, 0)
        wanted = (struct.calcsize(_ATTRIBUTES), _OTHER, 0, nice, 0, round(slice_sec * 1e9), 0, 0, 0, 0)
        return _set_attributes(struct.pack(_ATTRIBUTES, *wanted))
    return False


def _set_attributes(attributes: bytes) -> bool:
    library = ctypes.CDLL(None, use_errno=True)
    if hasattr(library, "sched_setattr"):
        return bool(library.sched_setattr(0, attributes, 0) == 0)
    number = _SET_ATTRIBUTES.get(platform.machine())
    return number is not None and bool(library.syscall(number, 0, attributes, 0) == 0)
