"""``loopdeck render``: a take to a WAV file, as it was heard, or chosen parts of it."""

import argparse
import os
import time
from pathlib import Path
from typing import Any

from loopdeck.cli.progress_bar import Bar
from loopdeck.cli.take_arguments import add_output, add_shelf

HELP = "a take to a WAV file, as it was heard"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add = parser.add_argument
    add("take", metavar="TAKE", help="a take's number or name, or a Standard MIDI File")
    add_output(parser, "OUT.wav", "the WAV file to write", required=True)
    add("--bits", type=int, choices=(16, 24), default=16, help="bits a sample (default: 16)")
    add(
        "--parts", metavar="LIST", help="such as playing,layer1,click; also layers and groove (default: what was heard)"
    )
    add("--click", action="store_true", help="with the click")
    add("--straight", action="store_true", help="at the written places instead of as it was played")
    add("--from-bar", type=int, default=1, metavar="N", help="begin at this bar, counted from 1")
    add("--bars", type=int, metavar="N", help="N bars (default: to the end)")
    add("--tail", type=float, default=1.0, metavar="SEC", help="let it ring on (default: 1; 0 for a file to repeat)")
    add(
        "--level",
        action="append",
        default=[],
        metavar="[PART=]DB",
        help="level in dB, -60 to 12, of the whole (default: 0) or of a part (default: as it was set); may be repeated",
    )
    add("--flat", action="store_true", help="every part at 0 dB, however loud it was set")
    add_shelf(parser)


def run(args: argparse.Namespace) -> int:
    """Render; 0 when the file is there."""
    from loopdeck.cli.guard import WAV_FILE, check_output
    from loopdeck.errors import UserError
    from loopdeck.export.lanes import RATE
    from loopdeck.export.render import render
    from loopdeck.export.score import GROOVE, mix_of_take, parse_parts, parts_of, score_of_take, usual_parts
    from loopdeck.shelf.source import open_take
    from loopdeck.synth.events import CLICK
    from loopdeck.synth.wav import MOST_BYTES

    if not 0.0 <= args.tail <= 60.0:
        raise UserError(f"A tail of {args.tail:g} seconds cannot be rendered; 0 to 60 would be right.")
    check_output(args.output, args.take, args.shelf, WAV_FILE)
    take = open_take(args.take, args.shelf)
    parts = usual_parts(take) if args.parts is None else parse_parts(args.parts, take)
    if args.click:
        parts = tuple(part for part in parts_of(take) if part in parts or part == CLICK)
    if not {CLICK, GROOVE}.intersection(parts) and not (len(take.notes()) or any(map(len, take.recording.layers))):
        raise UserError(f"{take.said} has no notes to hear, so {args.output} was not made.")
    score = score_of_take(take, RATE, parts, args.straight, args.from_bar, args.bars)
    tail = round(args.tail * RATE)
    levels = {**({} if args.flat else mix_of_take(take)), **_levels(args.level, parts)}
    frames = score.end - score.first + tail
    if frames * 2 * args.bits // 8 > MOST_BYTES:
        raise UserError(f"{args.output} would grow beyond 4 GiB, the most a WAV file can hold; take fewer --bars.")
    took = _write(Path(args.output), render(score, levels, tail), frames, args.bits, RATE)
    lasts = frames / RATE
    print(
        f"{args.output}: {lasts:.1f} s of {', '.join(parts)}, {args.bits} bit, rendered at {lasts / took:.0f} "
        "times real time."
    )
    return 0


def _levels(texts: list[str], parts: tuple[str, ...]) -> dict[str, float]:
    """``-6`` for the whole, ``layer1=-6`` for a part. Raises UserError."""
    from loopdeck.errors import UserError
    from loopdeck.export.score import mixer_name
    from loopdeck.synth.events import HIGHEST, LOWEST, MASTER

    found: dict[str, float] = {}
    for text in texts:
        name, _, number = text.rpartition("=")
        name = name.strip().lower() or MASTER
        try:
            level = float(number)
        except ValueError:
            level = float("nan")
        if not LOWEST <= level <= HIGHEST:
            raise UserError(
                f"{text[:40]!r} is not a level; write one like -6 or layer1=-6, from {LOWEST:g} to {HIGHEST:g} dB."
            )
        if name == "layers":
            found |= {mixer_name(part): level for part in parts if part.startswith("layer")}
            continue
        if name != MASTER and name not in parts:
            raise UserError(
                f"There is no part {name[:40]!r} to set a level of; there are {', '.join((MASTER, *parts))}, "
                "and layers."
            )
        found[mixer_name(name)] = level
    return found


def _write(path: Path, blocks: Any, frames: int, bits: int, rate: int) -> float:
    """Write the blocks, with a bar if it takes long; returns the seconds it took. Raises OSError,
    and leaves nothing behind then.
    """
    from loopdeck.synth.wav import WavWriter

    if path.exists() and not path.is_file():
        raise OSError(21, "Not a file that could be written to", str(path))
    began = time.perf_counter()
    try:
        # A link stays one: what it leads to is written.
        with WavWriter(os.path.realpath(path), rate, bits) as writer, Bar(frames, began) as bar:
            for block in blocks:
                writer.write(block)
                bar.show(writer.frames)
    except OSError as error:
        raise type(error)(error.errno, error.strerror, str(path)) from error
    return max(time.perf_counter() - began, 1e-9)
