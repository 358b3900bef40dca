"""The shelf: takes on SQLite.

Conventions
    One file, write-ahead log, every change a transaction: what ``add`` has returned the number of
    survives a kill or a power cut. Numbers are never given twice. A removed take lies in the bin
    until it is restored. A shelf that is written by another process at the same time is waited for
    (five seconds). A shelf in a place that cannot be written to is read only: as it lies there, or,
    when it has to be brought up to this version or its log still holds takes, from a copy for the
    time being.
"""

import contextlib
import json
import re
import sqlite3
from collections.abc import Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from loopdeck.errors import UserError
from loopdeck.files import Closing
from loopdeck.looper.heard import Views, text_of_views
from loopdeck.rhythm.meter import Cycle, parse_cycle
from loopdeck.shelf import practice_rows
from loopdeck.shelf.error_messages import damaged, no_such_take, sentence
from loopdeck.shelf.errors import DamagedTake
from loopdeck.shelf.opening import open_shelf
from loopdeck.shelf.paths import default_shelf
from loopdeck.shelf.practice_rows import PracticeRow
from loopdeck.shelf.rows import READ, WRONG, listed, more_of, row_of_take, take_of_row
from loopdeck.shelf.take import MAX_NAME, MAX_RATING, Take, now_text
from loopdeck.theory.pitch import Spelled, parse_note_name
from loopdeck.theory.scale import Scale, parse_scale

MAX_TAG = 60
_NUMBER = re.compile(r"[0-9]{1,17}")


