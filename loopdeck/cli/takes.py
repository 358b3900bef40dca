"""``loopdeck takes``: the shelf.

Each action is one line of ``_ACTS``: it does its thing to the open shelf and returns what is
printed.
"""

import argparse
import json
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loopdeck.cli import takes_pickup
from loopdeck.cli.report import table
from loopdeck.cli.take_arguments import add_json, add_output, add_shelf, complete_names, complete_takes, with_names
from loopdeck.errors import UserError
from loopdeck.shelf.source import MIDI_ENDINGS

if TYPE_CHECKING:
    from loopdeck.shelf.store import Shelf
    from loopdeck.shelf.take import Take

HELP = "the shelf: list, show, rename, rate, tag, note, remove, restore, export, import"

#: Longer names are cut in a list; show has them whole.
_NAME_WIDTH = 36


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The sub-commands."""
    shelf = argparse.ArgumentParser(add_help=False)
    # Said before or after the sub-command; the later one must not wipe the earlier one out.
    add_shelf(shelf, argparse.SUPPRESS)
    add_shelf(parser)
    acts = parser.add_subparsers(dest="act", metavar="ACTION", required=True)

    def act(name: str, words: str, take: bool = True, many: bool = False) -> argparse.ArgumentParser:
        sub = acts.add_parser(name, parents=[shelf], help=words, description=words[0].upper() + words[1:] + ".")
        if many:
            complete_takes(sub.add_argument("takes", metavar="TAKE", nargs="+", help="numbers or names of takes"))
        elif take:
            complete_takes(sub.add_argument("take", metavar="TAKE", help="a take's number or name"))
        return sub

    listing = act("list", "the takes, newest first", take=False)
    listing.add_argument("--tag", help="with this tag")
    listing.add_argument("--scale", help='in this scale ("E dorian"), on this root (E) or of this name (dorian)')
    listing.add_argument("--meter", help='with this cycle ("4/4 4+3/8") or a bar of this meter')
    listing.add_argument("--tempo", help="at this many quarters a minute (96), or between two (90-110)")
    listing.add_argument("--min-rating", type=int, default=0, metavar="N", help="rated at least N of 5")
    listing.add_argument("--text", help="with these words in name, note, mood or technique")
    listing.add_argument("--bin", action="store_true", help="those in the bin instead")
    add_json(listing)
    binned = act("bin", "the removed takes (as list --bin)", take=False)
    binned.set_defaults(bin=True, tag=None, scale=None, meter=None, tempo=None, min_rating=0, text=None)
    add_json(binned)
    add_json(act("show", "everything about one take"))
    act("rename", "give a take another name").add_argument("name", metavar="NAME", help="the new name")
    act("rate", "rate a take from 0 to 5").add_argument("rating", type=int, metavar="N", help="0 to 5")
    act("tag", "add tags to a take").add_argument("words", nargs="+", metavar="TAG", help="one or more words")
    act("untag", "take tags away").add_argument("words", nargs="+", metavar="TAG", help="the tags to go")
    act("note", "write free words beside a take (in place of those there)").add_argument(
        "text", metavar="TEXT", help='in quotes; "" takes them away'
    )
    back = act("bring-back", "show notes that the pickup's clean-up took out")
    back.add_argument("indices", metavar="INDEX", type=int, nargs="+", help="their numbers, as show lists them")
    back.add_argument("--undo", action="store_true", help="take them out again")
    act("remove", "put takes into the bin", many=True)
    act("restore", "get takes out of the bin", take=False).add_argument(
        "takes", metavar="NUMBER", nargs="+", help="the numbers of takes in the bin, as takes bin lists them"
    )
    export = act("export", "write takes as Standard MIDI Files", many=True)
    add_output(export, "OUT.mid|FOLDER", "the file to write; for several takes a folder", required=True)
    export.add_argument("--straight", action="store_true", help="everything at its written place, without swing")
    bring = act("import", "put a Standard MIDI File, MusicXML or text tab on the shelf", take=False)
    bring.add_argument("file", metavar="FILE.mid|.musicxml|.txt", help="the file to read")
    bring.add_argument(
        "--part", metavar="PART", help="the part, by name or number, or all (default: the bass, where there is one)"
    )
    add_json(bring)
    bring.add_argument("--name", help="its name; without it that of the file")
    profile = with_names("the pickup profile it was played with: every report looks through it", "pickups")
    complete_names(bring.add_argument("--pickup", metavar="PICKUP", help=profile), "pickups")
    rescue = act("rescue", "copy what can still be read of a damaged shelf into a new one", take=False)
    add_output(rescue, "NEW", "the new shelf", required=True)


def run(args: argparse.Namespace) -> int:
    """Do one thing to the shelf."""
    if args.act == "rescue":
        return _rescue(args)
    from loopdeck.shelf.store import Shelf

    with Shelf(args.shelf) as shelf:
        print(_ACTS[args.act](shelf, args))
    return 0


def _rescue(args: argparse.Namespace) -> int:
    from loopdeck.shelf.paths import default_shelf
    from loopdeck.shelf.rescue import rescue

    copied, lost = rescue(args.shelf or default_shelf(), args.output)
    print(f"{_count(copied, 'take')} copied to {args.output}" + (f", {lost} could not be read." if lost else "."))
    return 0


def _list(shelf: "Shelf", args: argparse.Namespace) -> str:
    tempo = _tempo(args.tempo) if args.tempo is not None else None
    rows = shelf.find(args.tag, args.scale, args.meter, tempo, args.min_rating, args.text, args.bin)
    if shelf.damaged:
        print(f"loopdeck: {shelf.left_out()}", file=sys.stderr)
    if args.json:
        return json.dumps(rows)
    if not rows:
        return (
            "The bin is empty." if args.bin else "No take on the shelf fits." if _asked(args) else "The shelf is empty."
        )
    cells = [
        [
            row["number"],
            _short(row["name"]),
            _local(row["kept_at"]),
            _stars(row["rating"]),
            row["scale"] or "-",
            row["cycle"],
            f"{row['qpm']:g}",
            row["passes"] or "-",
            " ".join(row["tags"]),
        ]
        for row in rows
    ]
    headers = ("take", "name", "kept", "rating", "scale", "cycle", "tempo", "passes", "tags")
    return table(cells, headers, right=(0, 6, 7))


def _asked(args: argparse.Namespace) -> bool:
    return bool(args.tag or args.scale or args.meter or args.tempo or args.min_rating or args.text)


def _tempo(text: str) -> tuple[float, float]:
    from loopdeck.rhythm.tempo import parse_tempo

    # The dash of "dotted-quarter" is none between two tempi.
    words = re.split(r"(?<!dotted)-", text.strip().lower(), maxsplit=1)
    low, high = (parse_tempo(word).quarters_per_minute for word in (words[0], words[-1]))
    if low > high:
        raise UserError(f"Two tempi are written from the lower to the higher, such as 90-110; {text!r} is not.")
    return low, high


def _show(shelf: "Shelf", args: argparse.Namespace) -> str:
    take = shelf.get(args.take)
    notes = take.notes().array
    facts: dict[str, Any] = {
        "number": take.number,
        "name": take.name,
        "kept_at": take.kept_at,
        "origin": take.origin,
        "rating": take.rating,
        "tags": list(take.tags),
        "note": take.note,
        "passes": take.recording.passes,
        "seconds": round(take.recording.end_sec, 3),
        "events": len(take.recording.events),
        "notes": len(notes),
        "layers": [
            {"number": layer.number, "notes": len(layer), "muted": layer.number in take.recording.muted}
            for layer in take.recording.layers
        ],
        "brief": take.brief.to_dict(),
        **takes_pickup.facts(take),
    }
    if args.json:
        return json.dumps(facts)
    layers = [
        f"{one['number']} ({_count(one['notes'], 'note')}{', muted' if one['muted'] else ''})"
        for one in facts["layers"]
    ]
    rows: list[tuple[str, object]] = [
        ("take", take.number),
        ("name", take.name),
        ("kept", f"{_local(take.kept_at)}, {take.origin}"),
        ("rating", _stars(take.rating)),
        ("tags", " ".join(take.tags) or "-"),
        ("note", " / ".join(take.note.split("\n")) or "-"),
        (
            "length",
            f"{_count(take.recording.passes, 'pass', 'passes')}, {take.recording.end_sec:.1f} s"
            if take.recording.passes
            else f"{take.recording.end_sec:.1f} s",
        ),
        ("played", _count(len(notes), "note")),
        ("layers", ", ".join(layers) or "-"),
        *takes_pickup.words(facts),
        *_brief_rows(take),
    ]
    return table(rows)


def _brief_rows(take: "Take") -> list[tuple[str, object]]:
    """The fields of its brief as a player reads them, such as ``count-in`` and ``1 bar``."""
    from loopdeck.brief.brief import SPECS

    filled = [key for key, value in take.brief.to_dict().items() if key != "name" and value != ""]
    return [(SPECS[key].title, take.brief.sentence(key).partition(": ")[2]) for key in filled]


def _export(shelf: "Shelf", args: argparse.Namespace) -> str:
    from loopdeck.cli.guard import MIDI_FILE, check_output
    from loopdeck.export.piece import piece_of_take
    from loopdeck.export.smf import write_smf

    takes = [shelf.get(number) for number in _numbers(shelf, args.takes)]
    paths = _export_paths(takes, args.output)
    for take, path in zip(takes, paths, strict=True):
        check_output(path, None, shelf.path, MIDI_FILE)
        if not take.recording.events and not any(map(len, take.recording.layers)):
            raise UserError(f"{take.said} has no notes to write, so {path} was not made.")
    # All of them are laid out before any is written: what cannot be written is said first.
    pieces = [piece_of_take(take, args.straight) for take in takes]
    folder = None if paths == [args.output] else Path(args.output)
    lines = []
    for take, path, piece in zip(takes, paths, pieces, strict=True):
        with _folder_for(folder):
            write_smf(path, piece)
        lines.append(
            f"Take {take.number}, {take.name!r}, is in {path}: {_count(len(piece.tracks), 'track')} after the first."
        )
    return "\n".join(lines)


@contextmanager
def _folder_for(folder: Path | None) -> Iterator[None]:
    """The folder that a file goes into (None: the current one), gone again if it is new and the
    file cannot be written.
    """
    new = folder is not None and not folder.exists()
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
    try:
        yield
    except BaseException:
        if new and folder is not None:
            with suppress(OSError):
                folder.rmdir()
        raise


def _export_paths(takes: "list[Take]", output: str) -> list[Path | str]:
    """Where each take goes: the file that was named, or one in the folder (for a single take one
    that is there, or that is named with a slash behind it).
    """
    folder = Path(output)
    if len(takes) == 1 and not folder.is_dir() and not output.endswith("/"):
        return [output]
    if not folder.is_dir() and (folder.suffix.lower() in MIDI_ENDINGS or folder.exists()):
        if len(takes) == 1:
            raise UserError(f"{output} is not a folder; leave out the slash at the end, or name a folder.")
        raise UserError(f"{len(takes)} takes do not go into one file; name a folder with -o FOLDER.")
    return [folder / f"{take.number} {_file_name(take.name)}.mid" for take in takes]


def _file_name(name: str) -> str:
    """A take's name as part of a file's, on any system."""
    plain = re.sub(r"[^\w .-]+", "-", name).strip(" .-")
    return plain[:60] or "take"


def _numbers(shelf: "Shelf", texts: list[str]) -> list[int]:
    """The takes meant, each once, before anything is done to any of them."""
    return list(dict.fromkeys(shelf.number_of(text) for text in texts))


def _import(shelf: "Shelf", args: argparse.Namespace) -> str:
    from loopdeck.cli.importing import take_to_import
    from loopdeck.shelf.store import checked_name

    name = None if args.name is None else checked_name(args.name)
    found = take_to_import(args.file, name, args.part)
    take: Take = found.take if args.pickup is None else takes_pickup.played_with(found.take, args.pickup)
    number = shelf.add(take)
    if args.json:
        part = {"part": found.part, "parts": found.of} if found.part else {}
        return json.dumps({"number": number, "name": take.name, "notes": len(take.notes()), **part})
    return f"Take {number}, {take.name!r}: {_count(len(take.notes()), 'note')}.{found.words}"


def _restore(shelf: "Shelf", args: argparse.Namespace) -> str:
    for text in args.takes:
        if not re.fullmatch("[0-9]+", text):
            raise UserError(
                f"A take comes back by its number; {text!r} is not one (loopdeck takes list --bin shows them)."
            )
    binned = {row["number"] for row in shelf.find(binned=True)}
    numbers = list(dict.fromkeys(map(int, args.takes)))
    # One that is not in the bin is said before any comes back.
    for number in sorted(numbers, key=lambda number: number in binned):
        shelf.restore(number)
    return f"{_takes_are(numbers)} on the shelf again."


def _remove(shelf: "Shelf", args: argparse.Namespace) -> str:
    numbers = [shelf.remove(number) for number in _numbers(shelf, args.takes)]
    them = "it" if len(numbers) == 1 else "them"
    return f"{_takes_are(numbers)} in the bin; loopdeck takes restore {' '.join(map(str, numbers))} gets {them} back."


def _takes_are(numbers: list[int]) -> str:
    if len(numbers) == 1:
        return f"Take {numbers[0]} is"
    return f"Takes {', '.join(map(str, numbers[:-1]))} and {numbers[-1]} are"


_ACTS = {
    "list": _list,
    "bin": _list,
    "show": _show,
    "rename": lambda shelf, args: f"Take {shelf.rename(args.take, args.name)} is called {args.name!r}.",
    "rate": lambda shelf, args: f"Take {shelf.rate(args.take, args.rating)} is rated {args.rating} of 5.",
    "tag": lambda shelf, args: f"Take {shelf.tag(args.take, args.words)} is tagged {' '.join(args.words)}.",
    "untag": lambda shelf, args: (
        f"Take {shelf.untag(args.take, args.words)} is not tagged {' '.join(args.words)} any more."
    ),
    "note": lambda shelf, args: f"Take {shelf.set_note(args.take, args.text)} has {'its' if args.text else 'no'} note.",
    "remove": _remove,
    "restore": _restore,
    "bring-back": takes_pickup.bring_back,
    "export": _export,
    "import": _import,
}


def _count(number: int, word: str, many: str | None = None) -> str:
    return f"{number} {word if number == 1 else many or word + 's'}"


def _stars(rating: int) -> str:
    return f"{rating} of 5" if rating else "-"


def _short(name: str) -> str:
    return name if len(name) <= _NAME_WIDTH else name[: _NAME_WIDTH - 3] + "..."


def _local(kept_at: str) -> str:
    from datetime import datetime

    try:
        return f"{datetime.fromisoformat(kept_at).astimezone():%Y-%m-%d %H:%M}"
    except (ValueError, OverflowError):
        return "?"
