"""``loopdeck demo``: the whole job, performed by a built-in player through the same path as live
playing.
"""

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from loopdeck.cli.take_arguments import add_output
from loopdeck.errors import UserError

if TYPE_CHECKING:
    from loopdeck.brief.brief import Brief
    from loopdeck.shelf.take import Take
    from loopdeck.window.view import View

HELP = "the whole job, performed by a built-in player"
BRIEF = "crooked-stairs"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The demo's options."""
    parser.add_argument("--fast", action="store_true", help="on a simulated clock, in seconds, without a window")
    add_output(parser, "DIR", "where its files go (default: loopdeck-demo)")
    parser.add_argument(
        "--shelf", type=Path, metavar="FILE", help="the shelf that keeps the take (default: one in DIR)"
    )


def run(args: argparse.Namespace) -> int:
    """Perform, keep, check, export, and say what came of it."""
    from loopdeck.brief.brief import load_brief
    from loopdeck.configs import find

    out = Path(args.output or "loopdeck-demo")
    if out.exists() and not out.is_dir():
        raise UserError(f"{out} is not a folder; --out names one for the demo's files.")
    out.mkdir(parents=True, exist_ok=True)
    shelf_path = args.shelf or out / "shelf.sqlite"
    brief = load_brief(find("briefs", BRIEF))
    if args.fast or not _screen():
        if not args.fast:
            print("There is no screen here, so the demo runs on a simulated clock.")
        number, pictures = _simulated(brief, out, shelf_path)
    else:
        number, pictures = _live(brief, out, shelf_path)
    return _tell(number, brief, out, shelf_path, pictures)


def _screen() -> bool:
    """Whether a window can be opened."""
    if sys.platform.startswith("linux") and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        return False
    if os.environ.get("SDL_VIDEODRIVER") in ("dummy", "offscreen"):
        return False
    from loopdeck import pygame_lean  # noqa: F401 - before pygame

    import pygame  # isort: skip

    try:
        pygame.display.init()
    except pygame.error:
        return False
    pygame.display.quit()
    return True


def _simulated(brief: "Brief", out: Path, shelf_path: Path) -> tuple[int, list[Path]]:
    """The performance on a simulated clock: the number of the kept take, and the pictures."""
    from loopdeck.engine.simulation import simulate
    from loopdeck.window.view import View

    view = View()
    pictures: list[Path] = []

    def look(name: str, now_sec: float) -> None:
        pictures.append(_picture(view, now_sec, out / f"{name}.png"))

    number = simulate(brief, out / "session.journal", shelf_path, view.receive, look)
    return number, pictures


def _live(brief: "Brief", out: Path, shelf_path: Path) -> tuple[int, list[Path]]:
    """The performance in real time, with the engine and the window: the number of the kept take,
    and the pictures.
    """
    from loopdeck.cli.jam import play
    from loopdeck.engine.simulation import look_back
    from loopdeck.midi.systems import find_system
    from loopdeck.process.children import python_command
    from loopdeck.process.options import MidiOptions, Options, SoundOptions
    from loopdeck.protocol.address import new_address
    from loopdeck.shelf.store import Shelf
    from loopdeck.window.view import View

    journal = out / "session.journal"
    journal.unlink(missing_ok=True)
    system = find_system("auto")
    print("The built-in player plays for about a minute; F12 (twice) leaves earlier.", flush=True)
    code = play(
        Options(
            address=new_address(),
            journal=str(journal.resolve()),
            shelf=str(shelf_path.resolve()),
            brief=brief.to_dict(),
            midi=MidiOptions(
                api=system.name.lower() if system is not None else "",
                outs=("virtual",) if system is not None and system.virtual else (),
            ),
            sound=SoundOptions(way="auto", route_rest="both"),
            recover="leave",
            front=python_command("loopdeck", "jam", "--rejoin"),
            perform=True,
        )
    )
    view = View()
    pictures: list[Path] = []
    look_back(journal, view.receive, lambda name, sec: pictures.append(_picture(view, sec, out / f"{name}.png")))
    with Shelf(shelf_path) as shelf:
        kept = shelf.find(text="quay steps")
    if code or not kept:
        raise UserError(
            "The demo was left before anything was kept; loopdeck demo --fast does all of it in a second or two."
        )
    return int(kept[0]["number"]), pictures


def _picture(view: "View", now_sec: float, path: Path) -> Path:
    from loopdeck.window.picture import save_picture

    save_picture(path, view, now_sec)
    return path


def _tell(number: int, brief: "Brief", out: Path, shelf_path: Path, pictures: list[Path]) -> int:
    from loopdeck.analysis.scale_finder import rank
    from loopdeck.analysis.scale_report import judge
    from loopdeck.export.piece import piece_of_take
    from loopdeck.export.smf import write_smf
    from loopdeck.shelf.material import material_of
    from loopdeck.shelf.playing import pitched_playing
    from loopdeck.shelf.store import Shelf

    with Shelf(shelf_path) as shelf:
        take = shelf.get(number)
    smf = out / "quay-steps.mid"
    write_smf(smf, piece_of_take(take, straight=False))
    print(f"Kept take {take.number}, {take.name!r}: {_size(take)}.")
    notes = take.notes().array
    if brief.scale is not None and len(notes):
        outside = notes[~judge(notes["pitch"], brief.scale).in_scale]
        names = sorted(
            {f"{brief.scale.spell(pitch)} ({brief.scale.degree(pitch)})" for pitch in outside["pitch"].tolist()}
        )
        if names:
            print(f"Outside {brief.scale}: {len(outside)} of {len(notes)} notes, {', '.join(names)}.")
        else:
            print(f"All {len(notes)} notes are in {brief.scale}.")
        print(f"The scale that explains it best: {rank(pitched_playing(material_of(take))[0], 1)[0].scale}.")
    print(f"Standard MIDI File: {smf}")
    for picture in pictures:
        print(f"Picture of the screen: {picture}")
    print(f"Journal: {out / 'session.journal'}   Shelf: {shelf_path}")
    return 0


def _size(take: "Take") -> str:
    layers = len(take.recording.layers)
    return f"{take.recording.passes} passes of {take.brief.cycle} at {take.brief.tempo}, {layers} layer{'' if layers == 1 else 's'}"
