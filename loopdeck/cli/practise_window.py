"""Practising in the window: a session in the brief of the take, which begins with the run."""

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loopdeck.practice.practising import Plan
    from loopdeck.practice.target import Target
    from loopdeck.shelf.take import Take


def window_can_open() -> bool:
    """Whether there is a screen, and it answers."""
    from loopdeck.cli.jam import screen

    if not screen():
        return False
    from loopdeck.window.window import screen_answers

    return screen_answers()


def in_a_window(args: argparse.Namespace, take: "Take", target: "Target", plan: "Plan") -> int:
    """Open the window, and say at the end what came of the runs; returns the exit code."""
    from loopdeck.cli import jam
    from loopdeck.cli.practise import shelf_path, tell_run
    from loopdeck.practice.progress import read_progress
    from loopdeck.shelf.excerpt import in_a_brief
    from loopdeck.window.target.asked import asked_values

    parser = argparse.ArgumentParser()
    jam.add_arguments(parser)
    session = parser.parse_args([])
    session.ins = [args.into] if args.into else None
    session.outs = [args.out] if args.out else None
    session.pickup, session.shelf, session.theme = args.pickup, shelf_path(args), args.theme
    session.sound, session.sound_device = "off" if args.no_sound else "auto", args.sound_device
    options = jam.options_of(session)
    # The run sets cycle and tempo; what the notes are called and where they lie is the take's.
    brief = in_a_brief(take).brief.replace(
        cycle=str(target.cycle), tempo=f"{plan.from_qpm:.6g}", count_in=1, ramp="off"
    )
    number = take.number if take.number is not None else None
    look = {**options.look, "practise": asked_values(target, plan, number, args.most)}
    before = len(read_progress(shelf_path(args)).runs)
    code = jam.play(replace(options, brief=brief.to_dict(), look=look))
    runs = read_progress(shelf_path(args)).runs
    if len(runs) > before:
        tell_run(args, {name: value for name, value in runs[-1].items() if name not in ("version", "at")})
    elif args.json:
        print("null")
    else:
        print("Nothing was played, so nothing was put on record.")
    return code
