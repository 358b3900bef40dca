"""Whether another process still runs: asked of Linux, of the BSDs with macOS, and of Windows, each
in the way that also sees the end of a process that its parent has not waited for yet.
"""

import ctypes
import errno
import os
import select
import sys
from typing import Any

_SYNCHRONIZE, _WAIT_TIMEOUT = 0x00100000, 0x102


def alive(pid: int) -> bool:
    """True while the process runs; False once it has ended, whether its parent has waited for it or
    not (without a better call than ``kill``: only once it has).
    """
    if pid <= 0:
        return False
    if sys.platform == "win32":
        return _alive_on_windows(pid)
    try:
        if hasattr(os, "pidfd_open") and (ended := _ended_on_linux(pid)) is not None:
            return not ended
        os.kill(pid, 0)
        return not hasattr(select, "kqueue") or not _ended_on_bsd(pid)
    except ProcessLookupError:
        return False
    except OSError:
        return True


def _ended_on_linux(pid: int) -> bool | None:
    """True for a process that has ended, waited for or not; None where this cannot be asked: the
    kernel is too old for it or forbids it, or no file can be opened any more.
    """
    try:
        handle = os.pidfd_open(pid)
    except OSError as error:
        # EINVAL: a thread has the number now.
        return True if error.errno in (errno.ESRCH, errno.EINVAL) else None
    try:
        return bool(select.select((handle,), (), (), 0.0)[0])
    finally:
        os.close(handle)


def _ended_on_bsd(pid: int) -> bool:
    """True for a process that has ended and was not waited for: FreeBSD tells of it at once, macOS
    knows no such process any more (ProcessLookupError; both from memory).
    """
    kqueue: Any = select.kqueue()  # type: ignore[attr-defined,unused-ignore]
    try:
        names: Any = select
        ends = names.kevent(pid, names.KQ_FILTER_PROC, names.KQ_EV_ADD | names.KQ_EV_ONESHOT, names.KQ_NOTE_EXIT)
        return bool(kqueue.control([ends], 1, 0))
    finally:
        kqueue.close()


def _alive_on_windows(pid: int) -> bool:
    """By a wait of no length for its handle: ``os.kill(pid, 0)`` would end it there."""
    kernel = ctypes.WinDLL("kernel32", use_last_error=True)  # type: ignore[attr-defined,unused-ignore]
    kernel.OpenProcess.restype = ctypes.c_void_p
    handle = kernel.OpenProcess(_SYNCHRONIZE, False, pid)
    if not handle:
        return False
    try:
        return bool(kernel.WaitForSingleObject(ctypes.c_void_p(handle), 0) == _WAIT_TIMEOUT)
    finally:
        kernel.CloseHandle(ctypes.c_void_p(handle))
