"""``loopdeck sheet TAKE... --booklet TITLE``: the takes as a booklet, with a progress bar."""

import argparse
import json
from collections.abc import Iterator
from typing import TYPE_CHECKING

from loopdeck.cli.progress_bar import Bar
from loopdeck.errors import UserError

if TYPE_CHECKING:
    from loopdeck.page.form import Page

MOST_TITLE = 200


def write_booklet(args: argparse.Namespace, parts: tuple[str, ...]) -> int:
    """Write it. Raises UserError, OSError."""
    from loopdeck.cli.guard import Kind, check_output
    from loopdeck.cli.hands_argument import hands_of_arguments
    from loopdeck.page.booklet import Style, booklet
    from loopdeck.page.engraver import engrave, typesetter
    from loopdeck.page.musicxml import INSTRUMENTS

    title = " ".join(args.booklet.split())
    if not title or len(title) > MOST_TITLE:
        raise UserError(f"A booklet needs a title of 1 to {MOST_TITLE} characters.")
    for take in args.take:
        check_output(args.output, take, args.shelf, Kind("a booklet", (".pdf",)))
    typesetter()
    with Bar(2 * len(args.take)) as bar:
        pages = list(_pages(args, parts, bar))
        style = Style(parts, INSTRUMENTS[args.instrument], lambda page: hands_of_arguments(args, page))
        engrave(
            booklet(title, pages, style), args.output, waiting=lambda done: bar.show(len(pages) + min(done, len(pages)))
        )
    if args.json:
        print(json.dumps({"title": title, "output": args.output, "riffs": [page.as_dict() for page in pages]}))
    else:
        print(f"{len(pages)} {'riff' if len(pages) == 1 else 'riffs'}. Written to {args.output}.")
    return 0


def _pages(args: argparse.Namespace, parts: tuple[str, ...], bar: Bar) -> "Iterator[Page]":
    from loopdeck.cli.tab import page_of_arguments

    for number, take in enumerate(args.take, 1):
        page = page_of_arguments(args, take, "tab" in parts)
        bar.show(number)
        yield page
