"""``loopdeck neck``: where a scale lies on the neck, and the positions in which a hand holds it."""

import argparse
from typing import TYPE_CHECKING

from loopdeck.cli import report as layout
from loopdeck.cli.take_arguments import add_json, complete_names, complete_scales, with_names

if TYPE_CHECKING:
    from loopdeck.bass.neck import Neck, Position

HELP = "where a scale lies on the neck of a tuning, and the positions a hand can hold"
#: Columns of a fret on the printed neck, and the frets that carry a dot on most necks (common
#: practice, no source).
_CELL, _DOTS = 5, (3, 5, 7, 9, 12, 15, 17, 19, 21, 24)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add, scales = parser.add_argument, with_names('such as "G dorian"', "scales")
    complete_scales(add("--scale", metavar="SCALE", required=True, help=scales))
    tunings = with_names('such as drop-d or "E1 A1 D2 G2" (default: four-string)', "tunings")
    complete_names(add("--tuning", metavar="TUNING", default="four-string", help=tunings), "tunings")
    complete_names(
        add("--from-tuning", metavar="TUNING", help="say what changes if you come from this tuning"), "tunings"
    )
    parser.add_argument("--left-handed", action="store_true", help="draw the neck with the nut on the right")
    add_json(parser)
    parser.add_argument("--picture", metavar="OUT.png|.svg", help="draw the neck into this file")


def run(args: argparse.Namespace) -> int:
    """Print, or draw, the neck."""
    from loopdeck.bass.neck import moves, neck_of
    from loopdeck.brief.tunings import find_tuning
    from loopdeck.theory.scale import parse_scale

    neck = neck_of(parse_scale(args.scale), find_tuning(args.tuning))
    moved = moves(find_tuning(args.from_tuning), neck.tuning) if args.from_tuning is not None else None
    if args.picture is not None:
        from loopdeck.cli.neck_picture import draw

        draw(neck, args.picture, args.left_handed)
    if args.json:
        import json

        print(json.dumps({**neck.as_dict(), **({} if moved is None else {"moves": moved})}))
    else:
        print(_readable(neck, moved, args.left_handed))
    return 0


def _readable(neck: "Neck", moved: str | None, left_handed: bool) -> str:
    opens = " ".join(neck.tuning.name_of(string) for string in range(len(neck.tuning.strings), 0, -1))
    lines = [f"{neck.scale} ({' '.join(neck.scale.notes)}) on {neck.tuning}, {opens} from the lowest string."]
    if moved is not None:
        lines.append(moved or "Nothing moves: the strings are the same.")
    lines += ["", *drawn(neck, left_handed), "", "In one position:"]
    rows = [[_frets(position), _run(neck, position)] for position in neck.positions if position.low <= 12]
    lines.append(layout.table(rows, ("frets", "from the lowest string up")))
    return "\n".join(lines)


def drawn(neck: "Neck", left_handed: bool) -> list[str]:
    """The neck up to the twelfth fret, degrees in their places, the nut as a double line."""
    frets = list(range(min(neck.frets, 12) + 1))
    head = ["" if fret == 0 else f"{fret}{'.' if fret in _DOTS else ''}" for fret in frets]
    rows = [("", head, " ")]
    for string, lowest in enumerate(neck.tuning.strings, 1):
        cells = [
            neck.scale.degree(lowest + fret) if (lowest + fret) % 12 in neck.scale.pitch_classes else ""
            for fret in frets
        ]
        rows.append((neck.tuning.name_of(string), cells, "-"))
    lines = []
    for name, cells, fill in rows:
        nut, bar = ("||", "|") if fill == "-" else ("  ", " ")
        body = [cell.center(_CELL, fill) for cell in cells[1:]]
        first = cells[0].center(4)
        if left_handed:
            lines.append(bar.join(reversed(body)).rjust(2) + nut + first + name)
        else:
            lines.append(f"{name:>3} {first}{nut}" + bar.join(body))
    return [line.rstrip() for line in lines]


def _frets(position: "Position") -> str:
    return f"{position.low} to {position.high}"


def _run(neck: "Neck", position: "Position") -> str:
    """The frets string by string."""
    parts = []
    for string in range(len(neck.tuning.strings), 0, -1):
        frets = [str(spot.fret) for spot in position.spots if spot.string == string]
        if frets:
            parts.append(f"{neck.tuning.name_of(string)} {' '.join(frets)}")
    return ", ".join(parts)
