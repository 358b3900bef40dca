"""A system without the calls that only Unix or only Linux has: Python runs this file first of all
where its folder is on PYTHONPATH, so every process that loopdeck starts is without them, too.

It shows that nothing asks for a call that is not there. It is no other system: paths, locks and
processes are this one's.
"""

import os
import select
import signal
import socket
import sys
import types
from functools import partial
from typing import Any

SIGNALS = ("SIGHUP", "SIGUSR1", "SIGUSR2", "SIGKILL", "SIGALRM", "SIGCHLD", "SIGPIPE", "SIGQUIT", "SIGXFSZ")
MASKS = ("pthread_sigmask", "pthread_kill", "sigwait", "sigpending", "setitimer", "alarm", "pause")
CALLS = (
    "nice", "setpriority", "getpriority", "getuid", "geteuid", "getgid", "getegid", "fork", "forkpty", "killpg", "pidfd_open",
    "sched_getaffinity", "sched_getscheduler", "sched_setscheduler", "mkfifo", "mknod", "fchmod", "fchown", "chown", "fdatasync", "sync",
    "posix_fallocate", "posix_fadvise", "getloadavg", "getpgid", "setsid", "setpgid", "O_NONBLOCK", "O_DIRECTORY", "O_CLOEXEC",
)  # fmt: skip
MODULES = ("fcntl", "resource", "pwd", "grp", "termios", "tty", "pty", "syslog", "readline")


def _locking(handle: int, mode: int, count: int) -> None:
    """Locks nothing."""


def take_away() -> None:
    """Take everything away that another system may lack."""
    # Libraries ask for these while they are loaded, by the name of the system, and have another way
    # elsewhere.
    import asyncio  # noqa: F401
    import multiprocessing.connection  # noqa: F401
    import pathlib  # noqa: F401
    import shutil  # noqa: F401
    import subprocess  # noqa: F401
    import tempfile  # noqa: F401

    import platformdirs.unix  # noqa: F401

    # There the library makes a pair over the loopback; here that is not needed.
    pair: Any = partial(socket.socketpair, socket.AF_UNIX)
    socket.socketpair = pair
    gone: dict[Any, tuple[str, ...]] = {
        signal: (*SIGNALS, *MASKS), os: CALLS, socket: ("AF_UNIX",), select: ("poll", "epoll", "kqueue")
    }  # fmt: skip
    for module, names in gone.items():
        for name in names:
            if hasattr(module, name):
                delattr(module, name)
    for name in MODULES:
        sys.modules[name] = None  # type: ignore[assignment]
    locks: Any = types.ModuleType("msvcrt")
    locks.LK_NBLCK, locks.locking = 2, _locking
    sys.modules["msvcrt"] = locks


take_away()
