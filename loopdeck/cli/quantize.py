"""``loopdeck quantize``: how far a take's notes are from the grid, and, if one likes, a file of
them on the grid.
"""

import argparse
import heapq
from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import numpy as np

from loopdeck.cli import report as layout
from loopdeck.cli.take_arguments import add_output, add_take_arguments, open_material, tempo_assumed
from loopdeck.errors import UserError
from loopdeck.rhythm.counting import count_of

if TYPE_CHECKING:
    from loopdeck.analysis.transcription.beats import Stretch
    from loopdeck.shelf.material import Material

HELP = "move a take's notes to the grid, and say how far each was from it"


#: What the divisions of a beat are called; the others are mixtures.
_DIVISIONS = {
    "1": "one a beat", "2": "two a beat", "3": "three a beat", "4": "four a beat", "5": "five a beat", "6": "six a beat",
    "7": "seven a beat", "8": "eight a beat", "9": "nine a beat", "10": "ten a beat", "12": "twelve a beat",
}  # fmt: skip


#: With fewer off-beats a swing is said to be in doubt.
_FEW_OFF_BEATS = 4


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add_take_arguments(parser, brief=("tempo", "meter", "grid", "swing", "scale"), picture=True)
    add_output(parser, "OUT.mid", "the Standard MIDI File to write; without it only the report")
    parser.add_argument(
        "--strength", metavar="PERCENT", help="0 to 100: how far towards its slot; default: the brief's"
    )
    parser.add_argument(
        "--window",
        metavar="PERCENT",
        help="1 to 100: how near its slot a note must be to be moved; default: the brief's",
    )
    parser.add_argument("--straight", action="store_true", help="write the notes without the swing")


def run(args: argparse.Namespace) -> int:
    """Quantize, write, report."""
    from loopdeck.analysis.timing import Feel, report
    from loopdeck.cli.guard import MIDI_FILE, check_output, check_picture_option

    if args.output is not None:
        check_output(args.output, args.take, args.shelf, MIDI_FILE)
    check_picture_option(args, args.take)
    material = open_material(args)
    brief, notes = material.brief, material.notes.array
    strength, window = brief.strength / 100, brief.window / 100
    feel = Feel(brief.grid, brief.swing, strength, window, args.straight, find_swing=args.swing is None)
    figures, placed = report(
        notes["onset_sec"], notes["pitch"], material.tempo, material.stretches, feel, notes["duration_sec"]
    )
    for note in figures["notes"]:
        note["source"] = int(material.source[note["index"]])
        note["count"] = count_of(material.meter_of(note["bar"]), placed.written[note["index"]])
    found = {
        "take": material.title,
        "tempo": _tempo_text(material, args.tempo is not None),
        "meter": _meter_text(material.stretches),
        "grid": str(brief.grid),
        "swing": str(brief.swing),
        "strength": brief.strength,
        "window": brief.window,
        "straight": args.straight,
        "output": args.output,
        "remarks": tempo_assumed(args, material),
        **figures,
    }
    if args.output is not None:
        _write(args.output, material, placed.quantized_q)
    if args.picture is not None:
        from loopdeck.cli.quantize_picture import draw

        draw(found, material, _headline(found), args.picture)
    if args.json:
        import json

        print(json.dumps(found))
    else:
        print(_readable(found, material))
    return 0


def _write(path: str, material: "Material", onset_q: np.ndarray[Any, np.dtype[np.float64]]) -> None:
    from loopdeck.export.quantized import quantized_piece
    from loopdeck.export.smf import write_smf

    if not len(material):
        raise UserError(f"{material.take.said} has no notes to write, so {path} was not made.")
    write_smf(path, quantized_piece(material, onset_q))


# ---- words ---------------------------------------------------------------------------------------


def _tempo_text(material: "Material", asked: bool) -> str:
    if asked:
        return str(material.brief.tempo)
    qpm = [f"{point[2]:.3f}".rstrip("0").rstrip(".") for point in material.tempo.points]
    changes = [now for now, before in zip(qpm[1:], qpm[:-1], strict=True) if now != before]
    return (
        qpm[0]
        if not changes
        else f"{qpm[0]}, then {len(changes)} changes"
        if len(changes) > 1
        else " then ".join([qpm[0], *changes])
    )


