"""``loopdeck lesson``: a riff to hand out (page, sounds, MIDI file, brief); and what a pupil
played, with the comparison, as one file.
"""

import argparse
import os
import re
import sys
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from loopdeck.cli.take_arguments import add_json, add_output, add_shelf, complete_takes
from loopdeck.errors import UserError

if TYPE_CHECKING:
    from loopdeck.cli.lesson_sounds import LessonSound
    from loopdeck.export.piece import Piece
    from loopdeck.shelf.take import Take

HELP = "riffs to hand out: page, sounds, MIDI file, brief; and a pupil's answer with the comparison"

FILES = ("page.pdf", "full.wav", "practice.wav", "backing.wav", "riff.mid", "brief.toml")
#: The practice tempo where none is named, as a share of the full one. Our own choice.
_SLOWER = 0.6


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add = parser.add_argument
    complete_takes(
        add("takes", metavar="TAKE", nargs="+", help="takes, or with --answer the lesson (folder, ZIP or take)")
    )
    add_output(parser, "DIR|OUT.zip", "the folder or ZIP file to make")
    add("--words", metavar="TEXT", help="the teacher's words on the page (default: the take's note)")
    add("--practice-tempo", metavar="TEMPO", help="such as 60 (default: six tenths of the full tempo)")
    add("--answer", metavar="TAKE", help="what the pupil played: one ZIP file with it and how near it is to the lesson")
    add("--read", action="store_true", help="what a pupil handed back: how near it is, and how it was practised")
    add_json(parser)
    add_shelf(parser)


def run(args: argparse.Namespace) -> int:
    """Make the lesson, or the answer to one; whole or not at all."""
    if args.read:
        from loopdeck.cli.lesson_answer import read

        return read(args)
    if args.output is None:
        raise UserError("There is nothing named to make; name a folder or a ZIP file with -o.")
    out = Path(args.output)
    if out.suffix.lower() != ".zip" and args.answer is not None:
        raise UserError(f"{args.output}: an answer is one ZIP file; let its name end in .zip.")
    _check_free(out, args)
    if args.answer is not None:
        from loopdeck.cli.lesson_answer import answer

        return answer(args)
    from loopdeck.cli.guard import names_output
    from loopdeck.shelf.source import open_take

    takes = [open_take(one, args.shelf) for one in args.takes]
    told = [(take, args.words if args.words is not None else take.note) for take in takes]
    with names_output(out), tempfile.TemporaryDirectory(prefix=".loopdeck-lesson-", dir=_parent(out)) as scratch:
        made = Path(scratch) / "lesson"
        made.mkdir()
        says = _fill(made, Path(scratch), told, args.practice_tempo)
        files = sorted(path.relative_to(made).as_posix() for path in made.rglob("*") if path.is_file())
        _put(made, out)
    if args.json:
        import json

        print(json.dumps({"output": str(out), "files": files, "says": says}))
    else:
        print("\n".join([f"{out}: {_listed(files)}.", *says]))
    return 0


def _listed(files: list[str]) -> str:
    """The files in words: those of all riffs, then the folders that have the same for each."""
    folders = sorted({name.split("/")[0] for name in files if "/" in name})
    own = ", ".join(name for name in files if "/" not in name)
    return f"{own}; for each riff the same in {', '.join(folders)}" if folders else own


def _check_free(out: Path, args: argparse.Namespace) -> None:
    """Nothing that is there is written over, but an empty folder and a ZIP file."""
    from loopdeck.cli.guard import Kind, check_output

    if out.suffix.lower() == ".zip":
        for take in (*args.takes, *([args.answer] if args.answer else [])):
            check_output(out, take, args.shelf, Kind("a ZIP file", (".zip",)))
    elif out.exists() and (not out.is_dir() or any(out.iterdir())):
        raise UserError(f"{out} is there already; name a folder that is new or empty, or a ZIP file.")
    if not _parent(out).is_dir():
        raise UserError(f"There is no folder {_parent(out)} to put the lesson into.")


def _parent(out: Path) -> Path:
    return out.absolute().parent


def _plain(name: str) -> str:
    """A name as a part of a path."""
    return re.sub(r"[^\w-]+", "-", name).strip("-")[:60] or "riff"


