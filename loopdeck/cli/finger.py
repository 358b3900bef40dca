"""``loopdeck finger``: string, fret, hand and finger for every note of a take."""

import argparse
import re
from typing import TYPE_CHECKING

from loopdeck.cli import report as layout
from loopdeck.cli.take_arguments import add_take_arguments, open_material

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np
    from numpy.typing import NDArray

    from loopdeck.bass.fingering import Fingering
    from loopdeck.bass.handwork import Wish
    from loopdeck.shelf.material import Material
    from loopdeck.theory.tuning import Tuning

HELP = "string, fret and finger for every note of a take"
_PIN = re.compile(r"(all|[0-9]{1,7})(?:=([0-9]{1,2})(?:/([0-9]{1,2}))?|@([0-9]{1,2}))")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add_take_arguments(parser, brief=("tempo", "meter", "scale", "tuning"))
    parser.add_argument(
        "--pin",
        metavar="PIN",
        action="append",
        default=[],
        help="hold a note: INDEX=STRING/FRET, INDEX=STRING or INDEX@HAND (the fret under the index finger);"
        " 'all' for INDEX holds every note that can be played so; may be given several times",
    )


def run(args: argparse.Namespace) -> int:
    """Finger the take and report."""
    import numpy as np

    from loopdeck.bass.fingering import finger, no_place

    pins = [_parsed(text) for text in args.pin]
    material = open_material(args)
    index = np.flatnonzero(material.pitched)
    notes, joined = _as_played(material, index)
    place = {int(number): row for row, number in enumerate(index)}
    free = _free(notes, material.brief.tuning)
    held = _pins_of(pins, place, len(material), free)
    for row, wish in sorted(held.items()):
        if free(row, wish):
            raise no_place(int(index[row]), int(notes["pitch"][row]), wish)
    found = finger(notes, material.brief.tuning, held, joined)
    if args.json:
        import json

        print(json.dumps(_as_json(found, index.tolist())))
    else:
        print(_readable(material, found, index.tolist()))
    return 0


def _as_played(material: "Material", index: "NDArray[np.int64]") -> "tuple[NDArray[np.void], list[str]]":
    """The notes of these numbers with the strings that their channels name, and how each is joined
    to the one before it: a slide or hammer-on stays on its string.
    """
    from loopdeck.bass.technique.joins import raw_joins
    from loopdeck.page.making import notes_played

    notes, written = notes_played(material, index)
    return notes, raw_joins(written, len(notes))


def _parsed(text: str) -> "tuple[str, Wish]":
    from loopdeck.bass.handwork import Wish
    from loopdeck.errors import UserError

    match = _PIN.fullmatch(text.strip())
    if match is None:
        raise UserError(
            f"{text[:40]!r} pins nothing; write INDEX=STRING/FRET, INDEX=STRING or INDEX@HAND, such as 3=4/5."
        )
    which, string, fret, hand = match.groups()
    wish = Wish(int(string or 0), int(fret) if fret is not None else -1, int(hand or 0))
    if (hand is not None and wish.hand == 0) or (string is not None and wish.string == 0):
        raise UserError(f"{text[:40]!r} pins nothing; strings and places of the hand count from 1.")
    return which, wish


def _free(notes: "NDArray[np.void]", tuning: "Tuning") -> "Callable[[int, Wish], bool]":
    """Whether the note of a row cannot be played as wished: that of an open string under a riff
    along another one, say.
    """
    from loopdeck.bass.handwork import Neckboard, states_of

    board, pitches = Neckboard(tuning.strings, tuning.frets), notes["pitch"].tolist()
    return lambda row, wish: not states_of(board, ((pitches[row], wish),)).hand.size


