"""Opening a shelf's file: to write with a write-ahead log, or read only where nothing can be
written.

Conventions
    Errors of SQLite and of the system go through as they are; UserError is raised for what those do
    not know: a folder, a newer version, somebody else's database.
"""

import contextlib
import os
import shutil
import sqlite3
import tempfile
import time
from pathlib import Path

from loopdeck.errors import UserError
from loopdeck.shelf.error_messages import no_room
from loopdeck.shelf.migrations import VERSION, migrate

#: Another program that is writing is waited for so long.
BUSY_SEC = 5.0


def open_shelf(path: Path) -> sqlite3.Connection:
    """The shelf ``path``, made if there is none, at this version; in autocommit mode, with a
    function ``folded`` for letters of any case.

    In a place that cannot be written to, or on a full disk, it is read only: as it lies there, or,
    when it has to be brought up to this version or its log still holds takes, from a copy in
    memory.
    """
    if path.is_dir():
        raise UserError(f"The shelf {path} is a folder; name a file in it.")
    if path.exists() and not path.is_file():
        raise UserError(f"The shelf {path} is a device or a pipe; name a file.")
    path.parent.mkdir(parents=True, exist_ok=True)
    if path.exists() and not (os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)):
        return _open_read_only(path)
    try:
        return _open_to_write(path)
    except sqlite3.OperationalError as error:
        # A full disk has no room for the log, but what lies there can be read, and taken away.
        if no_room(path, error) and path.is_file() and path.stat().st_size:
            return _open_read_only(path)
        raise


def _open_to_write(path: Path) -> sqlite3.Connection:
    db = _connect(path)
    try:
        version = _version(path, db)
        _check_schema(path, db)
        _write_ahead(db)
        if version < VERSION:
            migrate(db)
        db.execute("SELECT number, name FROM take LIMIT 1").fetchall()
    except BaseException:
        db.close()
        raise
    return db


def _open_read_only(path: Path) -> sqlite3.Connection:
    log = Path(f"{path}-wal")
    db = _connect(path, "?mode=ro&immutable=1")
    try:
        if (log.exists() and log.stat().st_size) or _version(path, db) < VERSION:
            db.close()
            db = _copy(path, log)
            if _version(path, db) < VERSION:
                migrate(db)
        _check_schema(path, db)
        db.execute("SELECT number, name FROM take LIMIT 1").fetchall()
        db.execute("PRAGMA query_only = ON")
    except BaseException:
        db.close()
        raise
    return db


def _copy(path: Path, log: Path) -> sqlite3.Connection:
    """A copy in memory, with what its log holds."""
    memory = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    _prepare(memory)
    with tempfile.TemporaryDirectory(prefix="loopdeck-") as folder:
        copy = Path(folder) / "shelf"
        shutil.copyfile(path, copy)
        if log.exists():
            shutil.copyfile(log, f"{copy}-wal")
        with contextlib.closing(_connect(copy)) as source:
            source.backup(memory)
    return memory


def _version(path: Path, db: sqlite3.Connection) -> int:
    (version,) = db.execute("PRAGMA user_version").fetchone()
    if version > VERSION:
        raise UserError(
            f"The shelf {path} was written by a newer loopdeck (its version {version}, ours {VERSION}); "
            "use that one, or name another shelf with --shelf."
        )
    if version <= 0 and db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
        # Another loopdeck may have made this very shelf since the version was read; then it has one
        # now.
        (version,) = db.execute("PRAGMA user_version").fetchone()
        if version <= 0:
            raise UserError(f"{path} is a database of another program; name another shelf with --shelf.")
    return int(version)


def _check_schema(path: Path, db: sqlite3.Connection) -> None:
    """Refuse what no shelf has: views in the place of tables, triggers, columns that are computed.
    Raises UserError.
    """
    try:
        strange = db.execute("SELECT name FROM sqlite_master WHERE type NOT IN ('table', 'index')").fetchall()
        for table in ("take", "tag", "practice"):
            strange += [row for row in db.execute(f"PRAGMA table_xinfo({table})") if row[-1] != 0]
    except UnicodeDecodeError as error:
        # SQLite quotes the schema in what it says is wrong, and that may not be text any more.
        raise sqlite3.DatabaseError("database disk image is malformed") from error
    if strange:
        raise UserError(f"{path} is not one of loopdeck's shelves; name another with --shelf.")


def _connect(path: Path, how: str = "") -> sqlite3.Connection:
    where = path.resolve().as_uri() + how
    db = sqlite3.connect(where, uri=True, timeout=BUSY_SEC, isolation_level=None, check_same_thread=False)
    _prepare(db)
    return db


def _prepare(db: sqlite3.Connection) -> None:
    # SQLite's own lower() knows only the 26 letters of ASCII.
    # A text that is not UTF-8 any more is one bad text, not a bad shelf.
    db.text_factory = lambda data: data.decode("utf-8", "replace")
    db.create_function("folded", 1, lambda text: str(text).casefold(), deterministic=True)
    db.execute("PRAGMA foreign_keys = ON")
    # What a shelf's own schema may do to whoever opens it: nothing.
    db.execute("PRAGMA trusted_schema = OFF")
    db.execute("PRAGMA cell_size_check = ON")


def _write_ahead(db: sqlite3.Connection) -> None:
    """Turn the write-ahead log on.

    SQLite does not wait for another program that is doing the same, so we do.
    """
    until = time.monotonic() + BUSY_SEC
    while True:
        try:
            db.execute("PRAGMA journal_mode = WAL")
            break
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > until:
                raise
            time.sleep(0.01)
    db.execute("PRAGMA synchronous = FULL")
