"""What was practised, day by day: the runs that stand on the shelf, beside its takes.

Conventions
    A run has ``version`` 1, ``at`` (UTC, ISO 8601) and what ``Practice.to_dict`` gives. Runs are
    only ever added. One that cannot be read (of a later version, or damaged) is left out and
    counted, and stays where it is. Earlier versions kept the runs as lines of JSON in a file
    beside the shelf: those are taken over once, and the file is kept under another name.
"""

import contextlib
import json
import os
from pathlib import Path
from typing import Any, NamedTuple

from loopdeck.errors import UserError
from loopdeck.shelf.practice_rows import PracticeRow
from loopdeck.shelf.store import Shelf

VERSION = 1
#: More than any tempo that was ever reached.
MOST_QPM = 10_000.0


class Progress(NamedTuple):
    """The runs, the oldest first, and how many could not be read."""

    runs: list[dict[str, Any]]
    unreadable: int


def add_run(shelf: Path, run: dict[str, Any], at: str) -> None:
    """Add one run; it is on the disk when this returns. Raises UserError."""
    with Shelf(shelf) as opened:
        _take_over(opened)
        opened.add_runs([_row({"version": VERSION, "at": at, **run})])


def read_progress(shelf: Path, mark: str | None = None) -> Progress:
    """The runs with a target (by its ``mark``), or all of them.

    Raises UserError when the shelf cannot be read at all.
    """
    file = _file_of_before(shelf)
    if not shelf.exists() and not file.exists():
        return Progress([], 0)
    with Shelf(shelf) as opened:
        # A shelf that cannot be written to is read together with the file.
        with contextlib.suppress(UserError):
            _take_over(opened)
        rows = opened.runs(mark)
    runs: list[dict[str, Any]] = []
    unreadable = 0
    for row in rows:
        run = _readable(row.run)
        runs += [run] if run is not None else []
        unreadable += run is None
    for line in _lines(file) if file.exists() else ():
        run = _readable(line)
        if run is not None and (mark is None or run["mark"] == mark) and run not in runs:
            runs.append(run)
        unreadable += run is None
    return Progress(sorted(runs, key=lambda run: str(run["at"])), unreadable)


def readable_runs(runs: Any) -> list[dict[str, Any]]:
    """Those of a list that came from elsewhere that are runs."""
    return [run for run in runs if _is_run(run)] if isinstance(runs, list) else []


def _row(run: dict[str, Any]) -> PracticeRow:
    return PracticeRow(str(run["at"]), str(run["mark"]), str(run["target"]), json.dumps(run))


def _readable(text: str | bytes) -> dict[str, Any] | None:
    """A run from its JSON; None if it is not one."""
    try:
        run = json.loads(text)
    except (ValueError, RecursionError):
        return None
    return dict(run) if _is_run(run) else None


def _is_run(run: Any) -> bool:
    try:
        json.dumps(run, allow_nan=False)  # no number at all, and what is infinite, stand in no JSON
        return (
            run["version"] == VERSION
            and isinstance(run["reached_qpm"], int | float)
            and not isinstance(run["reached_qpm"], bool)
            and 0 <= run["reached_qpm"] <= MOST_QPM
            and isinstance(run["passes"], list)
            and all(isinstance(one, dict) for one in run["passes"])
            and all(isinstance(run[name], str) for name in ("at", "mark", "target"))
        )
    except (KeyError, TypeError, ValueError, RecursionError):
        return False


# ---- the file of before --------------------------------------------------------------------------


def _file_of_before(shelf: Path) -> Path:
    return shelf.with_name(f"{shelf.name}.practice.jsonl")


def _lines(file: Path) -> list[bytes]:
    try:
        return [line for line in file.read_bytes().splitlines() if line.strip()]
    except OSError as error:
        raise UserError(f"The record of practising {file} cannot be read: {error.strerror or error}.") from error


def _take_over(shelf: Shelf) -> None:
    """Put the runs of the file of before on the shelf. A kill in the middle does no harm: a run
    that is there already is not put there twice. A line that cannot be read stays in the file.
    """
    file = _file_of_before(shelf.path)
    if not file.is_file():
        return
    shelf.add_runs([_row(run) for line in _lines(file) if (run := _readable(line)) is not None])
    with contextlib.suppress(OSError):
        os.replace(file, file.with_name(f"{file.name}.taken-over"))
