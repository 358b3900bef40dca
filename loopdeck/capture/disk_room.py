"""Room on the disk: how much is left, some that is kept free for a disk that fills up, and a place
aside when it is full.

Conventions: ``SPARE_BYTES`` are kept free until they are needed; at 37 bytes a MIDI message they
hold some 28,000 messages. What a full disk did not take at the end of a session lies as
``NAME.rest-OFFSET`` in a folder on another disk: the bytes that belong into the journal from OFFSET
on.
"""

import os
import shutil
import stat
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import IO

SPARE_BYTES = 1 << 20


def free_bytes(path: Path) -> int | None:
    """How many bytes are free on the disk that holds ``path``; None when that cannot be told."""
    try:
        return shutil.disk_usage(path.parent).free
    except OSError:
        return None


class SpareRoom:
    """Room that is kept free on the disk of a journal, by a file without a name: it goes with the
    process, however that ends.
    """

    def __init__(self, journal: Path) -> None:
        self._journal = journal
        self._file: IO[bytes] | None = None

    def take(self) -> None:
        """Take the room, unless it is taken or there is not twice as much."""
        free = free_bytes(self._journal)
        if self._file is not None or free is None or free < 2 * SPARE_BYTES:
            return
        with suppress(OSError):
            file = tempfile.TemporaryFile(dir=self._journal.parent)  # noqa: SIM115 - it holds the room as long as it is open
            try:
                if hasattr(os, "posix_fallocate"):
                    os.posix_fallocate(file.fileno(), 0, SPARE_BYTES)
                else:
                    file.write(os.urandom(SPARE_BYTES))
                    file.flush()
            except OSError:
                file.close()
                raise
            self._file = file

    def give_up(self) -> bool:
        """Free the room; True when there was some."""
        file, self._file = self._file, None
        if file is not None:
            file.close()
        return file is not None


def folders_aside(path: Path) -> Iterator[Path]:
    """Folders on other disks than the one that holds ``path``."""
    for folder in (Path(tempfile.gettempdir()), Path.home()):
        with suppress(OSError):
            if folder.stat().st_dev != path.parent.stat().st_dev:
                yield folder


def put_aside(path: Path, offset: int, rest: bytes) -> Path:
    """Write the rest of a journal to another disk; returns where it is. Raises OSError when no
    other disk takes it.
    """
    for folder in folders_aside(path):
        aside = folder / f"{path.name}.rest-{offset}"
        try:
            # Not through anything that lies there already: the folder may be everybody's.
            with open(aside, "xb") as file:
                file.write(rest)
                file.flush()
                os.fsync(file.fileno())
            return aside
        except OSError:
            with suppress(OSError):
                aside.unlink()
    raise OSError("no other disk has room")


def _ours(aside: Path) -> bool:
    """True for a plain file of this user; the folder may be everybody's."""
    try:
        found = aside.lstat()
    except OSError:
        return False
    return stat.S_ISREG(found.st_mode) and (not hasattr(os, "getuid") or found.st_uid == os.getuid())


def take_back(path: Path) -> None:
    """Join what was put aside with its journal, where it belongs: exactly at its end. Raises
    OSError, with the rest still aside.
    """
    size = path.stat().st_size
    for folder in folders_aside(path):
        aside = folder / f"{path.name}.rest-{size}"
        if not _ours(aside):
            continue
        rest = aside.read_bytes()
        with open(path, "ab") as file:
            try:
                file.write(rest)
                file.flush()
                os.fsync(file.fileno())
            except OSError:
                os.truncate(path, size)
                raise
        aside.unlink()
        return
