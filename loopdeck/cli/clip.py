"""``loopdeck clip``: a riff as a moving picture with its sound, for a video lesson."""

import argparse
import os
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loopdeck.cli.clip_encode import RATE
from loopdeck.cli.take_arguments import add_output, add_shelf, complete_takes
from loopdeck.errors import UserError, to_install

if TYPE_CHECKING:
    from loopdeck.export.score import Score
    from loopdeck.shelf.material import Material
    from loopdeck.shelf.take import Take
    from loopdeck.window.clip_frame import ClipPainter

HELP = "a riff as a clip for a video lesson: lanes, tab, neck and count, moving in time with its sound"

ENDINGS = (".mp4", ".webm", ".gif")
GROUNDS = ("paper", "slate", "clear")
#: Longer than this is not a clip.
_MOST_SEC = 600.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add = parser.add_argument
    complete_takes(add("take", metavar="TAKE", help="a take's number or name, or a Standard MIDI File"))
    add_output(parser, "OUT.mp4|webm|gif", "the clip to write", required=True)
    add("--size", metavar="WxH", default="1280x720", help="pixels, both even (default: 1280x720)")
    add("--fps", type=int, default=30, metavar="N", help="frames a second, 10 to 60 (default: 30)")
    add("--tempo", metavar="TEMPO", help="at this tempo; default: as it was played")
    add(
        "--background",
        choices=GROUNDS,
        default="paper",
        help="clear: to lay over a picture (in .mp4 a green to key out)",
    )
    add("--show", metavar="LIST", default="lanes,tab,neck,count", help="some of lanes,tab,neck,count (default: all)")
    add("--no-click", action="store_true", help="without the click")
    add_shelf(parser)


def run(args: argparse.Namespace) -> int:
    """Make the clip; 0 when it is there."""
    from loopdeck.cli.guard import Kind, check_output, names_output
    from loopdeck.cli.play import changed
    from loopdeck.export.score import parts_of, usual_parts
    from loopdeck.shelf.excerpt import in_a_brief
    from loopdeck.shelf.source import open_take
    from loopdeck.synth.events import CLICK
    from loopdeck.window.clip_frame import ClipPainter

    check_output(args.output, args.take, args.shelf, Kind("a clip", ENDINGS))
    ending, size, shown = Path(args.output).suffix.lower(), _size(args.size), _shown(args.show)
    if not 10 <= args.fps <= 60:
        raise UserError(f"{args.fps} frames a second are out of range; 10 to 60 would be right.")
    _check_library()
    take = changed(in_a_brief(open_take(args.take, args.shelf)), args.tempo)
    notes = _notes(take)
    if take.recording.meters:
        raise UserError(f"{take.name} is too long for a cycle, or its tempo changes; make a clip of a riff of it.")
    parts = tuple(part for part in parts_of(take) if part in usual_parts(take) or (part == CLICK and not args.no_click))
    score = _score(take, parts)
    seconds = (score.end - score.first) / RATE
    if seconds > _MOST_SEC:
        raise UserError(f"A clip of {seconds:.0f} s is too long; {_MOST_SEC:.0f} s are the most.")
    qpm, keyed = float(take.tempo().points[0][2]), args.background == "clear" and ending == ".mp4"
    painter = ClipPainter(take.brief, notes, size, args.background, shown, qpm, take.name, keyed)
    frames = round(seconds * args.fps)
    with names_output(args.output):
        _write(args.output, take, score, painter, args.fps, frames)
    print(f"{args.output}: {frames / args.fps:.1f} s, {size[0]}x{size[1]}, {args.fps} frames a second.")
    if keyed:
        print("A .mp4 file has no alpha: what is clear is pure green (0, 255, 0), to be keyed out.")
    return 0


def _score(take: "Take", parts: tuple[str, ...]) -> "Score":
    """What is heard of its passes; an early downbeat of the first one begins with the clip."""
    from loopdeck.export.heard import on_the_beat, sound_events
    from loopdeck.export.score import Score, score_of_take

    score, room = on_the_beat(score_of_take(take, RATE, parts, from_bar=1, bars=_bars(take)), take, RATE)
    events = sound_events(score, take.said, room, whole=False)
    return Score(tuple(one._replace(sample=max(one.sample, 0)) for one in events), 0, score.end - score.first, parts)


def _size(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"([0-9]{2,5})x([0-9]{2,5})", text.strip().lower())
    if found is None:
        raise UserError(f"{text[:40]!r} is not a size; write one like 1280x720.")
    width, height = int(found[1]), int(found[2])
    if not (320 <= width <= 3840 and 180 <= height <= 2160) or width % 2 or height % 2:
        raise UserError(f"A size of {text} cannot be made; 320x180 to 3840x2160, both even, would be right.")
    return width, height