class Shelf(Closing):
    """An open shelf; a context manager. Raises UserError, always with a sentence."""

    def __init__(self, path: str | Path | None = None) -> None:
        self.path = Path(path) if path is not None else default_shelf()
        with self._sentences():
            self._db = open_shelf(self.path)
        #: The numbers of takes that the last ``find`` could not read.
        self.damaged: list[int] = []

    # ---- takes -----------------------------------------------------------------------------------

    def add(self, take: Take, keep_number: bool = False, source: str = "") -> int:
        """Put a take on the shelf; its number: the next one, or with ``keep_number`` the one it
        has, which must be free here.

        ``source`` says what it is a take of; where a take of that source stands already (also in
        the bin), that one's number is returned and nothing is added: whoever died between saving
        and knowing of it may save again. "" is none.
        """
        row = row_of_take(take, source)
        if keep_number:
            row["number"] = take.number
        names = ", ".join(row)
        marks = ", ".join(f":{name}" for name in row)
        with self._change() as db:
            found = db.execute("SELECT number FROM take WHERE source = ? AND source <> ''", (source,)).fetchone()
            if found is not None:
                return int(found[0])
            number = db.execute(f"INSERT INTO take ({names}) VALUES ({marks})", row).lastrowid
            assert number is not None
            db.executemany("INSERT OR IGNORE INTO tag VALUES (?, ?)", [(number, word) for word in take.tags])
        return number

    def has_source(self, source: str) -> bool:
        """Whether a take of that source stands here, also in the bin."""
        with self._sentences():
            return bool(self._db.execute("SELECT 1 FROM take WHERE source = ? AND source <> ''", (source,)).fetchone())

    def get(self, which: int | str) -> Take:
        """The take with a number, or else the newest with a name (letters' case does not matter).

        Not those in the bin.
        """
        return self._take(self.number_of(which))

    def get_any(self, number: int) -> Take:
        """The take with that number, whether it lies on the shelf or in the bin."""
        with self._sentences():
            found = self._db.execute("SELECT 1 FROM take WHERE number = ?", (min(number, 2**62),)).fetchone()
        if found is None:
            raise UserError(f"There is no take {number} on the shelf {self.path}, and none in its bin.")
        return self._take(number)

    def number_of(self, which: int | str) -> int:
        """The number of a take on the shelf, by number or name.

        Raises UserError if no take has this number or name.
        """
        with self._sentences():
            text = str(which).strip()
            found = None
            if _NUMBER.fullmatch(text):
                sql = "SELECT number FROM take WHERE number = ? AND binned_at IS NULL"
                found = self._db.execute(sql, (int(text),)).fetchone()
            if found is None:
                sql = (
                    "SELECT number FROM take WHERE folded(name) = folded(?) AND binned_at IS NULL "
                    "ORDER BY number DESC LIMIT 1"
                )
                found = self._db.execute(sql, (text,)).fetchone()
            if found is None:
                raise UserError(no_such_take(self._db, self.path, text))
        return int(found[0])

    def find(
        self,
        tag: str | None = None,
        scale: str | None = None,
        meter: str | None = None,
        tempo: tuple[float, float] | None = None,
        min_rating: int = 0,
        text: str | None = None,
        binned: bool = False,
    ) -> list[dict[str, Any]]:
        """The takes that fit, newest first, as rows: number, name, kept_at, origin, rating, passes,
        scale, cycle, qpm, tags, note.

        ``scale``: that very scale, or any on that root or of that name. ``meter``: a cycle, or one
        of its meters. ``tempo``: quarters a minute from, to. ``text``: in name, note, mood or
        technique. Raises UserError if it is not a meter or scale.
        """
        wanted = _wanted_scale(scale) if scale is not None else None
        cycle = parse_cycle(meter) if meter is not None else None
        where = ["binned_at IS " + ("NOT NULL" if binned else "NULL"), "rating >= ?"]
        asked: list[Any] = [_checked_rating(min_rating)]
        if tag is not None:
            where.append("number IN (SELECT take FROM tag WHERE folded(word) = folded(?))")
            asked.append(tag)
        if tempo is not None:
            where.append("qpm BETWEEN ? AND ?")
            # A file's tempo is in whole microseconds a quarter: 97 comes back as 96.99995.
            asked += [tempo[0] - 1e-3, tempo[1] + 1e-3]
        columns = "number, name, kept_at, origin, rating, passes, scale, cycle, qpm, note, brief, end_sec"
        sql = f"SELECT {columns} FROM take WHERE {' AND '.join(where)} ORDER BY number DESC"
        with self._sentences():
            names = columns.split(", ")
            rows = [dict(zip(names, row, strict=True)) for row in self._db.execute(sql, asked)]
            tags: dict[int, list[str]] = {}
            for number, word in self._db.execute("SELECT take, word FROM tag ORDER BY word"):
                if isinstance(word, str):
                    tags.setdefault(number, []).append(word)
        found, self.damaged = [], []
        for row in rows:
            try:
                brief = json.loads(row.pop("brief"))
                row = listed(row)
                words = f"{row['name']} {row['note']} {brief.get('mood', '')} {brief.get('technique', '')}"
                fits = (
                    (wanted is None or _scale_fits(row["scale"], wanted))
                    and (cycle is None or _meter_fits(row["cycle"], cycle))
                    and (text is None or text.casefold() in words.casefold())
                )
            except WRONG:
                self.damaged.append(row["number"])
                continue
            if fits:
                found.append({**row, "tags": tags.get(row["number"], [])})
        return found

    def listing(self, below: int | None = None, count: int = 100) -> tuple[list[dict[str, Any]], int | None]:
        """The next ``count`` takes, newest first, from the number ``below`` downwards, those in the
        bin among them: rows as ``find`` has them, with ``mood``, ``technique`` and ``binned``
        (bool); and from where to go on, None at the end. ``damaged`` grows by what is left out.
        """
        columns = "number, name, kept_at, origin, rating, passes, scale, cycle, qpm, note, brief, end_sec, binned_at"
        sql = f"SELECT {columns} FROM take WHERE number < ? ORDER BY number DESC LIMIT ?"
        with self._sentences():
            names = columns.split(", ")
            asked = (2**62 if below is None else below, count)
            rows = [dict(zip(names, row, strict=True)) for row in self._db.execute(sql, asked)]
            last = rows[-1]["number"] if len(rows) == count else None
            tags: dict[int, list[str]] = {}
            if rows:
                ends = (rows[-1]["number"], rows[0]["number"])
                for number, word in self._db.execute(
                    "SELECT take, word FROM tag WHERE take BETWEEN ? AND ? ORDER BY take, word", ends
                ):
                    if isinstance(word, str):
                        tags.setdefault(number, []).append(word)
        found = []
        for row in rows:
            try:
                mood, technique = _feeling(row.pop("brief"))
                more = {"mood": mood, "technique": technique}
                binned = row.pop("binned_at") is not None
                found.append({**listed(row), **more, "binned": binned, "tags": tags.get(row["number"], [])})
            except WRONG:
                self.damaged.append(row["number"])
        return found, last

    def version(self) -> int:
        """Another number whenever another program has changed the shelf."""
        with self._sentences():
            return int(self._db.execute("PRAGMA data_version").fetchone()[0])

    def left_out(self) -> str:
        """A sentence on the takes that the last ``find`` could not read; "" where it could read
        all.
        """
        if not self.damaged:
            return ""
        numbers = ", ".join(map(str, self.damaged[:5])) + (", ..." if len(self.damaged) > 5 else "")
        return damaged(self.path, f"Left out: take {numbers} on the shelf {self.path}")

    def rename(self, which: int | str, name: str) -> int:
        """A new name. Returns the number, as all that follow do."""
        return self._set(which, "name", checked_name(name))

    def rate(self, which: int | str, rating: int) -> int:
        """A rating from 0 to 5."""
        return self._set(which, "rating", _checked_rating(rating))

    def set_note(self, which: int | str, note: str) -> int:
        """Free words."""
        if len(note) > 100_000:
            raise UserError("A note has at most 100,000 letters.")
        if not "".join(note.split()).isprintable():
            raise UserError("A note is words in lines, without control characters.")
        return self._set(which, "note", note)

    def set_views(self, which: int | str, views: Views) -> int:
        """What the player says of how a take is to be seen."""
        return self._set(which, "more", more_of(self.get(which).changed(views=text_of_views(views))))

    def tag(self, which: int | str, words: list[str]) -> int:
        """Add tags."""
        for word in words:
            if not word.strip() or len(word) > MAX_TAG or not word.isprintable():
                raise UserError(f"A tag is one line of 1 to {MAX_TAG} letters; {word[:70]!r} is not.")
        number = self.number_of(which)
        with self._change() as db:
            db.executemany("INSERT OR IGNORE INTO tag VALUES (?, ?)", [(number, word.strip()) for word in words])
        return number

    def untag(self, which: int | str, words: list[str]) -> int:
        """Take tags away."""
        number = self.number_of(which)
        with self._change() as db:
            db.executemany("DELETE FROM tag WHERE take = ? AND folded(word) = folded(?)", [(number, w) for w in words])
        return number

    def remove(self, which: int | str) -> int:
        """Into the bin."""
        return self._set(which, "binned_at", now_text())

    def restore(self, number: int) -> int:
        """Out of the bin again."""
        # Larger than any number SQLite has: there is no such take, and asking for it would be an
        # error of its own.
        asked, number = number, min(number, 2**62)
        with self._change() as db:
            done = db.execute(
                "UPDATE take SET binned_at = NULL WHERE number = ? AND binned_at NOTNULL", (number,)
            ).rowcount
        if not done:
            raise UserError(f"There is no take {asked} in the bin; loopdeck takes list --bin shows what there is.")
        return number

    def _set(self, which: int | str, column: str, value: Any) -> int:
        number = self.number_of(which)
        with self._change() as db:
            db.execute(f"UPDATE take SET {column} = ? WHERE number = ?", (value, number))
        return number

    def _take(self, number: int) -> Take:
        with self._sentences():
            row = self._db.execute(f"SELECT {', '.join(READ)} FROM take WHERE number = ?", (number,)).fetchone()
            words = self._db.execute("SELECT word FROM tag WHERE take = ? ORDER BY word", (number,)).fetchall()
        try:
            return take_of_row(dict(zip(READ, row, strict=True)), tuple(word for (word,) in words))
        except DamagedTake as error:
            raise UserError(damaged(self.path, f"Take {number} on the shelf {self.path}")) from error

    # ---- what was practised ----------------------------------------------------------------------

    def add_runs(self, runs: Sequence[PracticeRow]) -> None:
        """Put runs of practising on record; one that stands there already is not put there
        twice.
        """
        with self._change() as db:
            practice_rows.add(db, runs)

    def runs(self, mark: str | None = None) -> list[PracticeRow]:
        """The runs with a target (by its mark), or all of them, in the order of their moments."""
        with self._sentences():
            return practice_rows.find(self._db, mark)

    # ---- inside ----------------------------------------------------------------------------------

    @contextlib.contextmanager
    def _change(self) -> Iterator[sqlite3.Connection]:
        """One transaction."""
        with self._sentences():
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield self._db
                self._db.execute("COMMIT")
            except BaseException:
                with contextlib.suppress(sqlite3.Error):
                    self._db.execute("ROLLBACK")
                raise

    @contextlib.contextmanager
    def _sentences(self) -> Iterator[None]:
        """SQLite's errors as sentences."""
        try:
            yield
        except sqlite3.Error as error:
            raise UserError(sentence(self.path, error)) from error
        except UnicodeEncodeError as error:
            # Words of the command line that were not text in the system's encoding.
            raise UserError(f"{error.object!r} is not text that can stand on a shelf.") from error
        except OSError as error:
            raise UserError(f"The shelf {self.path} cannot be opened: {error.strerror or error}.") from error

    def close(self) -> None:
        """Close the file."""
        with contextlib.suppress(sqlite3.Error):
            self._db.close()


