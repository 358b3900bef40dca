"""``loopdeck compare``: a take held against a target, note by note, and what to work on."""

import argparse
from collections import Counter
from typing import TYPE_CHECKING, Any

from loopdeck.cli import report as layout
from loopdeck.cli.guard import check_picture_option
from loopdeck.cli.take_arguments import NO_PICKUP, add_take_arguments, open_material

if TYPE_CHECKING:
    from loopdeck.analysis.comparison.comparing import Comparison
    from loopdeck.shelf.material import Material

HELP = "how near a take is to a target: missed, added, wrong, early, late, and what to work on"

#: Lines of the report that are not rows of its table.
_OTHER_LINES = 10
#: A constant part of the timing that a player would hear, in ms, and a spread that is loose (a
#: published threshold for one tone is 6 ms or 2.5 % of the interval: Friberg & Sundberg, JASA 98,
#: 1995; a whole take is judged more kindly, our own choice).
_HEARD_MS, _LOOSE_MS = 12.0, 25.0
#: Per cent by which two tempi may differ and be called one.
_SAME_TEMPO = 1.0


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
    if args.picture is not None:
        from loopdeck.cli.compare_picture import draw

        draw(made, take, target, args.picture)
    if args.json:
        import json

        print(json.dumps(found))
    else:
        print(readable(found, made, take, target))
    return 0


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
        **made.scores,
        "offset_ms": round(median, 3),
        "spread_ms": round((upper - lower) / 2, 3),
        "matched": made.matched,
        "wrong": made.wrong,
        "early": made.early,
        "late": made.late,
        "missed": made.missed,
        "added": made.added,
        "says": _says(made, take, target, median, (upper - lower) / 2),
    }


def _full_name(material: "Material", index: int) -> str:
    """A note's name with its octave."""
    from loopdeck.theory.pitch import pitch_name

    pitch = int(material.notes.array["pitch"][index])
    scale = material.brief.scale
    return scale.spell(pitch) if scale is not None else pitch_name(pitch)


def _name(material: "Material", index: int) -> str:
    """A note's name without its octave."""
    return _full_name(material, index).rstrip("-0123456789")


def _both_names(take: "Material", one: int, target: "Material", other: int) -> tuple[str, str]:
    """What was played and what belongs there; with octaves where the names alone would be the same."""
    names = _name(take, one), _name(target, other)
    return names if names[0] != names[1] else (_full_name(take, one), _full_name(target, other))


def _says(made: "Comparison", take: "Material", target: "Material", median: float, spread: float) -> list[str]:
    """The comparison in a few sentences, what matters most first."""
    if not made.targets:
        return ["The target has no notes."]
    if not made.notes:
        return ["There are no notes to compare."]
    wrong = {one: other for one, other, _ in made.wrong}
    missed = [other for other in made.missed if other not in set(wrong.values())]
    added = [one for one in made.added if one not in wrong]
    right = made.targets - len(made.missed)
    says = [f"{right} of {made.targets} notes are there" + (", all of them." if right == made.targets else ".")]
    if made.by == "order":
        percent = 100.0 / made.ratio
        same = abs(percent - 100.0) < _SAME_TEMPO
        why = "the two do not begin together" if same else f"the take runs at {percent:.0f} % of the target's tempo"
        says.append(f"Compared by order: {why}.")
    if wrong:
        names = {other: _both_names(take, one, target, other) for one, other in wrong.items()}
        (mine, theirs), times = Counter(names.values()).most_common(1)[0]
        where = next(other for other, both in names.items() if both == (mine, theirs))
        says.append(f"{_place(target, where)}: {mine} where {theirs} belongs" + _times(times) + ".")
    if missed:
        says.append(f"{_count(len(missed), 'note')} missed, most in {_worst_bar(target, missed)}.")
    if added:
        says.append(f"{_count(len(added), 'note')} too many, most in {_worst_bar(take, added)}.")
    if made.by == "time" and abs(median) >= _HEARD_MS:
        says.append(f"You are {abs(median):.0f} ms {'late' if median > 0 else 'early'} throughout.")
    if spread > _LOOSE_MS:
        says.append(f"The timing is loose: half of the notes lie more than {spread:.0f} ms from the middle.")
    says.append(_work_on(made, target))
    return says


def _times(count: int) -> str:
    return "" if count == 1 else f", {count} times"


def _count(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _place(material: "Material", index: int) -> str:
    return f"Bar {int(material.bars[index])}, beat {material.count_of(index)}"


def _worst_bar(material: "Material", indices: list[int]) -> str:
    bar, _ = Counter(material.bars[indices].tolist()).most_common(1)[0]
    return f"bar {bar}"


def _work_on(made: "Comparison", target: "Material") -> str:
    """The bar of the target with the most that went wrong in it."""
    places = list(made.missed) + [other for _, other, _ in made.early + made.late]
    if not places:
        return "Nothing is left to work on at this tempo." if not made.added else "Leave out what is not in it."
    bar, count = Counter(target.bars[places].tolist()).most_common(1)[0]
    return f"Work on bar {bar}: {_count(count, 'note')} there {'is' if count == 1 else 'are'} not as written."


def readable(found: dict[str, Any], made: "Comparison", take: "Material", target: "Material") -> str:
    strict = found["strict"]
    lines = [
        f"{found['take']} against {found['target']}: {_count(found['notes'], 'note')} against {found['target_notes']}."
    ]
    if found["by"] == "time":
        lines.append(
            f"F1 {found['f1']:.3f} (precision {found['precision']:.3f}, recall {found['recall']:.3f}) within 50 ms; "
            f"{strict['f1']:.3f} within 25 ms."
        )
    if found["matched"]:
        lines.append(
            f"Timing: {round(found['offset_ms']) + 0:+d} ms in the middle, give or take {found['spread_ms']:.0f} ms."
        )
    lines += found["says"]
    wrong = {other: one for one, other, _ in made.wrong}
    rows: list[tuple[Any, ...]] = [
        (
            int(target.bars[other]),
            target.count_of(other),
            "wrong",
            " for ".join(_both_names(take, one, target, other)),
            "",
        )
        for other, one in wrong.items()
    ]
    rows += [
        (int(target.bars[other]), target.count_of(other), "missed", _name(target, other), "")
        for other in made.missed
        if other not in wrong
    ]
    rows += [
        (int(take.bars[one]), take.count_of(one), "added", _name(take, one), "")
        for one in made.added
        if one not in wrong.values()
    ]
    timed = sorted(made.early + made.late, key=lambda row: -abs(row[2]))
    rows += [
        (
            int(target.bars[other]),
            target.count_of(other),
            "late" if ms > 0 else "early",
            _name(target, other),
            f"{ms:+.0f}",
        )
        for _, other, ms in timed
    ]
    if rows:
        shown, more = layout.cut(rows, layout.SCREEN_LINES - _OTHER_LINES - 2, "notes")
        lines += ["", layout.table(shown, ("bar", "beat", "what", "note", "ms"), right=(0, 4))] + (
            [more] if more else []
        )
    return "\n".join(lines)
