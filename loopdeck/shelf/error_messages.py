"""What SQLite's errors mean for the player, as sentences."""

import contextlib
import os
import shutil
import sqlite3
from pathlib import Path
from shlex import quote

from loopdeck.errors import nearest

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
#: So many names, the newest ones, are compared with one that was mistyped.
_NAMES = 500


def damaged(path: Path, what: str) -> str:
    """The sentence for something damaged, with the way to get the rest back."""
    return (
        f"{what} is damaged; loopdeck takes rescue --shelf {quote(str(path))} -o NEW.sqlite copies every take "
        "that can still be "
        "read into a new one."
    )


def sentence(path: Path, error: sqlite3.Error) -> str:
    """The sentence for an error of SQLite with the shelf ``path``."""
    text = str(error).lower()
    if "not a database" in text and not _begins_like_one(path):
        return (
            f"{path} is not a shelf, or its beginning was overwritten; name another with --shelf, or, if it was "
            "one, get its "
            f"takes back with loopdeck takes rescue --shelf {quote(str(path))} -o NEW.sqlite."
        )
    if any(words in text for words in _DAMAGE):
        return damaged(path, f"The shelf {path}")
    if no_room(path, error):
        return f"The disk that holds the shelf {path} is full; nothing was changed."
    if "readonly" in text or "read-only" in text:
        return f"The shelf {path} can only be read, not changed; make it writable, or name another with --shelf."
    if "disk i/o" in text:
        return f"The disk that holds the shelf {path} could not be read or written; nothing was changed."
    if "unable to open" in text:
        return f"The shelf {path} cannot be opened or made there; name another with --shelf."
    if "locked" in text or "busy" in text:
        return f"The shelf {path} is being written by another program; try again."
    return f"The shelf {path} could not be used: {error}."


def no_such_take(db: sqlite3.Connection, path: Path, text: str) -> str:
    """The sentence for a number or a name that no take on the shelf has."""
    missing = f"There is no take {text!r} on the shelf {path}"
    if text.isascii() and text.isdecimal():
        if db.execute("SELECT 1 FROM take WHERE number = ?", (min(int(text[:19]), 2**62),)).fetchone():
            return f"{missing}: it is in the bin, and loopdeck takes restore {text} gets it back."
        return f"{missing}; loopdeck takes list shows what there is."
    newest = db.execute(f"SELECT name FROM take WHERE binned_at IS NULL ORDER BY number DESC LIMIT {_NAMES}")
    near = nearest(text, (name for (name,) in newest if isinstance(name, str)))
    hint = f": did you mean {near!r}?" if near else "; loopdeck takes list shows what there is."
    return missing + hint


def _begins_like_one(path: Path) -> bool:
    with contextlib.suppress(OSError), path.open("rb") as file:
        return file.read(16) == b"SQLite format 3\0"
    return False


def no_room(path: Path, error: sqlite3.Error) -> bool:
    """Whether an error came from a full disk.

    SQLite says so itself only where it was writing to the file proper.
    """
    text = str(error).lower()
    if "full" in text:
        return True
    if not any(words in text for words in ("disk i/o", "readonly", "unable to open")) or not os.access(
        path.parent, os.W_OK
    ):
        return False
    if path.exists() and not os.access(path, os.W_OK):
        return False
    with contextlib.suppress(OSError):
        return shutil.disk_usage(path.parent).free < _FULL
    return False
