"""``loopdeck tab``: a take as text tab, and text tab back as a take."""

import argparse
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from loopdeck.cli.hands_argument import add_hands, hands_of_arguments
from loopdeck.cli.take_arguments import add_output, add_take_arguments, asked_brief, open_material
from loopdeck.errors import UserError

if TYPE_CHECKING:
    from loopdeck.page.form import Page
    from loopdeck.shelf.take import Take

HELP = "a take as text tab; and text tab back as a take"
_ENDINGS = (".txt", ".tab", ".md")
#: What is read as text tab where a take is wanted.
_TEXTS = (".txt", ".tab")
MOST_BYTES = 4_000_000


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add_take_arguments(parser, brief=("tempo", "meter", "grid", "swing", "scale", "tuning"), optional=True)
    parser.add_argument(
        "--read", metavar="FILE.txt", help="read this text tab and write it to -o: a take's name, or OUT.mid"
    )
    parser.add_argument("--bars", metavar="FIRST-LAST", help="only these bars, such as 1-4; a pick-up is bar 0")
    add_hands(parser)
    parser.add_argument("--width", type=int, default=80, metavar="COLUMNS", help="the widest line (default: 80)")
    parser.add_argument("--ascii", action="store_true", help="draw strings and bar lines with - and |")
    add_output(parser, "OUT.txt", "the file to write; with --read a take's name, or OUT.mid")


def run(args: argparse.Namespace) -> int:
    """Write, print, or read."""
    if args.read is not None:
        return _read(args)
    if args.take is None and args.hands is not None:
        # "--hands TAKE": the take stands where the ways might.
        args.take, args.hands = args.hands, "auto"
    if args.take is None:
        raise UserError("There is nothing to write out; name a take, or give a text with --read.")
    from loopdeck.cli.guard import Kind, check_output
    from loopdeck.page.tab_text import tab_text

    if args.output is not None:
        check_output(args.output, args.take, args.shelf, Kind("text tab", _ENDINGS))
    page = page_of_arguments(args, args.take)
    hands = hands_of_arguments(args, page)
    plain = args.ascii or (args.output is None and not _prints_lines())
    text = tab_text(page, args.width, plain, hands)
    if args.output is not None:
        _write(args.output, text)
    if args.json:
        import json

        print(json.dumps(page.as_dict() if hands is None else hands.page_as_dict(page)))
    elif args.output is None:
        sys.stdout.write(text)
    else:
        print(f"Written to {args.output}.")
    return 0


def _prints_lines() -> bool:
    """Whether what is printed can have the lines of a tab, which not every terminal has."""
    try:
        "│─".encode(sys.stdout.encoding or "utf-8")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def page_of_arguments(args: argparse.Namespace, take: str, strings: bool = True) -> "Page":
    """The written form of ``take``, which may be text tab, by the options.

    With ``strings`` every note needs one: parts that have no room together on them give way to the
    playing, which is said. Raises UserError, OSError.
    """
    if Path(take).suffix.lower() in _TEXTS:
        return _chosen(args, take, _page_of_text(args, take))
    page = _chosen(args, take, _page_of_take(args, take))
    return _on_strings(args, take, page) if strings else page


def _chosen(args: argparse.Namespace, take: str, page: "Page") -> "Page":
    if not any(bar.notes for bar in page.bars):
        raise UserError(f"{page.title or take!r} has no notes to write down.")
    return page if args.bars is None else page.chosen(*_bars(args.bars, page))


def _on_strings(args: argparse.Namespace, take: str, page: "Page") -> "Page":
    """The page, or that of one part of the take where all of them do not fit."""
    from loopdeck.cli.one_part import one_part
    from loopdeck.page.tab_text import check_playable
    from loopdeck.shelf.source import open_take

    try:
        check_playable(page)
        return page
    except UserError:
        one = one_part(open_take(take, args.shelf), take)
        if one is None or args.layers:
            raise
        page = _chosen(args, take, _page_of_take(args, one.take))
        check_playable(page)
    print(f"loopdeck: All of {take} has no room on the strings; this is {one.words} alone.", file=sys.stderr)
    return page


def _page_of_take(args: argparse.Namespace, take: "str | Take") -> "Page":
    from loopdeck.page.making import page_of

    material = open_material(args, take)
    return page_of(material, None if args.grid is None else material.brief.grid, find_swing=args.swing is None)


def _page_of_text(args: argparse.Namespace, path: str) -> "Page":
    """Text tab is a written form already; what else is asked for must not move its notes."""
    from dataclasses import replace

    from loopdeck.page.making import with_hands

    asked = asked_brief(args)
    if {"cycle", "grid", "tuning"} & set(asked):
        raise UserError(f"{path} is text tab and says its meter and tuning itself; change them there.")
    page = page_of_text(path)
    return with_hands(replace(page, title=page.title or Path(path).stem, brief=page.brief.replace(**asked)))


def page_of_text(path: str) -> "Page":
    """The page that a file of text tab holds.

    Raises UserError with its line and column, OSError.
    """
    from loopdeck.page.tab_read import read_tab

    text = _text_of(path)
    try:
        page = read_tab(text)
    except UserError as error:
        raise UserError(f"{path}, {error}") from error
    if "rhythm" in page.extra:
        said = f"loopdeck: {path} has no note values; its rhythm is read from {page.extra['rhythm']}."
        print(said, file=sys.stderr)
    return page


def _bars(text: str, page: "Page") -> tuple[int, int]:
    found = re.fullmatch(r"(\d{1,6})(?:-(\d{1,6}))?", text.strip())
    if found is None:
        raise UserError(f"{text[:40]!r} are not bars; write one such as 3, or the first and the last such as 1-4.")
    first, last = int(found[1]), int(found[2] or found[1])
    numbers = [bar.number for bar in page.bars]
    if first > last or first > numbers[-1] or last < numbers[0]:
        raise UserError(f"There are no bars {text}; the take has {numbers[0]} to {numbers[-1]}.")
    return first, last


def _write(path: str, text: str) -> None:
    from loopdeck.atomic import whole_file

    with whole_file(path) as out:
        out.write(text.encode())


def _read(args: argparse.Namespace) -> int:
    from loopdeck.cli.new_take import check_new_take, put_new_take
    from loopdeck.page.playing import piece_of_page, take_of_page

    if args.take is not None:
        raise UserError("--read has its own file; a take beside it means nothing.")
    if args.output is None:
        raise UserError("Say where it goes: -o with a take's name, or with OUT.mid.")
    check_new_take(args, args.read)
    page = page_of_text(args.read)
    where = put_new_take(args, take_of_page(page, args.output), lambda _: piece_of_page(page))
    if args.json:
        import json

        print(json.dumps(page.as_dict()))
    else:
        count = sum(len(bar.notes) for bar in page.bars)
        notes, bars = "note" if count == 1 else "notes", "bar" if len(page.bars) == 1 else "bars"
        print(f"{count} {notes} in {len(page.bars)} {bars}. {where}")
    return 0


def _text_of(path: str) -> str:
    data = Path(path).read_bytes() if Path(path).stat().st_size <= MOST_BYTES else None
    if data is None:
        raise UserError(f"{path} is larger than any tab; {MOST_BYTES:,} bytes are the most.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise UserError(f"{path} is not text in UTF-8.") from None
