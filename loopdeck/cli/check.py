"""``loopdeck check``: which notes left the scale, and which scale would explain them.

In an imported file the notes on channel 10 are drums (General MIDI level 1), which have no place in a scale: they are left out, and the
report says so. The other notes keep the index they have in the take.
"""

import argparse
from typing import TYPE_CHECKING, Any

from loopdeck.cli import report as layout
from loopdeck.cli.take_arguments import add_take_arguments, open_material

if TYPE_CHECKING:
    from loopdeck.shelf.material import Material

HELP = "which notes left the scale, and which scale would explain them"

#: Straying notes named in the line above the table.
_NAMED = 3
#: Lines of the report that are not rows of its first table, and one for the prompt below it.
_OTHER_LINES = 12
#: Columns for the other names of a scale that would explain.
_SAME_WIDTH = 30


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add_take_arguments(parser, brief=("scale", "tempo", "meter"))


def run(args: argparse.Namespace) -> int:
    """Report; 0 whether or not notes are outside."""
    material = open_material(args)
    found = _found(material)
    if args.json:
        import json

        print(json.dumps(found))
    else:
        print(_readable(found, material))
    return 0


def _found(material: "Material") -> dict[str, Any]:
    """What is printed. Without a scale nothing is in or out, and notes are named as the scale that explains them best spells them."""
    import numpy as np

    from loopdeck.analysis.scale_report import report

    index = np.flatnonzero(material.pitched)
    notes, bars = material.notes.array[index], material.bars[index]
    found = report(notes["pitch"], notes["onset_sec"], notes["duration_sec"], bars, material.brief.scale, index)
    for note in found["notes"]:
        note["source"] = int(material.source[note["index"]])
        note["count"] = material.count_of(note["index"])
    found["drums"] = len(material) - len(notes)
    return found


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


def _readable(found: dict[str, Any], material: "Material") -> str:
    notes, scale = found["notes"], material.brief.scale
    lines = [f"{scale}: {' '.join(found['scale']['notes'])}"] if scale is not None else [f"{material.title}: no scale."]
    if found["drums"]:
        lines.append(f"Left out: {found['drums']} on channel 10, the drums.")
    if not notes:
        return "\n".join([*lines, "There are no notes."])
    if scale is not None:
        lines += _outside(notes, bool(found["drums"]))
    best = [[one["scale"], one["outside"], _some(one["same_notes"])] for one in found["explains"]]
    headers = ("scale", "notes outside", "same notes as")
    lines += ["", "What would explain it:", layout.table(best, headers, right=(1,))]
    return "\n".join(lines)


def _outside(notes: list[dict[str, Any]], drums: bool) -> list[str]:
    """How many left the scale, and where: the note that strays most often first, and its places in order."""
    outside = [note for note in notes if not note["in_scale"]]
    if not outside:
        return [f"All {len(notes)} notes are in the scale."]
    strays = _strays(outside)
    rank = {stray: number for number, stray in enumerate(strays)}
    outside.sort(key=lambda note: (rank[_stray(note)], note["onset_sec"]))
    rows = [[n["bar"], n["count"], f"{n['onset_sec']:.3f}", n["name"], n["degree"], n["index"]] for n in outside]
    shown, more = layout.cut(rows, layout.SCREEN_LINES - _OTHER_LINES - drums, "notes outside")
    return [
        f"{len(outside)} of {len(notes)} notes are outside: {_most(strays)}",
        "",
        layout.table(shown, ("bar", "beat", "second", "note", "degree", "index"), right=(0, 2, 5)),
        *([more] if more else []),
    ]


def _some(names: list[str]) -> str:
    """As many of the names as fit into their column."""
    for count in range(len(names), 0, -1):
        text = ", ".join(names[:count]) + (", ..." if count < len(names) else "")
        if len(text) <= _SAME_WIDTH:
            return text
    return ""