def _pins_of(
    pins: "list[tuple[str, Wish]]", place: dict[int, int], count: int, free: "Callable[[int, Wish], bool]"
) -> "dict[int, Wish]":
    """Pins by the row of their note. Two pins of a note add up; what is said of all notes holds for
    those that can be played so, and where nothing else is said of one. Raises UserError for pins
    that contradict each other.
    """
    from loopdeck.errors import UserError

    of_all: dict[int, Wish] = {}
    of_one: dict[int, Wish] = {}
    for which, wish in pins:
        rows = list(place.values()) if which == "all" else [place.get(int(which), -1)]
        if rows == [-1]:
            if int(which) < count:
                raise UserError(f"Note {which} is one of the drums; it has no place on the neck.")
            raise UserError(
                f"There is no note {which} to pin; the notes are numbered from 0 to {count - 1}."
                if count
                else "There is no note to pin."
            )
        found = of_all if which == "all" else of_one
        for row in rows:
            found[row] = _both(which, found.get(row), wish)
    if not all(free(row, wish) for row, wish in of_all.items()):
        of_all = {row: wish for row, wish in of_all.items() if not free(row, wish)}
    return {row: _over(of_all.get(row), of_one.get(row)) for row in of_all.keys() | of_one.keys()}


def _both(which: str, one: "Wish | None", other: "Wish") -> "Wish":
    from loopdeck.errors import UserError

    if one is None:
        return other
    name = "All notes are" if which == "all" else f"Note {which} is"
    for what, here, there, none in (
        ("string", one.string, other.string, 0),
        ("fret", one.fret, other.fret, -1),
        ("hand", one.hand, other.hand, 0),
    ):
        if none not in (here, there) and here != there:
            raise UserError(f"{name} pinned to {what} {here} and to {what} {there}; only one of them can hold.")
    return _over(one, other)


def _over(one: "Wish | None", other: "Wish | None") -> "Wish":
    """What ``other`` says, and what it leaves open as ``one`` says; another string frees the
    fret.
    """
    from loopdeck.bass.handwork import ANY, Wish

    one, other = one or ANY, other or ANY
    fret = one.fret if other.string in (0, one.string) else -1
    return Wish(other.string or one.string, other.fret if other.fret >= 0 else fret, other.hand or one.hand)


def _as_json(found: "Fingering", index: list[int]) -> dict[str, object]:
    figures = found.as_dict()
    for rows in ("notes", "unplayable", "contradictions"):
        for row in figures[rows]:
            row["index"] = index[row["index"]]
    return figures


def _readable(material: "Material", found: "Fingering", index: list[int]) -> str:
    from loopdeck.theory.pitch import pitch_name

    tuning = material.brief.tuning
    lines = [f"{material.title}: {len(index)} note{'' if len(index) == 1 else 's'} on {tuning}."]
    if not index:
        return "\n".join([*lines, "There are no notes."])
    for one in found.unplayable[:3]:
        where = "" if one.nearest is None else f"; the nearest octave that can be is {pitch_name(one.nearest)}"
        lines.append(f"Note {index[one.index]} ({pitch_name(one.pitch)}) cannot be played, {one.why}{where}.")
    if len(found.unplayable) > 3:
        lines.append(f"{len(found.unplayable) - 3} more cannot be played.")
    for wrong in found.contradictions[:3]:
        lines.append(
            f"Note {index[wrong.index]} ({pitch_name(wrong.pitch)}) came as one on string {wrong.string}, which "
            "does not have it;"
            " its string is chosen anew."
        )
    scale = material.brief.scale
    rows = []
    for row, number in enumerate(index):
        if not found.string[row]:
            continue
        pitch = int(material.notes.array["pitch"][number])
        name = scale.spell(pitch) if scale is not None else pitch_name(pitch)
        hand = "open" if not found.fret[row] else f"finger {found.finger[row]}"
        string = int(found.string[row])
        rows.append(
            [
                material.bars[number],
                name,
                f"{tuning.name_of(string)} ({string})",
                found.fret[row],
                hand,
                found.hand[row],
                number,
            ]
        )
    shown, more = layout.cut(rows, layout.SCREEN_LINES - len(lines) - 4, "notes")
    headers = ("bar", "note", "string", "fret", "with", "hand at", "index")
    lines += ["", layout.table(shown, headers, right=(0, 3, 5, 6))]
    return "\n".join(lines + ([more] if more else []))
