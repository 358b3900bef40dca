"""``loopdeck check``: which notes left the scale, and which scale would explain them.

In an imported file the notes on channel 10 are drums (General MIDI level 1), which have no place in a scale: they are left out, and the
report says so. The other notes keep the index they have in the take.
"""

import argparse
from typing import Any

from loopdeck.cli import report as layout

HELP = "which notes left the scale, and which scale would explain them"

#: Channel 10, counted from 0.
_DRUM_CHANNEL = 9
#: Straying notes named in the line above the table.
_NAMED = 3
#: Lines of the report that are not rows of its first table, and one for the prompt below it.
_OTHER_LINES = 12
#: Columns for the other names of a scale that would explain.
_SAME_WIDTH = 30


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
    import numpy as np

    from loopdeck.analysis.scale_report import report
    from loopdeck.shelf.source import open_take
    from loopdeck.theory.scale import TheoryError, parse_scale

    scale = parse_scale(args.scale) if args.scale is not None else None
    take = open_take(args.take, args.shelf)
    scale = scale or take.brief.scale
    if scale is None:
        raise TheoryError(f'The take {args.take!r} was played in no scale; name one, such as --scale "G dorian".')
    notes = take.notes().array
    # What was played live is an instrument on any channel; only a file follows the convention.
    index = np.flatnonzero((notes["channel"] != _DRUM_CHANNEL) | (take.origin != "imported"))
    chosen, bars = notes[index], take.bars(notes["onset_sec"])[index]
    found = report(chosen["pitch"], chosen["onset_sec"], chosen["duration_sec"], bars, scale, index)
    found["drums"] = len(notes) - len(chosen)
    if args.json:
        import json

        print(json.dumps(found))
    else:
        print(_readable(found, str(scale)))
    return 0


def _stray(note: dict[str, Any]) -> str:
    """A note without its octave, as people name what strays: ``F# (7)``."""
    return f"{note['name'].rstrip('-0123456789')} ({note['degree']})"


def _strays(outside: list[dict[str, Any]]) -> dict[str, int]:
    """How many of each, the most frequent first."""
    counts: dict[str, int] = {}
    for note in outside:
        counts[_stray(note)] = counts.get(_stray(note), 0) + 1
    return dict(sorted(counts.items(), key=lambda one: (-one[1], one[0])))


def _most(strays: dict[str, int]) -> str:
    """The most frequent in one line."""
    words = [f"{stray} {count}" for stray, count in list(strays.items())[:_NAMED]]
    return ", ".join(words) + (", ..." if len(strays) > _NAMED else ".")


def _readable(found: dict[str, Any], scale: str) -> str:
    notes = found["notes"]
    outside = [note for note in notes if not note["in_scale"]]
    lines = [f"{scale}: {' '.join(found['scale']['notes'])}"]
    if found["drums"]:
        lines.append(f"Left out: {found['drums']} on channel 10, the drums.")
    if not notes:
        return "\n".join([*lines, "There are no notes."])
    if not outside:
        lines.append(f"All {len(notes)} notes are in the scale.")
    else:
        strays = _strays(outside)
        lines.append(f"{len(outside)} of {len(notes)} notes are outside: {_most(strays)}")
        # The note that strays most often stands first, and its places in order.
        rank = {stray: number for number, stray in enumerate(strays)}
        outside.sort(key=lambda note: (rank[_stray(note)], note["onset_sec"]))
        rows = [[n["bar"], f"{n['onset_sec']:.3f}", n["name"], n["degree"], n["index"]] for n in outside]
        shown, more = layout.cut(rows, layout.SCREEN_LINES - _OTHER_LINES - bool(found["drums"]), "notes outside")
        lines += ["", layout.table(shown, ("bar", "second", "note", "degree", "index"), right=(0, 1, 4))]
        lines += [more] if more else []
    best = [[one["scale"], one["outside"], _some(one["same_notes"])] for one in found["explains"]]
    headers = ("scale", "notes outside", "same notes as")
    lines += ["", "What would explain it:", layout.table(best, headers, right=(1,))]
    return "\n".join(lines)


def _some(names: list[str]) -> str:
    """As many of the names as fit into their column."""
    for count in range(len(names), 0, -1):
        text = ", ".join(names[:count]) + (", ..." if count < len(names) else "")
        if len(text) <= _SAME_WIDTH:
            return text
    return ""
