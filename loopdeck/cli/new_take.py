"""What a command makes goes on the shelf as a new take, or into a Standard MIDI File: ``-o`` with a
name, or with a file.
"""

import argparse
from collections.abc import Callable
from typing import TYPE_CHECKING

from loopdeck.shelf.source import looks_like_file

if TYPE_CHECKING:
    from loopdeck.export.piece import Piece
    from loopdeck.shelf.take import Take


def check_new_take(args: argparse.Namespace, source: str) -> None:
    """Refuse ``args.output`` where it is a file that cannot be written, or no name for a take.
    ``source``: the file that is read. Raises UserError.
    """
    if looks_like_file(args.output):
        from loopdeck.cli.guard import MIDI_FILE, check_output

        check_output(args.output, source, args.shelf, MIDI_FILE)
    else:
        from loopdeck.shelf.store import checked_name

        args.output = checked_name(args.output)


def put_new_take(args: argparse.Namespace, take: "Take", piece: "Callable[[Take], Piece] | None" = None) -> str:
    """Write it, and return a sentence that says where it is.

    ``piece``: how it becomes a file, if not as takes do. Raises UserError, OSError.
    """
    if looks_like_file(args.output):
        from loopdeck.export.piece import piece_of_take
        from loopdeck.export.smf import write_smf

        write_smf(args.output, (piece or piece_of_take)(take))
        return f"Written to {args.output}."
    from dataclasses import replace

    from loopdeck.shelf.paths import default_shelf
    from loopdeck.shelf.store import Shelf

    with Shelf(args.shelf or default_shelf()) as shelf:
        number = shelf.add(replace(take, name=args.output))
    return f"On the shelf: take {number}, {args.output}."
