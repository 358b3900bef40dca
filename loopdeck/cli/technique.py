"""``loopdeck technique``: how each note of a take was played: slides, hammer-ons, pull-offs, bends,
vibrato, and how loud and long.
"""

import argparse
from typing import TYPE_CHECKING, Any

from loopdeck.cli import report as layout
from loopdeck.cli.guard import check_picture_option
from loopdeck.cli.take_arguments import add_take_arguments, open_material, view_of

if TYPE_CHECKING:
    from loopdeck.bass.technique.reading import Written
    from loopdeck.shelf.material import Material

HELP = "how each note was played: slides, hammer-ons, bends, vibrato, ghost and dead notes"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add_take_arguments(parser, brief=("tempo", "meter", "scale", "tuning"), picture=True)
    parser.add_argument(
        "--set",
        metavar="INDEX=MARKS",
        action="append",
        default=[],
        help="correct a written note by its number, and keep that with the take: 3=hammer-on,accent, 3=plain,"
        " or 3=auto for what was read; may be given several times",
    )


def run(args: argparse.Namespace) -> int:
    """Report."""
    check_picture_option(args, args.take)
    material, notes, removed = read(args)
    if args.set:
        notes = _correct(args, material, notes)
    if args.picture is not None:
        from loopdeck.cli.technique_picture import draw

        draw(material, notes, args.picture)
    if args.json:
        import json

        found: dict[str, Any] = {"notes": [note.as_dict() for note in notes]}
        print(json.dumps({**found, "removed": [{"index": one, "why": why} for one, why in removed]}))
    else:
        print(_readable(material, notes, removed))
    return 0


def read(args: argparse.Namespace) -> "tuple[Material, list[Written], list[tuple[int, str]]]":
    """The material, its written notes with the numbers of the raw notes they are made of, and what
    the pickup's clean-up removed.
    """
    import numpy as np

    from loopdeck.bass.fingering import finger
    from loopdeck.bass.technique.finding import technique
    from loopdeck.bass.technique.joins import JOINS
    from loopdeck.bass.technique.reading import as_notes
    from loopdeck.bass.technique.strings import strings_by_channel
    from loopdeck.shelf.hand_marks import hand_marks_of, put_over
    from loopdeck.shelf.material import tracks_apart

    pickup, back = args.pickup, args.bring_back
    args.pickup, args.bring_back = "none", []
    material = open_material(args)
    args.pickup, args.bring_back = pickup, back
    raw: tuple[tuple[int, ...], ...] = tuple((index,) for index in range(len(material)))
    removed: list[tuple[int, str]] = []
    view, late = view_of(material, pickup, back), None
    if view is not None:
        late = view.late
        material, raw, removed = view.material, view.raw, [(one.note, one.why) for one in view.removed]
    index = np.flatnonzero(material.pitched)
    array = material.notes.array[index].copy()
    if not tracks_apart(material):
        strings_by_channel(array, material.brief.tuning, material.take.seen.strings)
    bends = tuple(material.notes.bends[row] for row in index.tolist())
    notes = technique(array, bends, material.brief.tuning.fretless, None if late is None else late[index])
    put_over(notes, hand_marks_of(material.take.seen))
    fingered = finger(as_notes(notes), material.brief.tuning, joined=[JOINS.get(note.reached, "") for note in notes])
    for note, string in zip(notes, fingered.string.tolist(), strict=True):
        note.string = note.string or string
        note.raw = sorted(number for row in note.raw for number in raw[index[row]])
    return material, notes, removed


def _correct(args: argparse.Namespace, material: "Material", notes: "list[Written]") -> "list[Written]":
    """Keep what the player says with the take; the notes as they are then. Raises UserError."""
    from dataclasses import replace

    from loopdeck.errors import UserError
    from loopdeck.shelf.hand_marks import corrected, hand_marks_of
    from loopdeck.shelf.store import Shelf

    if material.take.number is None:
        raise UserError("Corrections are kept with a take on the shelf; put the file there with loopdeck takes import.")
    found = corrected(hand_marks_of(material.take.seen), notes, args.set)
    with Shelf(args.shelf) as shelf:
        shelf.set_views(material.take.number, replace(material.take.seen, technique=found))
    return read(args)[1]


def _readable(material: "Material", notes: "list[Written]", removed: list[tuple[int, str]]) -> str:
    from loopdeck.cli.bend_news import odd_bends
    from loopdeck.theory.pitch import pitch_name

    lines = [f"{material.title}: {len(notes)} note{'' if len(notes) == 1 else 's'} as a player would write them."]
    if removed:
        reasons = sorted({why for _, why in removed})
        counts = ", ".join(f"{sum(one == why for _, one in removed)} {why}" for why in reasons)
        lines.append(f"Taken out of view as errors of the pickup: {counts}.")
    lines += odd_bends(material.take)
    if not notes:
        return "\n".join([*lines, "There are no notes."])
    rows_of = {id(note): index for index, note in enumerate(notes)}
    told = [note for note in notes if note.by_hand or note.reached != "pluck" or note.marks or note.unsure]
    if not told:
        return "\n".join([*lines, "All of them are plainly plucked."])
    scale, tuning = material.brief.scale, material.brief.tuning
    rows = []
    for note in told:
        name = scale.spell(note.pitch) if scale is not None else pitch_name(note.pitch)
        string = f"{tuning.name_of(note.string)} ({note.string})" if 1 <= note.string <= len(tuning.strings) else ""
        rows.append([rows_of[id(note)], f"{note.onset_sec:.3f}", name, string, note.reached, _said(note)])
    shown, more = layout.cut(rows, layout.SCREEN_LINES - len(lines) - 4, "notes")
    lines += ["", layout.table(shown, ("number", "second", "note", "string", "reached by", "marks"), right=(0, 1))]
    return "\n".join(lines + ([more] if more else []))


def _said(note: "Written") -> str:
    marks = []
    for mark in note.marks:
        if mark == "vibrato" and note.vibrato is not None:
            mark = f"vibrato {note.vibrato[0]:.1f} Hz, {note.vibrato[1]:.0f} cents"
        elif mark == "bend":
            mark = f"bend {note.bend_semitones:.1f} semitones"
        marks.append(mark)
    if note.by_hand:
        marks.append("corrected by hand")
    if note.unsure:
        marks.append("unsure: soft pluck or legato")
    return ", ".join(marks)