@lru_cache(maxsize=1000)
def _feeling(brief: str) -> tuple[str, str]:
    """Mood and technique of a brief as it lies in its column; many takes have the same."""
    found = json.loads(brief)
    return str(found.get("mood", "")), str(found.get("technique", ""))


def checked_name(name: str) -> str:
    """A take's name without the spaces around it. Raises UserError when it is not one."""
    if not name.strip() or len(name) > MAX_NAME or not name.isprintable():
        raise UserError(f"A take's name is one line of 1 to {MAX_NAME} letters.")
    return name.strip()


def _checked_rating(rating: int) -> int:
    if not 0 <= rating <= MAX_RATING:
        raise UserError(f"A rating lies between 0 and {MAX_RATING}; {rating} does not.")
    return rating


def _wanted_scale(asked: str) -> Scale | Spelled | str:
    """A scale, a root, or a scale's name. Raises UserError for anything else."""
    for read in (parse_scale, parse_note_name, lambda text: parse_scale(f"C {text}").name):
        with contextlib.suppress(ValueError):
            return read(asked)
    parse_scale(asked)
    raise AssertionError("a scale that could not be read was read")


def _scale_fits(own: str, wanted: Scale | Spelled | str) -> bool:
    if not own:
        return False
    scale = parse_scale(own)
    return wanted in (scale, scale.root, scale.name)


def _meter_fits(own: str, wanted: Cycle) -> bool:
    return str(wanted) == own or (len(wanted.meters) == 1 and wanted.meters[0] in parse_cycle(own).meters)
