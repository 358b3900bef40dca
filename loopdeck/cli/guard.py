"""What a command may write: a file whose name says what it is, and neither a take that is read nor
the shelf.
"""

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from loopdeck.errors import UserError
from loopdeck.shelf.source import MIDI_ENDINGS


class Kind(NamedTuple):
    """A kind of file: what it is called, and how its names end."""

    what: str
    endings: tuple[str, ...]


MIDI_FILE = Kind("a Standard MIDI File", MIDI_ENDINGS)
WAV_FILE = Kind("a WAV file", (".wav",))


def check_output(output: str | Path, take: str | None, shelf: str | Path | None, *kinds: Kind) -> None:
    """Refuse to write over the take's own file, or over the shelf (None: the usual one), and any
    ending but those of ``kinds``.

    Raises UserError.
    """
    from loopdeck.shelf.paths import default_shelf

    if not str(output):
        raise UserError("The file to write has no name.")
    if Path(output).is_dir():
        raise UserError(f"{output} is a folder; name a file in it.")
    if take is not None and same_file(output, take):
        raise UserError(f"{output} is the take itself, and what was played is never altered; name another file.")
    where = Path(shelf) if shelf is not None else default_shelf()
    for ending in ("", "-wal", "-shm"):
        if same_file(output, f"{where}{ending}"):
            raise UserError(f"{output} is the shelf, and the takes on it would be lost; name another file.")
    check_ending(output, *kinds)


@contextmanager
def names_output(output: str | Path) -> Iterator[None]:
    """What goes wrong with a file or folder on the way there is told of what was to be written.

    Raises UserError in place of OSError.
    """
    try:
        yield
    except OSError as error:
        raise UserError(f"{output} cannot be written: {error.strerror or error}.") from error


def check_picture_option(args: argparse.Namespace, *takes: str | None) -> None:
    """Refuse a ``--picture`` that cannot be drawn, or would be written over a take or the shelf.

    Raises UserError.
    """
    if args.picture is None:
        return
    from loopdeck.cli.pictures import check_picture

    check_picture(args.picture)
    for take in takes:
        check_output(args.picture, take, args.shelf)


def check_ending(output: str | Path, *kinds: Kind) -> None:
    """Refuse a file whose name promises something else than what is written.

    A device may be called what it likes. Raises UserError.
    """
    path = Path(output)
    if not kinds or path.suffix.lower() in {ending for kind in kinds for ending in kind.endings} or path.is_dir():
        return
    if path.exists() and not path.is_file():
        return
    ways = " or ".join(f"{kind.what} ({', '.join(kind.endings)})" for kind in kinds)
    what = f"ends in {path.suffix}, which cannot be written" if path.suffix else "has no ending"
    raise UserError(f"{output} {what}; here loopdeck writes {ways}.")


def same_file(one: str | Path, other: str | Path) -> bool:
    """True when both are the same file, by whatever name."""
    try:
        return Path(one).exists() and Path(other).exists() and Path(one).samefile(other)
    except (OSError, ValueError):
        return False