def _shown(text: str) -> tuple[str, ...]:
    from loopdeck.window.clip_frame import SHOWN

    words = tuple(word.strip().lower() for word in text.split(",") if word.strip())
    wrong = [word for word in words if word not in SHOWN]
    if wrong or not words:
        raise UserError(f"{(wrong or [text])[0][:40]!r} cannot be shown; there are {', '.join(SHOWN)}.")
    return words


def _check_library() -> None:
    try:
        import av  # noqa: F401
    except ImportError:
        raise UserError(f"Clips need the library PyAV; install it with: {to_install('clip')}.") from None


def _bars(take: "Take") -> int:
    return max(take.recording.passes, 1) * len(take.brief.cycle.meters)


def _notes(take: "Take") -> list[Any]:
    """The notes with their places on the neck; a layer in every pass, as it sounds."""
    from loopdeck.bass.fingering import finger
    from loopdeck.shelf.looping import seen
    from loopdeck.shelf.material import material_of
    from loopdeck.window.clip_play import ClipNote

    material = seen(material_of(take))
    shown = [row for row, pitched in enumerate(material.pitched.tolist()) if pitched]
    if not shown:
        raise UserError(f"{take.said} has no notes to show.")
    strings = finger(material.notes.array[shown], take.brief.tuning).string.tolist()
    cycle_q = float(take.brief.cycle.quarters)
    notes = []
    for row, string in zip(shown, strings, strict=True):
        place = float(material.onset_q[row])
        rest = (
            float(material.duration_q[row]),
            int(material.notes.array["pitch"][row]),
            int(material.notes.array["velocity"][row]),
            string,
            _bend(material, row),
        )
        # A layer sounds in every pass from its own on.
        again = max(take.recording.passes, 1) if material.source[row] else 0
        places = {
            place,
            *(place + turn * cycle_q for turn in range(1, again) if place + turn * cycle_q < again * cycle_q),
        }
        notes += [ClipNote(one, *rest) for one in sorted(places)]
    return notes


def _bend(material: "Material", row: int) -> tuple[tuple[float, float], ...]:
    """How the pitch of a note moves, in quarters; () for one that stays."""
    curve = material.notes.bends[row]
    if len(curve) < 2:
        return ()
    onset_sec = float(material.notes.array["onset_sec"][row])
    after_q = material.tempo.quarters(onset_sec + curve[:, 0]) - material.onset_q[row]
    return tuple(zip(after_q.tolist(), curve[:, 1].tolist(), strict=True))


# ---- encoding ------------------------------------------------------------------------------------


def _write(path: str, take: "Take", score: "Score", painter: "ClipPainter", fps: int, frames: int) -> None:
    """Encode into a file beside it, and put that in place: whole or not at all."""
    import time

    from loopdeck.cli.progress_bar import Bar

    target = Path(os.path.realpath(path))
    if not target.parent.is_dir():
        raise UserError(f"There is no folder {target.parent} to write the clip into.")
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=target.suffix, dir=target.parent)
    os.close(handle)
    bar = Bar(frames, time.perf_counter())
    try:
        _encode(name, take, score, painter, fps, frames, bar)
        os.chmod(name, 0o644)
        os.replace(name, target)
    finally:
        bar.close()
        Path(name).unlink(missing_ok=True)


def _encode(name: str, take: "Take", score: "Score", painter: "ClipPainter", fps: int, frames: int, bar: Any) -> None:
    from loopdeck.cli.clip_encode import ClipEncoder
    from loopdeck.export.render import render
    from loopdeck.export.score import mix_of_take
    from loopdeck.window.clip_planes import Planes

    ending, tempo = Path(name).suffix.lower(), take.tempo()
    alpha = painter.clear and not painter.keyed
    planes = Planes(painter.size, alpha)
    blocks: Iterator[Any] = iter(()) if ending == ".gif" else iter(render(score, mix_of_take(take), 0))
    heard = 0
    with ClipEncoder(name, ending, painter.size, fps, alpha) as out:
        for index in range(frames):
            # Each frame shows the moment it begins at.
            at_q = float(tempo.quarters(index / fps))
            if ending == ".gif":
                out.picture(painter.pixels(at_q))
            else:
                painter.planes(at_q, planes)
                out.planes(planes.all())
            while heard < (index + 1) * RATE // fps and (block := next(blocks, None)) is not None:
                out.sound(block)
                heard += len(block)
            bar.show(index + 1)
        for block in blocks:
            out.sound(block)