def _fill(made: Path, scratch: Path, takes: "list[tuple[Take, str]]", slow: str | None) -> list[str]:
    """Write all files; returns what there is to say.

    One take fills the folder itself. Several have a folder each, and above these the same six files
    with all of them one after the other (the brief is that of the first).
    """
    from loopdeck.cli.lesson_page import page_pdf
    from loopdeck.cli.lesson_sounds import write_sounds
    from loopdeck.export.joined import joined
    from loopdeck.export.smf import write_smf

    folders = (
        [made] if len(takes) == 1 else [made / f"{n:02}-{_plain(take.name)}" for n, (take, _) in enumerate(takes, 1)]
    )
    says: list[str] = []
    filled = []
    for folder, (take, words) in zip(folders, takes, strict=True):
        folder.mkdir(exist_ok=True)
        filled.append(_fill_one(folder, take, words, slow))
        says += filled[-1].says
    sounds = [(folder, one.sounds) for folder, one in zip(folders, filled, strict=True)]
    if len(takes) == 1:
        write_sounds(sounds, scratch)
        return says
    write_sounds(sounds, scratch, made)
    pdf, _ = page_pdf([(one.riff, words) for one, (_, words) in zip(filled, takes, strict=True)])
    (made / "page.pdf").write_bytes(pdf)
    write_smf(made / "riff.mid", joined([one.piece for one in filled], made.name))
    (made / "brief.toml").write_bytes((folders[0] / "brief.toml").read_bytes())
    return list(dict.fromkeys(says))


class _Filled(NamedTuple):
    riff: "Take"
    piece: "Piece"
    sounds: "list[LessonSound]"
    says: list[str]


def _fill_one(folder: Path, take: "Take", words: str, slow: str | None) -> _Filled:
    """Write page, MIDI file and brief of a riff; its sounds are told, to be made as loud as those
    of the others.
    """
    from loopdeck.brief.brief import brief_to_toml
    from loopdeck.cli.lesson_page import page_pdf
    from loopdeck.cli.lesson_sounds import LessonSound
    from loopdeck.export.piece import piece_of_take
    from loopdeck.export.score import parts_of, usual_parts
    from loopdeck.export.smf import write_smf
    from loopdeck.practice.backing import backing_of
    from loopdeck.practice.changed import at_tempo
    from loopdeck.rhythm.tempo import parse_tempo
    from loopdeck.shelf.excerpt import in_a_brief
    from loopdeck.synth.events import CLICK

    own = take.brief.tempo.quarters_per_minute
    qpm = parse_tempo(slow).quarters_per_minute if slow is not None else max(20.0, float(round(own * _SLOWER)))
    riff = in_a_brief(take)
    backing = backing_of(riff)
    slower = at_tempo(riff, qpm)
    pdf, said = page_pdf([(riff, words)])
    (folder / "page.pdf").write_bytes(pdf)
    piece = piece_of_take(riff)
    write_smf(folder / "riff.mid", piece)
    brief = riff.brief.replace(name=riff.name) if riff.brief.name in ("untitled", "imported") else riff.brief
    (folder / "brief.toml").write_text(brief_to_toml(brief), encoding="utf-8")
    says = [said] if said else []
    if riff.recording.meters:
        says.append("The backing has no groove: the file is too long for a cycle, or its tempo changes.")
    sounds = [
        LessonSound("full.wav", riff, usual_parts(riff)),
        LessonSound("practice.wav", slower, (*usual_parts(slower), CLICK)),
        LessonSound("backing.wav", backing, parts_of(backing)),
    ]
    return _Filled(riff, piece, sounds, says)


def write_wav_of(path: Path, take: "Take", parts: tuple[str, ...]) -> None:
    from loopdeck.export.lanes import RATE
    from loopdeck.export.render import render
    from loopdeck.export.score import mix_of_take, score_of_take
    from loopdeck.synth.wav import WavWriter

    score = score_of_take(take, RATE, parts)
    with WavWriter(path, RATE, 16) as writer:
        for block in render(score, mix_of_take(take), RATE):
            writer.write(block)


def _put(made: Path, out: Path) -> None:
    """The finished folder in its place, or packed."""
    if out.suffix.lower() != ".zip":
        if out.exists():
            out.rmdir()
        os.chmod(made, 0o755)
        os.rename(made, out)
        return
    zip_files(
        out, {path.relative_to(made).as_posix(): path.read_bytes for path in sorted(made.rglob("*")) if path.is_file()}
    )


def zip_files(out: Path, files: dict[str, Callable[[], bytes]]) -> None:
    """A ZIP file of these, whole or not at all. The same files give the same bytes."""
    from loopdeck.atomic import whole_file

    with whole_file(out) as target, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, read in files.items():
            archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), read(), zipfile.ZIP_DEFLATED)


def lesson_riff(text: str, shelf: str | None) -> "Take":
    """The riff of a lesson (its folder or ZIP file), in the brief that lies beside it; or a take.
    A lesson without its brief is told. Raises UserError.
    """
    from loopdeck.shelf.packed import BRIEF, inside_zip, packed_take, read_member
    from loopdeck.shelf.source import open_take

    path = Path(text)
    if not path.is_dir() and path.suffix.lower() != ".zip" and inside_zip(path) is None:
        return open_take(text, shelf)
    take = packed_take(path)
    if read_member(path, BRIEF) is None:
        print(f"loopdeck: {path} has no {BRIEF}, so its notes have no degrees.", file=sys.stderr, flush=True)
    return take
