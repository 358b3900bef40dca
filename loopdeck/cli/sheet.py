"""``loopdeck sheet``: a take as sheet music, staff and tab, for other programs (MusicXML) or
engraved (PDF, SVG, PNG).
"""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from loopdeck.cli.hands_argument import add_hands, hands_of_arguments
from loopdeck.cli.tab import page_of_arguments
from loopdeck.cli.take_arguments import add_output, add_take_arguments
from loopdeck.errors import UserError

if TYPE_CHECKING:
    from loopdeck.page.form import Page
    from loopdeck.page.hands import Hands

HELP = "a take as sheet music: MusicXML, or engraved as PDF, SVG or PNG"
ENDINGS = (".musicxml", ".pdf", ".svg", ".png")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add_take_arguments(parser, brief=("tempo", "meter", "grid", "swing", "scale", "tuning"), many=True)
    parser.add_argument("--bars", metavar="FIRST-LAST", help="only these bars, such as 1-4; a pick-up is bar 0")
    parser.add_argument(
        "--parts", metavar="PARTS", default="staff,tab", help="staff, tab, or both: staff,tab (the default)"
    )
    parser.add_argument(
        "--instrument", choices=("bass", "guitar", "treble"), default="bass", help="clef and octave (default: bass)"
    )
    add_hands(parser)
    parser.add_argument("--booklet", metavar="TITLE", help="all the takes as one booklet (PDF) with this title")
    add_output(parser, "OUT.musicxml|pdf|svg|png", "the file to write", required=True)


def run(args: argparse.Namespace) -> int:
    """Write the sheet."""
    from loopdeck.cli.guard import Kind, check_output
    from loopdeck.page.hands import ways_of

    kind = Kind("a sheet", ENDINGS) if args.booklet is None else Kind("a booklet", (".pdf",))
    check_output(args.output, args.take[0], args.shelf, kind)
    parts = _parts(args.parts)
    # A slip is said before anything is read.
    ways_of(args.hands, "")
    if args.booklet is not None:
        from loopdeck.cli.booklet import write_booklet

        return write_booklet(args, parts)
    if len(args.take) > 1:
        raise UserError("Several takes make a booklet; give it a title with --booklet, or name one take.")
    page = page_of_arguments(args, args.take[0], "tab" in parts)
    hands = hands_of_arguments(args, page)
    _write(args, page, parts, hands)
    if args.json:
        import json

        shown = page.as_dict() if hands is None else hands.page_as_dict(page)
        print(json.dumps({**shown, "output": args.output}))
    else:
        print(f"Written to {args.output}.")
    return 0


def _parts(text: str) -> tuple[str, ...]:
    parts = tuple(part.strip() for part in text.split(","))
    if not parts or len(set(parts)) != len(parts) or not set(parts) <= {"staff", "tab"}:
        raise UserError(f"{text[:40]!r} are not parts of a sheet; write staff, tab or staff,tab.")
    return parts


def _write(args: argparse.Namespace, page: "Page", parts: tuple[str, ...], hands: "Hands | None") -> None:
    from loopdeck.atomic import whole_file
    from loopdeck.page.musicxml import INSTRUMENTS, musicxml

    _check_strings(page, parts)
    ending = Path(args.output).suffix.lower()
    if ending != ".musicxml":
        from loopdeck.page.engraver import engrave
        from loopdeck.page.lily import sheet

        engrave(sheet(page, parts, INSTRUMENTS[args.instrument], hands, ending != ".pdf"), args.output)
        return
    with whole_file(args.output) as out:
        out.write(musicxml(page, parts, INSTRUMENTS[args.instrument], hands))


def _check_strings(page: "Page", parts: tuple[str, ...]) -> None:
    """A tab staff needs a string for every note. Raises UserError."""
    if "tab" in parts:
        from loopdeck.page.tab_text import check_playable

        check_playable(page)