def _meter_text(stretches: Sequence["Stretch"]) -> str:
    texts = [str(stretch.cycle) for stretch in stretches]
    return " then ".join(texts) if len(texts) <= 4 else f"{' then '.join(texts[:2])} and {len(texts) - 2} changes more"


def _readable(found: dict[str, Any], material: "Material") -> str:
    from loopdeck.theory.pitch import pitch_name

    notes, scale = found["notes"], material.brief.scale
    swing = "straight" if found["swing"] == "straight" else f"swing {found['swing']}"
    lines = [
        *layout.folded(_headline(found)),
        f"grid {found['grid']}, {swing}, strength {found['strength']} %, window {found['window']} %",
    ]
    for sentence in found["remarks"] if notes else ():
        lines += layout.folded(sentence)
    if "divisions" in found and notes:
        lines += layout.folded(_heard(found))
        lines += [says for says in [_no_rhythm(found)] if says]
    if notes:
        lines += layout.folded(
            f"{found['early']} early, {found['late']} late, {found['on_time']} within 6 ms;"
            f" median {_early_or_late(found['median_ms'])}, middle half ±{found['spread_ms']:.1f} ms"
        )
        lines.append("")
        # Only those that are shown are written out: a take may have a million.
        room = layout.SCREEN_LINES - len(lines) - 4
        # An ornament is not late: it shares the place of its main note.
        timed = (note for note in notes if not note.get("ornament", False))
        worst = heapq.nsmallest(room, timed, key=lambda note: (-abs(note["offset_ms"]), note["index"]))
        rows = [
            [
                note["bar"],
                note["count"],
                scale.spell(note["pitch"]) if scale is not None else pitch_name(note["pitch"]),
                f"{note['onset_sec']:.3f}",
                _early_or_late(note["offset_ms"]),
                f"{note['quantized_sec']:.3f}",
                note["index"],
            ]
            for note in worst
        ]
        more = f"... and {len(notes) - len(rows)} more notes; --json lists all." if len(notes) > len(rows) else ""
        headers = ("bar", "beat", "note", "second", "offset", "goes to", "index")
        lines.append(layout.table(rows, headers, right=(0, 3, 4, 5, 6)))
        lines += [more] if more else []
    else:
        lines.append("There are no notes.")
    if found["output"] is not None:
        lines += ["", f"Written to {found['output']}."]
    return "\n".join(lines)


def _headline(found: dict[str, Any]) -> str:
    return f"{found['take']}: {_count(len(found['notes']), 'note')} at {found['tempo']} in {found['meter']}"


def _heard(found: dict[str, Any]) -> str:
    """What rhythm transcription heard: the divisions of beats, most beats first, ornaments, and the
    swing.
    """
    named: dict[str, int] = {}
    for name, beats in found["divisions"].items():
        called = _DIVISIONS.get(name, "mixed")
        named[called] = named.get(called, 0) + beats
    ranked = sorted(named.items(), key=lambda row: -row[1])
    texts = [f"{called} in {_count(beats, 'beat')}" for called, beats in ranked[:4]]
    graces = sum(note["ornament"] for note in found["notes"])
    texts += [_count(graces, "ornament")] if graces else []
    if found["swing_found"] is not None:
        ratio, unit = found["swing_found"].split()
        texts.append(f"swung {ratio} in {'eighths' if unit == '1/8' else 'sixteenths'}, written straight")
        if _off_beats(found, unit) < _FEW_OFF_BEATS:
            texts[-1] += " (so few could be triplets or dotted as well; --swing straight writes them so)"
    return f"heard: {', '.join(texts)}"


def _off_beats(found: dict[str, Any], unit: str) -> int:
    """How many notes are written on the second half of a pair; pairs begin with the bar."""
    pair = Fraction(1, 4 if unit == "1/8" else 8) * 4
    return sum(Fraction(note["written"]) % pair == pair / 2 for note in found["notes"])


def _no_rhythm(found: dict[str, Any]) -> str:
    """What to say where there is but one place, else nothing."""
    notes = found["notes"]
    if len({(note["bar"], note["written"]) for note in notes}) > 1:
        return ""
    what = "One note alone" if len(notes) == 1 else "What is struck at once"
    return f"{what} makes no rhythm: its place is all that can be told."


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _early_or_late(offset_ms: float) -> str:
    if abs(offset_ms) < 0.05:
        return "on the dot"
    return f"{abs(offset_ms):.1f} ms {'early' if offset_ms < 0 else 'late'}"
