"""``loopdeck check``: which notes left the scale, what they do there, and which scale would explain
the playing.

In an imported file the notes on channel 10 are drums (General MIDI level 1), which have no place in
a scale: they are left out, and the report says so. The other notes keep the index they have in the
take.
"""

import argparse
from collections import Counter
from typing import TYPE_CHECKING, Any

from loopdeck.cli import report as layout
from loopdeck.cli.guard import check_picture_option
from loopdeck.cli.take_arguments import add_take_arguments, open_material, tempo_assumed

if TYPE_CHECKING:
    from loopdeck.shelf.material import Material

HELP = "which notes left the scale, and which scale would explain them"

#: Rows of straying notes and of scales that would explain.
_MOST_STRAYS, _MOST_SCALES = 5, 3
#: Fewer different notes than this tell no scale. No scale explains well what it is given for with
#: less than this, where more than this share of the time lies outside. Our own figures, no source.
_FEW_PITCHES, _UNSURE, _MUCH_OUTSIDE = 4, 0.3, 0.15
#: What is less likely is not worth a line.
_LEAST_SAID = 0.005
#: Columns for the places of a straying note, and of the whole report.
_PLACES_WIDTH, _WIDTH = 34, 80


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add_take_arguments(parser, brief=("scale", "tempo", "meter"), picture=True)


def run(args: argparse.Namespace) -> int:
    """Report; 0 whether or not notes are outside."""
    check_picture_option(args, args.take)
    material = open_material(args)
    found = find(material)
    found["remarks"] = tempo_assumed(args, material)
    if args.picture is not None:
        from loopdeck.cli.check_picture import draw

        draw(found, material, args.picture)
    if args.json:
        import json

        print(json.dumps(found))
    else:
        print(_readable(found, material))
    return 0


def find(material: "Material") -> dict[str, Any]:
    """What is printed.

    Without a scale nothing is in or out, and notes are named as the scale that explains them best
    spells them.
    """
    from loopdeck.analysis.scale_report import report
    from loopdeck.shelf.playing import pitched_playing

    playing, index = pitched_playing(material)
    onsets = material.notes.array["onset_sec"][index]
    bends = [material.notes.bends[row] for row in index.tolist()]
    bars = material.bars[index]
    found = report(playing, onsets, bars, material.brief.scale, index, bends, material.source[index])
    for note in found["notes"]:
        note["source"] = int(material.source[note["index"]])
        note["count"] = material.count_of(note["index"])
    found["strays"] = strays(found["notes"])
    found["drums"] = len(material) - len(index)
    return found


def _readable(found: dict[str, Any], material: "Material") -> str:
    notes, scale = found["notes"], material.brief.scale
    asked = f"{material.title}: no scale." if scale is None else f"{scale}: {' '.join(found['scale']['notes'])}"
    lines = layout.folded(asked)
    if found["drums"]:
        lines.append(f"Left out: {found['drums']} on channel 10, the drums.")
    if not notes:
        return "\n".join([*lines, "There are no notes."])
    for sentence in found["remarks"]:
        lines += layout.folded(sentence)
    if scale is not None:
        lines += _outside(found)
        lines += layout.folded(found["change"], indent="")
    lines += ["", _heading(found)]
    for one in found["explains"][:_MOST_SCALES]:
        if one is not found["explains"][0] and one["probability"] < _LEAST_SAID:
            break
        more = layout.folded(f"{one['scale']} ({round(100 * one['probability'])} %): {one['why']}")
        # The first always; the others as far as the screen goes.
        if one is found["explains"][0] or len(lines) + len(more) < layout.SCREEN_LINES:
            lines += more
    return "\n".join(lines)


def _heading(found: dict[str, Any]) -> str:
    """What the scales below it are worth."""
    best = found["explains"][0]
    if len({note["pitch"] % 12 for note in found["notes"]}) < _FEW_PITCHES:
        return "Too few different notes to tell a scale; what would hold them:"
    if best["probability"] < _UNSURE and best["share_outside"] > _MUCH_OUTSIDE:
        return "No scale explains it well; nearest come:"
    return "What would explain it:"


def strays(notes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Each note that left the scale once, in whatever octave, with how often, what it does, where,
    and its indices: those that lead nowhere first, then the most frequent.
    """
    rows: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for note in notes:
        if note["in_scale"] is False:
            rows.setdefault((note["name"].rstrip("-0123456789"), note["degree"]), []).append(note)
    found = [
        {
            "note": name,
            "degree": degree,
            "times": len(same),
            "does": dict(Counter(note["role"] for note in same).most_common()),
            "places": list(dict.fromkeys(f"{note['bar']}:{note['count']}" for note in same)),
            "indices": [note["index"] for note in same],
        }
        for (name, degree), same in rows.items()
    ]
    return sorted(found, key=lambda one: (-one["does"].get("outside", 0), -one["times"], one["note"]))


def _outside(found: dict[str, Any]) -> list[str]:
    """How many left the scale, and the strays."""
    notes = found["notes"]
    outside = [note for note in notes if not note["in_scale"]]
    if not outside:
        return [f"All {len(notes)} notes are in the scale." if len(notes) > 1 else "The one note is in the scale."]
    rows = [
        [one["note"], one["degree"], one["times"], _does(one["does"]), _where(one["places"])] for one in found["strays"]
    ]
    shown, more = layout.cut(rows, _MOST_STRAYS - bool(found["drums"]) - bool(found.get("remarks")), "notes outside")
    verb = "is" if len(outside) == 1 else "are"
    return [
        f"{len(outside)} of {len(notes)} notes {verb} outside.",
        "",
        layout.table(shown, ("note", "degree", "times", "does", "bar:beat"), right=(2,)),
        *([more] if more else []),
        "",
    ]


def _does(roles: dict[str, int]) -> str:
    """The roles of a straying note, the most frequent first: ``passing 3, outside 1``; ``approach``
    where there is one.
    """
    most = sorted(roles.items(), key=lambda one: (-one[1], one[0]))
    if len(most) == 1:
        return most[0][0]
    return ", ".join(f"{role} {count}" for role, count in most[:2]) + (", ..." if len(most) > 2 else "")


def _where(places: list[str]) -> str:
    """As many places as fit: ``1:2, 1:4 and, ...``."""
    words = places[:_PLACES_WIDTH]
    text = ", ".join(words) + (", ..." if len(words) < len(places) else "")
    while len(text) > _PLACES_WIDTH and words:
        words.pop()
        text = ", ".join(words) + ", ..."
    return text
