"""Whether another process still runs."""

import ctypes
import os
import select
import sys

_SYNCHRONIZE, _WAIT_TIMEOUT = 0x00100000, 0x102


def alive(pid: int) -> bool:
    """True while the process runs.

    One that has ended but was not yet buried by its parent does not.
    """
    if pid <= 0:
        return False
    if sys.platform == "win32":
        return _alive_on_windows(pid)
    if hasattr(os, "pidfd_open"):
        try:
            handle = os.pidfd_open(pid)
        except OSError:
            return False
        try:
            # Readable means ended, buried or not.
            return not select.select((handle,), (), (), 0.0)[0]
        finally:
            os.close(handle)
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


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
