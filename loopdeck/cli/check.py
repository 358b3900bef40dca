"""``loopdeck check``: which notes left the scale, and which scale would explain them."""

import argparse
from typing import Any

from loopdeck.cli import report as layout

HELP = "which notes left the scale, and which scale would explain them"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    parser.add_argument("take", metavar="TAKE", help="a take's number or name, or a Standard MIDI File")
    parser.add_argument(
        "--scale", metavar="SCALE", help='such as "G dorian"; without it the scale of the take\'s brief'
    )
    parser.add_argument("--json", action="store_true", help="print JSON and nothing else")
    parser.add_argument("--shelf", metavar="FILE", help="the shelf, if not the usual one")


def run(args: argparse.Namespace) -> int:
    """Report; 0 whether or not notes are outside."""
    from loopdeck.analysis.scale_report import report
    from loopdeck.shelf.source import open_take
    from loopdeck.theory.scale import TheoryError, parse_scale

    scale = parse_scale(args.scale) if args.scale is not None else None
    take = open_take(args.take, args.shelf)
    scale = scale or take.brief.scale
    if scale is None:
        raise TheoryError(f'The take {args.take!r} was played in no scale; name one, such as --scale "G dorian".')
    notes = take.notes().array
    found = report(notes["pitch"], notes["onset_sec"], notes["duration_sec"], take.bars(notes["onset_sec"]), scale)
    if args.json:
        import json

        print(json.dumps(found))
    else:
        print(_readable(found, str(scale)))
    return 0


def _readable(found: dict[str, Any], scale: str) -> str:
    notes = found["notes"]
    outside = [note for note in notes if not note["in_scale"]]
    lines = [f"{scale}: {' '.join(found['scale']['notes'])}"]
    if not notes:
        return "\n".join([*lines, "There are no notes."])
    if not outside:
        lines.append(f"All {len(notes)} notes are in the scale.")
    else:
        lines.append(f"{len(outside)} of {len(notes)} notes are outside it.")
        # The degree that strays most often stands first, and its notes in order.
        often = {name: sum(note["name"][:-1] == name for note in outside) for name in {n["name"][:-1] for n in outside}}
        outside.sort(key=lambda note: (-often[note["name"][:-1]], note["name"][:-1], note["onset_sec"]))
        rows = [[n["bar"], f"{n['onset_sec']:.3f}", n["name"], n["degree"], n["index"]] for n in outside]
        shown, more = layout.cut(rows, layout.SCREEN_LINES - 10, "notes outside")
        lines += ["", layout.table(shown, ("bar", "second", "note", "degree", "index"), right=(0, 1, 4))]
        lines += [more] if more else []
    best = [[one["scale"], one["outside"]] for one in found["explains"]]
    lines += ["", "What would explain it:", layout.table(best, ("scale", "notes outside"), right=(1,))]
    return "\n".join(lines)
