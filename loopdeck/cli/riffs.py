"""``loopdeck riffs``: what repeats in a take, best first; one of them onto the shelf.

Drums of an imported file (channel 10, General MIDI level 1) are left out; the other notes keep the
index they have in the take. The playing, each layer and each instrument of a file are searched as
parts of their own; a riff is found in whichever of them it comes back.
"""

import argparse
from typing import TYPE_CHECKING, Any

from loopdeck.cli import report as layout
from loopdeck.cli.guard import check_picture_option
from loopdeck.cli.take_arguments import add_take_arguments, open_material
from loopdeck.errors import UserError

if TYPE_CHECKING:
    from loopdeck.shelf.material import Material

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
    parser.add_argument("-o", "--output", metavar="NAME", help="the name of the kept take")


def run(args: argparse.Namespace) -> int:
    """Search, report; with --keep also put one riff on the shelf."""
    if args.output is not None and args.keep is None:
        raise UserError("A name was given with -o, and nothing to keep; say which riff with --keep N.")
    check_picture_option(args, args.take)
    material = open_material(args)
    found = find(material)
    if args.keep is not None:
        from loopdeck.shelf.store import checked_name

        riff = chosen_riff(found["riffs"], args.keep, args.take)
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


def find(material: "Material") -> dict[str, Any]:
    """What is printed: ``take``, ``notes`` (how many were searched), ``drums`` (how many were left
    out), ``riffs``, ``says``."""
    import numpy as np

    from loopdeck.analysis.repeats.riffs import to_dict
    from loopdeck.shelf.found_riffs import riffs_of

    index = np.flatnonzero(material.pitched)
    riffs = [to_dict(riff) for riff in riffs_of(material)]
    for riff in riffs:
        for one in riff["occurrences"]:
            one["bar"] = int(material.bars[one["indices"][0]])
    return {
        "take": material.title,
        "notes": len(index),
        "drums": len(material) - len(index),
        "riffs": riffs,
        "says": _says(riffs, len(index), material.brief.scale is not None),
    }


def _says(riffs: list[dict[str, Any]], notes: int, scale: bool) -> list[str]:
    if not notes:
        return ["There are no notes."]
    if notes == 1:
        return ["One note alone cannot come back."]
    if not riffs:
        return [f"Nothing comes back among the {notes} notes, or only what chance would bring."]
    first = riffs[0]
    times = len(first["occurrences"])
    varied = sum(one["alike"] < 1.0 or one["transposed"] != 0 for one in first["occurrences"])
    what = f"{first['name']} comes {_times(times)}" + (f", {varied} of them varied" if varied else ", always the same")
    best = first["occurrences"][first["best"]]
    says = [f"{what}; its cleanest is at bar {best['bar']} ({_clock(best['start_sec'])})."]
    if scale and first["in_scale"] < 1.0:
        says.append(f"{round(100 * (1 - first['in_scale']))} % of its notes are outside the scale.")
    return says


def _times(count: int) -> str:
    return "twice" if count == 2 else f"{count} times"


def _clock(seconds: float) -> str:
    """Minutes and seconds: ``1:07``."""
    whole = int(max(seconds, 0.0))
    return f"{whole // 60}:{whole % 60:02d}"


def chosen_riff(riffs: list[dict[str, Any]], asked: str, where: str) -> dict[str, Any]:
    """The riff that was asked for by its place or its letter. Raises UserError with those there
    are."""
    asked, names = asked.strip(), [riff["name"] for riff in riffs]
    if not names:
        raise UserError(f"There is no riff {asked!r} to keep: nothing comes back in {where}.")
    if asked.isdecimal() and 1 <= int(asked) <= len(names):
        return riffs[int(asked) - 1]
    if asked.upper() in names:
        return riffs[names.index(asked.upper())]
    last = f"1 to {len(names)}, or {names[0]} to {names[-1]}" if len(names) > 1 else f"1, or {names[0]}"
    raise UserError(f"There is no riff {asked!r} in {where}; it has {last}.")


def keep_riff(material: "Material", riff: dict[str, Any], name: str, shelf_path: str | None) -> dict[str, Any]:
    """Put the cleanest performance of a riff on the shelf. Raises UserError, OSError."""
    from loopdeck.shelf.excerpt import excerpt
    from loopdeck.shelf.store import Shelf

    take = excerpt(material, riff["occurrences"][riff["best"]]["indices"], name)
    with Shelf(shelf_path) as shelf:
        number = shelf.add(take)
    return {"riff": riff["name"], "number": number, "name": name}


def readable(found: dict[str, Any]) -> str:
    """The report for people."""
    lines = [f"{found['take']}: {_count(found['notes'], 'note')}, {_count(len(found['riffs']), 'riff')}."]
    if found["drums"]:
        lines.append(f"Left out: {found['drums']} on channel 10, the drums.")
    lines += found["says"]
    rows = []
    for riff in found["riffs"]:
        places = riff["occurrences"]
        best = places[riff["best"]]
        bars = ", ".join(str(one["bar"]) for one in places[:_NAMED]) + (", ..." if len(places) > _NAMED else "")
        rows.append(
            [
                riff["name"],
                len(places),
                riff["bars"],
                len(riff["notes"]),
                f"{100 * sum(one['alike'] for one in places) / len(places):.0f} %",
                f"{riff['tight_ms']:.0f} ms",
                f"bar {best['bar']} ({_clock(best['start_sec'])})",
                bars,
            ]
        )
    if rows:
        shown, more = layout.cut(rows, layout.SCREEN_LINES - _OTHER_LINES - bool(found["drums"]), "riffs")
        headers = ("riff", "times", "bars", "notes", "alike", "spread", "cleanest", "at bar")
        lines += ["", layout.table(shown, headers, right=(1, 2, 3, 4, 5))] + ([more] if more else [])
    for kept in found.get("kept", []):
        lines.append(f"Riff {kept['riff']} is on the shelf: take {kept['number']}, {kept['name']}.")
    return "\n".join(lines)


def _count(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"
