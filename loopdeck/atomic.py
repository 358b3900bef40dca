"""Writing a file whole or not at all: into a file beside it, to the disk, then renamed over it."""

import contextlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO


@contextlib.contextmanager
def whole_file(path: str | Path) -> Iterator[BinaryIO]:
    """A binary file to write into; it appears under ``path`` only when everything is on the disk.
    Raises OSError; leaves nothing behind.
    """
    target = Path(path)
    if target.is_dir():
        raise IsADirectoryError(21, "Is a folder; name a file", str(path))
    if target.exists() and not target.is_file():
        # A device or a pipe is written to; renaming a file over it would take it away.
        try:
            with target.open("wb") as device:
                yield device
        except OSError as error:
            raise type(error)(error.errno, error.strerror, str(path)) from error
        return
    # A link stays one: what it leads to is written.
    target = Path(os.path.realpath(target))
    try:
        handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".part", dir=target.parent or Path())
    except OSError as error:
        raise type(error)(error.errno, error.strerror, str(path)) from error
    try:
        with os.fdopen(handle, "wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        umask = os.umask(0)
        os.umask(umask)
        os.chmod(name, 0o666 & ~umask)
        os.replace(name, target)
    except BaseException as error:
        with contextlib.suppress(OSError):
            os.unlink(name)
        if isinstance(error, OSError) and error.filename in (None, name):
            raise type(error)(error.errno, error.strerror, str(path)) from error
        raise
