"""What SQLite's errors mean for the player, as sentences."""

import contextlib
import shutil
import sqlite3
from pathlib import Path

#: SQLite's words for a file whose bytes are not what was written.
_DAMAGE = (
    "malformed",
    "not a database",
    "no such table",
    "no such column",
    "decode to utf-8",
    "unsupported file format",
)
#: Less than this many bytes free is a full disk: SQLite's index of the log alone takes 32 KiB.
_FULL = 1 << 16


def damaged(path: Path, what: str) -> str:
    """The sentence for something damaged, with the way to get the rest back."""
    return (
        f"{what} is damaged; loopdeck takes rescue --shelf {path} -o NEW.sqlite copies every take that can still be "
        "read into a new one."
    )


def sentence(path: Path, error: sqlite3.Error) -> str:
    """The sentence for an error of SQLite with the shelf ``path``."""
    text = str(error).lower()
    if "not a database" in text and not _begins_like_one(path):
        return (
            f"{path} is no shelf, or its beginning was overwritten; name another with --shelf, or, if it was one, get its "
            f"takes back with loopdeck takes rescue --shelf {path} -o NEW.sqlite."
        )
    if any(words in text for words in _DAMAGE):
        return damaged(path, f"The shelf {path}")
    if "readonly" in text or "read-only" in text:
        return f"The shelf {path} can only be read, not changed; make it writable, or name another with --shelf."
    if "full" in text or ("disk i/o" in text and _is_full(path)):
        return f"The disk that holds the shelf {path} is full; nothing was changed."
    if "disk i/o" in text:
        return f"The disk that holds the shelf {path} could not be read or written; nothing was changed."
    if "unable to open" in text:
        return f"The shelf {path} cannot be opened or made there; name another with --shelf."
    if "locked" in text or "busy" in text:
        return f"The shelf {path} is being written by another program; try again."
    return f"The shelf {path} could not be used: {error}."


def _begins_like_one(path: Path) -> bool:
    with contextlib.suppress(OSError), path.open("rb") as file:
        return file.read(16) == b"SQLite format 3\0"
    return False


def _is_full(path: Path) -> bool:
    with contextlib.suppress(OSError):
        return shutil.disk_usage(path.parent).free < _FULL
    return False
