"""Getting the takes back from a damaged shelf: every row that can still be read, into a new shelf."""

import contextlib
import sqlite3
from pathlib import Path

from loopdeck.shelf.errors import ShelfError
from loopdeck.shelf.store import Shelf, take_of_row

_COLUMNS = [
    "number",
    "name",
    "kept_at",
    "origin",
    "rating",
    "note",
    "passes",
    "end_sec",
    "brief",
    "tempo_map",
    "meters",
    "events",
    "layers",
]
_LATER = {"late": "[]", "signature": "null"}
#: Numbers are tried one by one, so that one damaged page costs only the takes that lie on it.
_TRIED = 100_000
_GIVE_UP = 2_000


def rescue(damaged: str | Path, new: str | Path) -> tuple[int, int]:
    """Copy every readable take of ``damaged`` into a new shelf; (copied, lost). The damaged file is not touched.

    Raises ShelfError when the new file exists already, or nothing at all can be read.
    """
    source, target = Path(damaged), Path(new)
    if target.exists():
        raise ShelfError(f"{target} exists already; name a new file for the rescued takes.")
    if not source.is_file():
        raise ShelfError(f"There is no shelf {source}.")
    db = sqlite3.connect(source.resolve().as_uri() + "?mode=ro", uri=True, isolation_level=None)
    copied = lost = 0
    try:
        db.text_factory = lambda data: data.decode(errors="replace")
        with contextlib.suppress(sqlite3.Error):
            db.execute("PRAGMA cell_size_check = ON")
        try:
            columns = [name for name in (*_COLUMNS, *_LATER) if name in _known(db)]
        except sqlite3.Error as error:
            raise ShelfError(
                f"Nothing can be read from {source} any more; the journals may still have the playing."
            ) from error
        with Shelf(target) as shelf:
            missed = 0
            for number in range(1, _TRIED):
                try:
                    row = db.execute(f"SELECT {', '.join(columns)} FROM take WHERE number = ?", (number,)).fetchone()
                    if row is None:
                        missed += 1
                        if missed > _GIVE_UP:
                            break
                        continue
                    missed = 0
                    take = take_of_row({**_LATER, **dict(zip(columns, row, strict=True))}, _tags(db, number))
                except (sqlite3.Error, ShelfError):
                    lost += 1
                    missed += 1
                    if missed > _GIVE_UP:
                        lost -= missed
                        break
                    continue
                shelf.add(take)
                copied += 1
    finally:
        db.close()
    if not copied:
        target.unlink(missing_ok=True)
        raise ShelfError(f"No take can be read from {source} any more; the journals may still have the playing.")
    return copied, max(lost, 0)


def _known(db: sqlite3.Connection) -> set[str]:
    known = {row[1] for row in db.execute("PRAGMA table_info(take)")}
    if not known:
        raise sqlite3.DatabaseError("no table")
    return known


def _tags(db: sqlite3.Connection, number: int) -> tuple[str, ...]:
    try:
        return tuple(word for (word,) in db.execute("SELECT word FROM tag WHERE take = ? ORDER BY word", (number,)))
    except sqlite3.Error:
        return ()
