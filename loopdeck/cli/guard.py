"""What must never be written over: a take that is read, and the shelf."""

from pathlib import Path

from loopdeck.errors import UserError


class GuardError(UserError):
    """A file that would be lost; ``str(error)`` is one full sentence."""


def check_output(output: str | Path, take: str | None, shelf: str | Path | None) -> None:
    """Refuse to write over the take's own file, or over the shelf (None: the usual one). Raises GuardError."""
    from loopdeck.shelf.store import default_shelf

    if not str(output):
        raise GuardError("The file to write has no name.")
    if take is not None and same_file(output, take):
        raise GuardError(f"{output} is the take itself, and what was played is never altered; name another file.")
    where = Path(shelf) if shelf is not None else default_shelf()
    for ending in ("", "-wal", "-shm"):
        if same_file(output, f"{where}{ending}"):
            raise GuardError(f"{output} is the shelf, and the takes on it would be lost; name another file.")


def same_file(one: str | Path, other: str | Path) -> bool:
    """True when both are the same file, by whatever name."""
    try:
        return Path(one).exists() and Path(other).exists() and Path(one).samefile(other)
    except (OSError, ValueError):
        return False
