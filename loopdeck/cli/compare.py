"""``loopdeck compare``: a take held against a target, note by note, and what to work on."""

import argparse
from typing import TYPE_CHECKING, Any

from loopdeck.cli import report as layout
from loopdeck.cli.compare_text import both_names, count, name, says
from loopdeck.cli.guard import check_picture_option
from loopdeck.cli.take_arguments import NO_PICKUP, add_take_arguments, open_material, tempo_assumed

if TYPE_CHECKING:
    from loopdeck.analysis.comparison.comparing import Comparison
    from loopdeck.shelf.material import Material

HELP = "how near a take is to a target: missed, added, wrong, early, late, and what to work on"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add_take_arguments(parser, brief=("tempo", "meter"), picture=True)
    parser.add_argument("target", metavar="TARGET", help="what it should be: a take as well, or a Standard MIDI File")


def run(args: argparse.Namespace) -> int:
    """Compare and report; 0 however far apart they are."""
    from loopdeck.analysis.comparison.comparing import compare

    check_picture_option(args, args.take, args.target)
    take = open_material(args)
    target = open_material(_for_target(args), args.target)
    made = compare(
        take.notes.array["onset_sec"],
        take.notes.array["pitch"],
        target.notes.array["onset_sec"],
        target.notes.array["pitch"],
    )
    found = found_of(made, take, target)
    found["remarks"] = _assumed(args, take, target)
    if args.picture is not None:
        from loopdeck.cli.compare_picture import draw

        draw(made, take, target, args.picture)
    if args.json:
        import json

        print(json.dumps(found))
    else:
        print(readable(found, made, take, target))
    return 0


def _assumed(args: argparse.Namespace, take: "Material", target: "Material") -> list[str]:
    """A sentence where one of the two files names no tempo, or neither does."""
    told = [tempo_assumed(args, one) for one in (take, target)]
    if not any(told):
        return []
    which = "Neither file names a" if all(told) else ("The take names no" if told[0] else "The target names no")
    return [f"{which} tempo; 120 is assumed (--tempo sets another)."]


def _for_target(args: argparse.Namespace) -> argparse.Namespace:
    """The options for the target: a pickup profile is named for the take; the target is seen
    through the pickup that it was itself played with, if it knows of one.
    """
    if args.pickup is None or args.pickup.strip().lower() == NO_PICKUP:
        return args
    return argparse.Namespace(**{**vars(args), "pickup": None, "bring_back": []})


def found_of(made: "Comparison", take: "Material", target: "Material") -> dict[str, Any]:
    """What is printed."""
    import numpy as np

    offsets = made.offsets_ms
    lower, median, upper = np.percentile(offsets, [25, 50, 75]).tolist() if len(offsets) else (0.0, 0.0, 0.0)
    return {
        "take": take.title,
        "target": target.title,
        "notes": made.notes,
        "target_notes": made.targets,
        "by": made.by,
        "tempo_ratio": round(1.0 / made.ratio, 4),
        "transposed": made.transposed,
        "rounds": made.rounds,
        "breaks": [[one.at, round(1000.0 * one.moved_sec, 3)] for one in made.breaks],
        **made.scores,
        "offset_ms": round(median, 3),
        "spread_ms": round((upper - lower) / 2, 3),
        "matched": made.matched,
        "wrong": made.wrong,
        "early": made.early,
        "late": made.late,
        "missed": made.missed,
        "added": made.added,
        "says": says(made, take, target),
    }


def readable(found: dict[str, Any], made: "Comparison", take: "Material", target: "Material") -> str:
    strict = found["strict"]
    lines = layout.folded(
        f"{found['take']} against {found['target']}: {count(found['notes'], 'note')} against {found['target_notes']}."
    )
    as_they_lie = "" if found["by"] == "time" else ", as the notes lie in time"
    lines += layout.folded(
        f"F1 {found['f1']:.3f} (precision {found['precision']:.3f}, recall {found['recall']:.3f}) within 50 ms; "
        f"{strict['f1']:.3f} within 25 ms{as_they_lie}."
    )
    for sentence in found.get("remarks", ()):
        lines += layout.folded(sentence)
    if found["matched"]:
        lines += layout.folded(_timing(found))
    for sentence in found["says"]:
        lines += layout.folded(sentence)
    wrong = {other: one for one, other, _ in made.wrong}
    rows: list[tuple[Any, ...]] = [
        (
            int(target.bars[other]),
            target.count_of(other),
            "wrong",
            " for ".join(both_names(take, one, target, other)),
            "",
        )
        for other, one in wrong.items()
    ]
    rows += [
        (int(target.bars[other]), target.count_of(other), "missed", name(target, other), "")
        for other in made.missed
        if other not in wrong
    ]
    rows += [
        (int(take.bars[one]), take.count_of(one), "added", name(take, one), "")
        for one in made.added
        if one not in wrong.values()
    ]
    timed = sorted(made.early + made.late, key=lambda row: -abs(row[2]))
    rows += [
        (
            int(target.bars[other]),
            target.count_of(other),
            "late" if ms > 0 else "early",
            name(target, other),
            f"{ms:+.0f}",
        )
        for _, other, ms in timed
    ]
    if rows:
        shown, more = layout.cut(rows, max(layout.SCREEN_LINES - len(lines) - 4, 3), "notes")
        lines += ["", layout.table(shown, ("bar", "beat", "what", "note", "ms"), right=(0, 4))] + (
            [more] if more else []
        )
    return "\n".join(lines)


def _timing(found: dict[str, Any]) -> str:
    """Where the matched notes lie in the middle, and how they spread."""
    middle = round(found["offset_ms"])
    where = f"{abs(middle)} ms {'late' if middle > 0 else 'early'}" if middle else "on the dot"
    return f"Timing: {where} in the middle, give or take {found['spread_ms']:.0f} ms."
