"""The files of journals: held by one process at a time, and on the disk, not only on their way to
it.
"""

import contextlib
import os
import shutil
from pathlib import Path
from typing import Any, BinaryIO

from loopdeck.errors import UserError


def in_use(path: str | Path) -> bool:
    """True while a JournalWriter, of this process or another, has the file open.

    Raises OSError when it cannot be opened.
    """
    with open(path, "rb") as file:
        return not lock(file)


def in_use_error(path: Path) -> UserError:
    """What is said when somebody else has the file."""
    return UserError(f"{path} is in use by another session; end that one first.")


def lock(file: Any) -> bool:
    """Take the file for this process; False when somebody has it. The lock ends with the process,
    however that ends.
    """
    try:
        import fcntl
    except ImportError:
        return _lock_on_windows(file)
    try:
        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _lock_on_windows(file: Any) -> bool:
    """The same by a byte far behind the end of any journal, since there a locked byte cannot be
    read by others.
    """
    import msvcrt

    at = file.tell()
    file.seek(1 << 30)
    try:
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
    except OSError:
        return False
    finally:
        file.seek(at)
    return True


def save_tail(path: Path, rest: BinaryIO) -> None:
    """Copy the rest of an open file to a new one; none is left where that fails. Raises OSError."""
    try:
        with open(path, "wb") as file:
            shutil.copyfileobj(rest, file)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        path.unlink(missing_ok=True)
        error.filename = error.filename or str(path)
        raise


def sync_folder(folder: Path) -> None:
    """Put a new file's name on the disk too; where folders cannot be opened, the system does that
    by itself.
    """
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
