"""``loopdeck sheet TAKE... --booklet TITLE``: the takes as a booklet, with a progress bar."""

import argparse
import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from loopdeck.errors import UserError

if TYPE_CHECKING:
    from loopdeck.page.form import Page

_BAR = 30
MOST_TITLE = 200


def write_booklet(args: argparse.Namespace, parts: tuple[str, ...], ways: frozenset[str]) -> int:
    """Write it. Raises UserError, OSError."""
    from loopdeck.cli.guard import check_output
    from loopdeck.page.booklet import Style, booklet
    from loopdeck.page.engraver import engrave, typesetter
    from loopdeck.page.hands import hands_of
    from loopdeck.page.musicxml import INSTRUMENTS

    title = " ".join(args.booklet.split())
    if not title or len(title) > MOST_TITLE:
        raise UserError(f"A booklet needs a title of 1 to {MOST_TITLE} characters.")
    if Path(args.output).suffix.lower() != ".pdf":
        raise UserError(f"{args.output}: a booklet is written as .pdf.")
    for take in args.take:
        check_output(args.output, take, args.shelf)
    typesetter()
    with _progress(2 * len(args.take)) as show:
        pages = list(_pages(args, parts, show))
        style = Style(parts, INSTRUMENTS[args.instrument], lambda page: hands_of(page, ways) if ways else None)
        engrave(
            booklet(title, pages, style), args.output, waiting=lambda done: show(len(pages) + min(done, len(pages)))
        )
    if args.json:
        print(json.dumps({"title": title, "output": args.output, "riffs": [page.as_dict() for page in pages]}))
    else:
        print(f"{len(pages)} {'riff' if len(pages) == 1 else 'riffs'}. Written to {args.output}.")
    return 0


def _pages(args: argparse.Namespace, parts: tuple[str, ...], show: "Show") -> "Iterator[Page]":
    from loopdeck.cli.tab import page_of_arguments
    from loopdeck.page.tab_text import check_playable

    for number, take in enumerate(args.take, 1):
        page = page_of_arguments(args, take)
        if "tab" in parts:
            check_playable(page)
        show(number)
        yield page


class Show:
    """Draws the bar where somebody looks at it; a call says how much is done."""

    def __init__(self, total: int) -> None:
        self._total = total
        self._seen = sys.stderr.isatty()

    def __call__(self, done: int) -> None:
        if self._seen:
            full = _BAR * done // max(self._total, 1)
            sys.stderr.write(f"\r[{'#' * full}{'.' * (_BAR - full)}] {100 * done // max(self._total, 1):3d} %")
            sys.stderr.flush()

    def close(self) -> None:
        """Wipe the bar away."""
        if self._seen:
            sys.stderr.write("\r" + " " * (_BAR + 8) + "\r")
            sys.stderr.flush()


@contextmanager
def _progress(total: int) -> Iterator[Show]:
    show = Show(total)
    try:
        yield show
    finally:
        show.close()
