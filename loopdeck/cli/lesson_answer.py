"""What a pupil played, with how near it is to the lesson, as one ZIP file."""

import argparse
import json
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loopdeck.errors import UserError
from loopdeck.practice.progress import readable_runs

if TYPE_CHECKING:
    from loopdeck.shelf.material import Material

FILES = ("answer.mid", "answer.wav", "comparison.json", "comparison.txt", "practice.json")


def answer(args: argparse.Namespace) -> int:
    """Compare, write, report."""
    from loopdeck.analysis.comparison.comparing import compare
    from loopdeck.cli.compare import found_of, readable
    from loopdeck.cli.guard import names_output
    from loopdeck.cli.lesson import lesson_riff, write_wav_of, zip_files
    from loopdeck.export.piece import piece_of_take
    from loopdeck.export.score import usual_parts
    from loopdeck.export.smf import write_smf
    from loopdeck.shelf.looping import seen
    from loopdeck.shelf.material import material_of
    from loopdeck.shelf.source import open_take

    if len(args.takes) != 1:
        raise UserError("An answer is compared with one lesson; name one.")
    wanted = material_of(lesson_riff(args.takes[0], args.shelf))
    take = open_take(args.answer, args.shelf)
    with names_output(args.output), tempfile.TemporaryDirectory(prefix="loopdeck-answer-") as scratch:
        folder = Path(scratch)
        played = seen(material_of(take))
        if not len(played):
            raise UserError(f"{played.take.said} has no notes, so there is nothing to hand back.")
        rows = [(one.notes.array["onset_sec"], one.notes.array["pitch"]) for one in (played, wanted)]
        made = compare(*rows[0], *rows[1])
        found: dict[str, Any] = found_of(made, played, wanted)
        words = readable(found, made, played, wanted)
        write_smf(folder / "answer.mid", piece_of_take(take))
        write_wav_of(folder / "answer.wav", take, usual_parts(take))
        (folder / "comparison.json").write_text(json.dumps(found), encoding="utf-8")
        (folder / "comparison.txt").write_text(words + "\n", encoding="utf-8")
        (folder / "practice.json").write_text(json.dumps({"runs": _practised(args, wanted)}), encoding="utf-8")
        zip_files(Path(args.output), {name: (folder / name).read_bytes for name in FILES})
    if args.json:
        print(json.dumps({"output": args.output, "files": list(FILES), "comparison": found}))
    else:
        print(f"{words}\n{args.output}: {', '.join(FILES)}.")
    return 0


def _practised(args: argparse.Namespace, wanted: "Material") -> list[dict[str, Any]]:
    """How the pupil practised the riff, run by run; a lesson's riff is known by its notes."""
    from loopdeck.cli.practise import shelf_path
    from loopdeck.practice.progress import read_progress
    from loopdeck.practice.target import target_of

    return read_progress(shelf_path(args), target_of(wanted).mark).runs


def read(args: argparse.Namespace) -> int:
    """Show what a pupil handed back: an answer's comparison, and how it was practised."""
    from loopdeck.cli.practise_progress import table_of
    from loopdeck.cli.report import plain
    from loopdeck.shelf.packed import read_member

    if len(args.takes) != 1 or args.answer is not None:
        raise UserError("--read shows one answer; name its ZIP file alone.")
    path = Path(args.takes[0])
    parts = {name: read_member(path, name) for name in ("comparison.txt", "comparison.json", "practice.json")}
    missing = [name for name in ("comparison.txt", "comparison.json") if parts[name] is None]
    if missing:
        raise UserError(f"{path} is not an answer: it has no {missing[0]}.")
    try:
        words = (parts["comparison.txt"] or b"").decode()
        found = json.loads(parts["comparison.json"] or b"")
        json.dumps(found, allow_nan=False)
        if not isinstance(found, dict):
            raise TypeError
        runs = readable_runs(json.loads(parts["practice.json"])["runs"] if parts["practice.json"] else [])
    except (ValueError, TypeError, KeyError, RecursionError):
        raise UserError(f"{path} cannot be read as an answer: it is damaged.") from None
    if args.json:
        print(json.dumps({"comparison": found, "practice": runs}))
        return 0
    print("\n".join(plain(line) for line in words.splitlines()))
    if runs:
        print(f"\nHow it was practised:\n{table_of(runs)}")
    return 0
