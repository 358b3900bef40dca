"""What was practised, day by day: one line of JSON a run, in a file beside the shelf.

Conventions
    A line has ``version`` 1, ``at`` (UTC, ISO 8601) and what ``Practice.to_dict`` gives. Lines are
    only ever added, each by one write. A line that cannot be read (of a later version, or cut off
    by a power cut) is left out and counted, and stays in the file.
"""

import json
import os
from pathlib import Path
from typing import Any, NamedTuple

from loopdeck.errors import UserError

VERSION = 1


class Progress(NamedTuple):
    """The runs, the oldest first, and how many lines could not be read."""

    runs: list[dict[str, Any]]
    unreadable: int


def progress_file(shelf: Path) -> Path:
    """The file beside a shelf."""
    return shelf.with_name(f"{shelf.name}.practice.jsonl")


def add_run(path: Path, run: dict[str, Any], at: str) -> None:
    """Add one run; it is on the disk when this returns. Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    line = json.dumps({"version": VERSION, "at": at, **run})
    handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o666)
    try:
        size = os.fstat(handle).st_size
        # After a line that was cut off a new one begins.
        cut = size > 0 and os.pread(handle, 1, size - 1) != b"\n" if hasattr(os, "pread") else False
        os.write(handle, (("\n" if cut else "") + line + "\n").encode())
        os.fsync(handle)
    finally:
        os.close(handle)


def read_progress(path: Path, mark: str | None = None) -> Progress:
    """The runs with a target (by its ``mark``), or all of them.

    Raises UserError when the file cannot be read at all.
    """
    if not path.exists():
        return Progress([], 0)
    try:
        lines = path.read_bytes().splitlines()
    except OSError as error:
        raise UserError(f"The record of practising {path} cannot be read: {error.strerror or error}.") from error
    runs, unreadable = [], 0
    for line in lines:
        try:
            run = json.loads(line)
            good = (
                run["version"] == VERSION
                and isinstance(run["reached_qpm"], int | float)
                and isinstance(run["passes"], list)
            )
            good = good and all(isinstance(run[name], str) for name in ("at", "mark", "target"))
        except (ValueError, KeyError, TypeError):
            good = False
        if not good:
            unreadable += 1
        elif mark is None or run["mark"] == mark:
            runs.append(run)
    return Progress(runs, unreadable)
