"""What a pupil played, with how near it is to the lesson, as one ZIP file."""

import argparse
import json
import tempfile
from pathlib import Path
from typing import Any

from loopdeck.errors import UserError

FILES = ("answer.mid", "answer.wav", "comparison.json", "comparison.txt")


def answer(args: argparse.Namespace) -> int:
    """Compare, write, report."""
    from loopdeck.analysis.comparison.comparing import compare
    from loopdeck.cli.compare import found_of, readable
    from loopdeck.cli.lesson import lesson_riff, write_wav_of, zip_files
    from loopdeck.export.piece import piece_of_take
    from loopdeck.export.score import usual_parts
    from loopdeck.export.smf import write_smf
    from loopdeck.shelf.material import material_of
    from loopdeck.shelf.source import open_take

    if len(args.takes) != 1:
        raise UserError("An answer is held against one lesson; name one.")
    with tempfile.TemporaryDirectory(prefix="loopdeck-answer-") as scratch:
        folder = Path(scratch)
        wanted = material_of(lesson_riff(args.takes[0], args.shelf, folder))
        take = open_take(args.answer, args.shelf)
        played = material_of(take)
        if not len(played):
            raise UserError(f"{played.title} has no notes, so there is nothing to hand back.")
        rows = [(one.notes.array["onset_sec"], one.notes.array["pitch"]) for one in (played, wanted)]
        made = compare(*rows[0], *rows[1])
        found: dict[str, Any] = found_of(made, played, wanted)
        words = readable(found, made, played, wanted)
        write_smf(folder / "answer.mid", piece_of_take(take))
        write_wav_of(folder / "answer.wav", take, usual_parts(take))
        (folder / "comparison.json").write_text(json.dumps(found), encoding="utf-8")
        (folder / "comparison.txt").write_text(words + "\n", encoding="utf-8")
        zip_files(Path(args.output), {name: (folder / name).read_bytes for name in FILES})
    if args.json:
        print(json.dumps({"output": args.output, "files": list(FILES), "comparison": found}))
    else:
        print(f"{words}\n{args.output}: {', '.join(FILES)}.")
    return 0
