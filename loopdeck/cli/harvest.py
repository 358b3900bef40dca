"""``loopdeck harvest``: the riffs in everything that a session's journal holds, best first; those
one names go to the shelf."""

import argparse
from pathlib import Path

from loopdeck.cli.take_arguments import add_json, add_shelf
from loopdeck.errors import UserError

HELP = "the riffs in everything that was played in a session, kept or not; --keep 1,3 puts them on the shelf"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    parser.add_argument(
        "session",
        metavar="SESSION|JOURNAL",
        nargs="?",
        help="a journal, or its name without the ending; default: the newest",
    )
    parser.add_argument("--journal", metavar="DIR", help="the folder of the journals, if not the usual one")
    parser.add_argument(
        "--scale", metavar="SCALE", help='rank by this scale, such as "G dorian"; default: the brief\'s'
    )
    parser.add_argument("--keep", metavar="1,3", help="put the cleanest performances of these riffs on the shelf")
    add_json(parser)
    add_shelf(parser)


def run(args: argparse.Namespace) -> int:
    """Search the whole session, report, keep."""
    from loopdeck.cli.riffs import readable
    from loopdeck.session.harvest import Harvest

    # A missing word is a mistake before the search, which may take a while.
    asked = [word for word in (args.keep or "").replace(",", " ").split()]
    if args.keep is not None and not asked:
        raise UserError("There is no riff named to keep; say which, such as --keep 1,3.")
    harvest = Harvest(_journal(args), args.scale)
    found = harvest.found
    if asked:
        found["kept"] = harvest.keep(asked, args.shelf)
    if args.json:
        import json

        print(json.dumps(found))
    else:
        print(readable(found))
    return 0


def _journal(args: argparse.Namespace) -> Path:
    """The journal that was named, or the newest."""
    from loopdeck.cli.jam import data_folder
    from loopdeck.process.options import SUFFIX

    folder = Path(args.journal) if args.journal is not None else data_folder() / "journals"
    if args.session is None:
        there = sorted(folder.glob(f"*{SUFFIX}"), key=lambda path: path.stat().st_mtime)
        if not there:
            raise UserError(f"There is no journal in {folder}; nothing has been played yet.")
        return there[-1]
    for path in (Path(args.session), folder / args.session, folder / f"{args.session}{SUFFIX}"):
        if path.is_file():
            return path
    raise UserError(f"There is no journal {args.session!r}, neither here nor in {folder}.")
