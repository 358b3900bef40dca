"""``loopdeck harvest``: the riffs in everything that a session's journal holds, best first; those
one names go to the shelf."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loopdeck.errors import UserError

if TYPE_CHECKING:
    from loopdeck.shelf.material import Material

HELP = "the riffs in everything that was played in a session, kept or not; --keep 1,3 puts them on the shelf"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    parser.add_argument(
        "session",
        metavar="SESSION|JOURNAL",
        nargs="?",
        help="a journal, or its name without the ending; default: the newest",
    )
    parser.add_argument("--journal", metavar="DIR", help="where the journals lie, if not in the usual folder")
    parser.add_argument(
        "--scale", metavar="SCALE", help='rank by this scale, such as "G dorian"; default: the brief\'s'
    )
    parser.add_argument("--keep", metavar="1,3", help="put the cleanest performances of these riffs on the shelf")
    parser.add_argument("--json", action="store_true", help="print JSON and nothing else")
    parser.add_argument("--shelf", metavar="FILE", help="the shelf, if not the usual one")


def run(args: argparse.Namespace) -> int:
    """Search the whole session, report, keep."""
    from loopdeck.cli.riffs import chosen_riff, find, keep_riff, readable

    material = _material(_journal(args), args.scale)
    found = find(material)
    # All are looked up before one is kept: a wrong number keeps nothing.
    asked = [word for word in (args.keep or "").replace(",", " ").split()]
    if args.keep is not None and not asked:
        raise UserError("There is no riff named to keep; say which, such as --keep 1,3.")
    wanted: dict[str, Any] = {}
    for word in asked:
        riff = chosen_riff(found["riffs"], word, material.title)
        wanted[riff["name"]] = riff
    if wanted:
        found["kept"] = [
            keep_riff(material, riff, f"{material.take.name[:180]}, riff {riff['name']}", args.shelf)
            for riff in wanted.values()
        ]
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


def _material(path: Path, scale: str | None) -> "Material":
    """Everything that was played, without the layers, which were played as well."""
    from loopdeck.session.recover import take_of_journal
    from loopdeck.shelf.material import material_of

    take = take_of_journal(path)
    if take is None:
        raise UserError(f"Nothing was played in {path}, so there is nothing to find.")
    brief = take.brief.replace(scale=scale) if scale is not None else take.brief
    return material_of(take, brief, layers=False)
