"""``loopdeck sheet``: a take as sheet music, staff and tab, for other programs (MusicXML) or
engraved (PDF, SVG, PNG).
"""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

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
    parser.add_argument(
        "--hands",
        metavar="WAYS",
        help="print the hands: fret (fretting fingers), down or alternate (plectrum strokes), pluck (fingers), such as fret,pluck",
    )
    parser.add_argument("--booklet", metavar="TITLE", help="all the takes as one booklet (PDF) with this title")
    add_output(parser, "OUT.musicxml|pdf|svg|png", "the file to write", required=True)


def run(args: argparse.Namespace) -> int:
    """Write the sheet."""
    from loopdeck.cli.guard import Kind, check_output

    check_output(args.output, args.take[0], args.shelf, Kind("a sheet", ENDINGS))
    parts = _parts(args.parts)
    ways = _ways(args.hands)
    if args.booklet is not None:
        from loopdeck.cli.booklet import write_booklet

        return write_booklet(args, parts, ways)
    if len(args.take) > 1:
        raise UserError("Several takes make a booklet; give it a title with --booklet, or name one take.")
    page = page_of_arguments(args, args.take[0])
    _write(args, page, parts, ways)
    if args.json:
        import json

        print(json.dumps({**page.as_dict(), "output": args.output}))
    else:
        print(f"Written to {args.output}.")
    return 0


def _parts(text: str) -> tuple[str, ...]:
    parts = tuple(part.strip() for part in text.split(","))
    if not parts or len(set(parts)) != len(parts) or not set(parts) <= {"staff", "tab"}:
        raise UserError(f"{text[:40]!r} are no parts of a sheet; write staff, tab or staff,tab.")
    return parts


def _ways(text: str | None) -> frozenset[str]:
    from loopdeck.page.hands import WAYS

    ways = frozenset(word.strip() for word in text.split(",")) if text is not None else frozenset()
    if not ways <= set(WAYS):
        raise UserError(f"{text!r} are no ways of the hands; there are {', '.join(WAYS)}.")
    if len(ways - {"fret"}) > 1:
        raise UserError("The other hand does one thing: down, alternate or pluck.")
    return ways


def _write(args: argparse.Namespace, page: "Page", parts: tuple[str, ...], ways: frozenset[str]) -> None:
    from loopdeck.atomic import whole_file
    from loopdeck.page.hands import hands_of
    from loopdeck.page.musicxml import INSTRUMENTS, musicxml

    hands: Hands | None = hands_of(page, ways) if ways else None
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
