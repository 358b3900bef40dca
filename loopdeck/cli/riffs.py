"""``loopdeck riffs``: what repeats in a take, best first; one of them onto the shelf.

Drums of an imported file (channel 10, General MIDI level 1) are left out; the other notes keep the
index they have in the take. The playing, each layer and each instrument of a file are searched as
parts of their own; a riff is found in whichever of them it comes back.
"""

import argparse
from typing import Any

from loopdeck.cli import report as layout
from loopdeck.cli.guard import check_picture_option
from loopdeck.cli.take_arguments import add_output, add_take_arguments, open_material, tempo_assumed
from loopdeck.errors import UserError

HELP = "what repeats in a take: its riffs, best first, and where they come back"

#: Lines of the report that are not rows of its table.
_OTHER_LINES = 6
#: Places named in the line under a riff.
_NAMED = 6


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add_take_arguments(parser, brief=("tempo", "meter", "scale"), picture=True)
    parser.add_argument(
        "--keep", metavar="N", help="put the cleanest performance of a riff on the shelf, by its letter or its place"
    )
    add_output(parser, "NAME", "the name of the kept take")


def run(args: argparse.Namespace) -> int:
    """Search, report; with --keep also put one riff on the shelf."""
    if args.output is not None and args.keep is None:
        raise UserError("A name was given with -o, and nothing to keep; say which riff with --keep N.")
    check_picture_option(args, args.take)
    from loopdeck.shelf.riff_report import chosen_riff, keep_riff, report_riffs

    material = open_material(args)
    found = report_riffs(material, tempo_assumed(args, material))
    if args.keep is not None:
        from loopdeck.shelf.store import checked_name

        riff = chosen_riff(found["riffs"], args.keep, material.take.named)
        name = f"{material.take.name[:180]}, riff {riff['name']}" if args.output is None else checked_name(args.output)
        found["kept"] = [keep_riff(material, riff, name, args.shelf)]
    if args.picture is not None:
        from loopdeck.cli.riffs_picture import draw

        draw(found, material, args.picture)
    if args.json:
        import json

        print(json.dumps(found))
    else:
        print(readable(found))
    return 0


def readable(found: dict[str, Any]) -> str:
    """The report for people."""
    from loopdeck.shelf.riff_report import bars_words, place_words

    lines = layout.folded(f"{found['take']}: {_count(found['notes'], 'note')}, {_count(len(found['riffs']), 'riff')}.")
    if found["drums"]:
        lines.append(f"Left out: {found['drums']} on channel 10, the drums.")
    remarks = found["remarks"] if found["notes"] else []
    for sentence in [*remarks, *found["says"]]:
        lines += layout.folded(sentence)
    rows = []
    for riff in found["riffs"]:
        places = riff["occurrences"]
        rows.append(
            [
                riff["name"],
                len(places),
                riff["bars"],
                len(riff["notes"]),
                f"{100 * sum(one['alike'] for one in places) / len(places):.0f} %",
                f"{riff['tight_ms']:.0f} ms",
                place_words(places[riff["best"]]),
                bars_words(places, _NAMED),
            ]
        )
    if rows:
        other = _OTHER_LINES + bool(found["drums"]) + len(remarks)
        shown, more = layout.cut(rows, layout.SCREEN_LINES - other, "riffs")
        headers = ("riff", "times", "bars", "notes", "alike", "spread", "cleanest", "at bar")
        lines += ["", layout.table(shown, headers, right=(1, 2, 3, 4, 5))] + ([more] if more else [])
    for kept in found.get("kept", []):
        lines.append(f"Riff {kept['riff']} is on the shelf: take {kept['number']}, {kept['name']}.")
    return "\n".join(lines)


def _count(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"
