"""``--hands`` of tab and sheet: which fingers and strokes are printed."""

import argparse
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loopdeck.page.form import Page
    from loopdeck.page.hands import Hands


def add_hands(parser: argparse.ArgumentParser) -> None:
    """Add ``--hands [WAYS]``; without ways the technique of the brief says them."""
    parser.add_argument(
        "--hands",
        metavar="WAYS",
        nargs="?",
        const="auto",
        help="print the hands: fret (fretting fingers), down or alternate (plectrum strokes), pluck (fingers), such as fret,pluck;"
        " without a word as the brief's technique says",
    )


def hands_of_arguments(args: argparse.Namespace, page: "Page") -> "Hands | None":
    """The hands to print on a page; None where none are asked for. Raises UserError."""
    from loopdeck.page.hands import hands_of, ways_of

    ways = ways_of(args.hands, page.brief.technique)
    return hands_of(page, ways) if ways else None
