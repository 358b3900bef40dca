"""Opening files that others wrote: only ordinary ones, and none that is too large to be meant; and
closing what is open.
"""

import os
import stat
from abc import ABC, abstractmethod
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Self

from loopdeck.errors import UserError


def open_ordinary(path: str | Path, what: str, limit: int) -> BinaryIO:
    """Open ``path`` for reading in binary; ``what`` names the kind of file in errors ("a Standard
    MIDI File").

    Raises UserError for a folder, a device or a pipe (which could keep us waiting for ever) and for
    more than ``limit`` bytes; OSError when it cannot be opened.
    """
    # Without O_NONBLOCK, opening a pipe that nobody writes to would hang before it could be looked
    # at.
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    status = os.fstat(handle)
    problem = ""
    if stat.S_ISDIR(status.st_mode):
        problem = f"{path} is a folder; {what} was expected."
    elif not stat.S_ISREG(status.st_mode):
        problem = f"{path} is a device or a pipe; {what} was expected."
    elif status.st_size > limit:
        problem = f"{path} has {status.st_size:,} bytes; {what} may have {limit:,} at most."
    if problem:
        os.close(handle)
        raise UserError(problem)
    return os.fdopen(handle, "rb")


class Closing(ABC):
    """Something open that a ``with`` statement closes at its end."""

    @abstractmethod
    def close(self) -> None:
        """Close it; a second time does nothing."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
