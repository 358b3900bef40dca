"""Getting the takes back from a damaged shelf: every row that can still be read, into a new shelf.

First SQLite is asked for each take by itself, on a copy; then, for what it does not find, the
file's pages are read one by one. Takes keep their numbers, tags, ratings and their place in the
bin. The damaged file is not touched.
"""

import contextlib
import itertools
import shutil
import sqlite3
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from loopdeck.errors import UserError
from loopdeck.shelf import codec, sqlite_pages
from loopdeck.shelf.practice_rows import PracticeRow
from loopdeck.shelf.rows import WRONG, take_of_row
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import MAX_RATING

#: The columns of a take in the order in which they lie in a row.
_ROW = (
    "number", "name", "kept_at", "origin", "rating", "note", "passes", "end_sec", "brief", "scale", "cycle", "qpm",
    "tempo_map", "meters", "events", "layers", "binned_at", "late", "signature",
    "mix", "source", "run_pass", "first_bar", "more",
)  # fmt: skip
#: Those that came with a later version, and what they are in rows older than it.
_LATER: dict[str, Any] = {
    "binned_at": None,
    "late": "[]",
    "signature": "null",
    "mix": "{}",
    "source": "",
    "run_pass": 0,
    "first_bar": 0,
    "more": "{}",
}
#: More takes than anybody keeps; a number above it is a damaged one.
_MAX_NUMBER = 10_000_000

#: Takes without a row that a sound number can be above the highest there is; numbers asked for of
#: which no row is seen; patience with one.
_MOST_MISSING, _MOST_ASKED, _ONE_QUERY_SEC = 10_000, 20_000, 2.0

Row = dict[str, Any]


def rescue(damaged: str | Path, new: str | Path) -> tuple[int, int]:
    """Copy every readable take of ``damaged`` into a new shelf; (copied, lost). The damaged file is
    not touched.

    Numbers below the highest known that have no take any more are counted as lost: a number is
    never given twice, and a take never leaves the shelf. Raises UserError when the new file exists
    already, or no take can be read.
    """
    source, target = Path(damaged), Path(new)
    if target.exists():
        raise UserError(f"{target} exists already; name a new file for the rescued takes.")
    if not source.is_file():
        raise UserError(f"There is no shelf {source}.")
    copied: set[int] = set()
    try:
        with Shelf(target) as shelf, tempfile.TemporaryDirectory(prefix=".rescue-", dir=target.parent) as folder:
            copy = Path(folder) / "shelf"
            shutil.copyfile(source, copy)
            if Path(f"{source}-wal").is_file():
                shutil.copyfile(f"{source}-wal", f"{copy}-wal")
            tags, highest = _other_rows(source)
            there = {row["number"] for row in _raw_takes(source)}
            if highest > max(there, default=0) + _MOST_MISSING:
                # Nobody loses so many: the number itself is damaged.
                highest = 0
            highest = max([highest, *there])
            asked = sorted(there | set(range(1, min(highest, _MOST_ASKED) + 1)))
            # SQLite first: a page that is not in use any more may still hold what a take was before
            # a change.
            for row in itertools.chain(_asked_takes(copy, asked), _raw_takes(source)):
                if row["number"] not in copied and _put(shelf, row, tags.get(row["number"], ())):
                    copied.add(row["number"])
            shelf.add_runs(_practised(source))
        if not copied:
            raise UserError(f"No take can be read from {source} any more; the journals may still have the playing.")
    except BaseException as error:
        for ending in ("", "-wal", "-shm"):
            Path(f"{target}{ending}").unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise UserError(f"{source} could not be copied: {error.strerror or error}.") from error
        raise
    return len(copied), max(*copied, highest) - len(copied)


def _put(shelf: Shelf, row: Row, tags: tuple[str, ...]) -> bool:
    """Add one row; False when it is damaged."""
    if set(row) < set(_ROW):
        return False
    try:
        if row["rating"] not in range(MAX_RATING + 1):
            row["rating"] = 0
        try:
            codec.load_mix(row["mix"])
        except WRONG:
            # How loud it was is no reason to lose it.
            row["mix"] = "{}"
        take = take_of_row(row, tags)
    except WRONG:
        return False
    source = row["source"] if isinstance(row["source"], str) and not shelf.has_source(row["source"]) else ""
    number = shelf.add(take, keep_number=True, source=source)
    if row["binned_at"] is not None:
        shelf.remove(number)
    return True


def _raw_takes(path: Path) -> Iterator[Row]:
    for number, values in sqlite_pages.rows(path):
        if not 16 <= len(values) <= len(_ROW) or not 0 < number <= _MAX_NUMBER or values[0] is not None:
            continue
        row = {name: _decoded(value) for name, value in zip(_ROW, values, strict=False)}
        if isinstance(row["name"], str) and isinstance(row["brief"], str) and isinstance(row["events"], bytes):
            yield {**_LATER, **row, "number": number}


def _practised(path: Path) -> list[PracticeRow]:
    """The runs of practising that can still be read."""
    found = []
    for _, values in sqlite_pages.rows(path):
        if (
            len(values) == 5
            and values[0] is None
            and all(isinstance(one, sqlite_pages.StoredText) for one in values[1:])
        ):
            found.append(PracticeRow(*(_decoded(one) for one in values[1:])))
    return [one for one in dict.fromkeys(found) if one.run.startswith("{")]


def _other_rows(path: Path) -> tuple[dict[int, tuple[str, ...]], int]:
    """Tags by take, and the highest number that was ever given, 0 when that cannot be read."""
    tags: dict[int, set[str]] = {}
    highest = 0
    for _, values in sqlite_pages.rows(path):
        match values:
            case [int(take), sqlite_pages.StoredText() as word]:
                tags.setdefault(take, set()).add(word.decode(errors="replace"))
            case [sqlite_pages.StoredText(b"take"), int(number)] if 0 < number <= _MAX_NUMBER:
                highest = max(highest, number)
    return {take: tuple(sorted(words)) for take, words in tags.items()}, highest


def _decoded(value: sqlite_pages.Value) -> Any:
    return value.decode(errors="replace") if isinstance(value, sqlite_pages.StoredText) else value


def _asked_takes(path: Path, numbers: Sequence[int]) -> Iterator[Row]:
    """What SQLite finds by number, one by one, so that one damaged page costs only the takes that
    lie on it.
    """
    # What SQLite says of a damaged schema quotes it, and may not be text.
    with contextlib.suppress(sqlite3.Error, UnicodeDecodeError), contextlib.closing(sqlite3.connect(path)) as db:
        db.text_factory = lambda data: data.decode(errors="replace")
        db.execute("PRAGMA trusted_schema = OFF")
        if db.execute("SELECT type FROM sqlite_master WHERE name = 'take'").fetchall() != [("table",)]:
            return
        known = {row[1] for row in db.execute("PRAGMA table_info(take)")}
        columns = [name for name in _ROW if name in known]
        sql = f"SELECT {', '.join(columns)} FROM take WHERE number = ?"
        until = 0.0
        # A tree of pages that leads in circles is given up, not followed.
        db.set_progress_handler(lambda: time.monotonic() > until, 10_000)
        for number in numbers:
            until = time.monotonic() + _ONE_QUERY_SEC
            with contextlib.suppress(sqlite3.Error, UnicodeDecodeError):
                found = db.execute(sql, (number,)).fetchone()
                if found is not None:
                    yield {**_LATER, **dict(zip(columns, found, strict=True)), "number": number}
