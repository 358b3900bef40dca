"""The table of what was practised: a row a run.

Conventions
    ``at``: UTC, ISO 8601. ``mark``: what tells the target from others (``practice.target``).
    ``target``: what it was called then. ``run``: the run as JSON. Rows are only ever added.
"""

import sqlite3
from collections.abc import Iterable
from typing import NamedTuple


class PracticeRow(NamedTuple):
    """One run."""

    at: str
    mark: str
    target: str
    run: str


def add(db: sqlite3.Connection, runs: Iterable[PracticeRow]) -> None:
    """Add rows that are not there yet, within the caller's transaction."""
    db.executemany(
        "INSERT INTO practice (at, mark, target, run) SELECT ?, ?, ?, ? "
        "WHERE NOT EXISTS (SELECT 1 FROM practice WHERE mark = ? AND at = ? AND run = ?)",
        [(*row, row.mark, row.at, row.run) for row in runs],
    )


def find(db: sqlite3.Connection, mark: str | None) -> list[PracticeRow]:
    """The rows of a mark, or all, in the order of their moments; what is not text any more counts
    as "".
    """
    where, asked = ("WHERE mark = ?", (mark,)) if mark is not None else ("", ())
    rows = db.execute(f"SELECT at, mark, target, run FROM practice {where} ORDER BY at, number", asked)
    return [PracticeRow(*(one if isinstance(one, str) else "" for one in row)) for row in rows]
