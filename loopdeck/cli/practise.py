"""``loopdeck practise``: a take as a target, judged pass by pass, with a tempo that follows; and
what came of it over days.
"""

import argparse
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loopdeck.cli.sounds import add_sound_device
from loopdeck.cli.take_arguments import add_json, add_shelf, complete_names, complete_takes, with_names
from loopdeck.errors import UserError

if TYPE_CHECKING:
    from collections.abc import Callable

    from loopdeck.practice.practising import Judged, Plan, PracticeRun
    from loopdeck.practice.target import Target
    from loopdeck.shelf.take import Take

HELP = "practise a take: passes judged, the tempo rises when they are clean; and progress over days"

#: The first tempo where none is named, as a share of the last. Our own choice.
_SLOWER = 0.6


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add = parser.add_argument
    complete_takes(
        add("take", metavar="TAKE", nargs="?", help="a take's number or name, a MIDI file, or a lesson (folder or ZIP)")
    )
    add("--from-tempo", metavar="TEMPO", help="begin at this tempo (default: six tenths of the last)")
    add("--to-tempo", metavar="TEMPO", help="up to this tempo (default: the take's own)")
    add("--step", type=float, default=4.0, metavar="N", help="quarters a minute up or down at a time (default: 4)")
    add("--passes", type=int, default=2, metavar="N", help="N clean passes in a row raise the tempo (default: 2)")
    add("--within", type=float, default=50.0, metavar="MS", help="how far off a note may be, 10 to 50 ms (default: 50)")
    add("--from", dest="first", type=int, default=1, metavar="BAR", help="begin at this bar, counted from 1")
    add("--to", dest="last", type=int, metavar="BAR", help="end with this bar (default: the last with a note)")
    add("--played", action="store_true", help="only what was played; default: the playing and the layers")
    add("--layers", action="store_true", help="only the layers, each once")
    add("--call", action="store_true", help="call and answer: the riff sounds, then it is your turn")
    add("--most", type=int, default=0, metavar="N", help="end after N passes")
    add("--in", dest="into", metavar="PORT", help="MIDI input; virtual opens one (default: the first device)")
    add("--out", metavar="PORT", help="also to this MIDI output; virtual opens one")
    add("--no-sound", action="store_true", help="without the built-in sound")
    add_sound_device(parser)
    add(
        "--late",
        type=float,
        metavar="MS",
        help="what your input is late by (default: what loopdeck measure found for it, or the pickup's profile)",
    )
    profile = with_names("hear the input through a pickup profile: low notes are judged earlier", "pickups")
    complete_names(add("--pickup", metavar="PICKUP", help=profile), "pickups")
    add("--technique", action="store_true", help="a pass is clean only when slides, hammer-ons and so on are there too")
    add("--headless", action="store_true", help="no window: the click and the judgement alone")
    add("--theme", choices=("paper", "slate"), default="paper", help="of the window: ink on paper, or chalk on slate")
    add("--progress", action="store_true", help="what was practised so far (with TAKE: only that one)")
    add("--picture", metavar="OUT.png|.svg", help="with --progress: draw it into this file")
    add_json(parser)
    add_shelf(parser)


def run(args: argparse.Namespace) -> int:
    """Practise, or report."""
    if args.progress:
        from loopdeck.cli.practise_progress import report

        return report(args, _read(args)[1] if args.take is not None else None)
    if args.take is None:
        raise UserError("There is nothing named to practise; name a take or a MIDI file, or ask for --progress.")
    if args.picture is not None:
        raise UserError("--picture draws what was practised so far; it goes with --progress.")
    if args.late is not None and not -500 <= args.late <= 500:
        raise UserError(f"{args.late:g} ms late is out of range; -500 to 500 would be right.")
    from loopdeck.practice.practising import PracticeRun

    take, target = _read(args)
    plan = _plan(args, target)
    if not args.headless:
        from loopdeck.cli.practise_window import in_a_window, window_can_open

        if window_can_open():
            return in_a_window(args, take, target, plan)
        note("There is no screen, so this goes on without a window, as with --headless.")
    practice = PracticeRun(target, plan)
    try:
        _practise(args, practice)
    except KeyboardInterrupt:
        # How one stops: what was played counts.
        print(file=sys.stderr)
    finally:
        if any(one.played for one in practice.judged):
            _keep(args, practice)
    tell_run(args, practice.to_dict())
    return 0


def tell_run(args: argparse.Namespace, run: "dict[str, Any]") -> None:
    """What came of a run, as ``to_dict`` has it."""
    if args.json:
        import json

        print(json.dumps(run))
        return
    clean = sum(one["clean"] for one in run["passes"])
    up_to = f", up to {run['reached_qpm']:g}" if clean else ""
    print(f"{run['target']}: {clean} of {len(run['passes'])} passes clean{up_to}.")
    print(run["work_on"])


def note(sentence: str) -> None:
    """Something to be known beside what is printed."""
    print(f"loopdeck: {sentence}", file=sys.stderr, flush=True)


def _read(args: argparse.Namespace) -> "tuple[Take, Target]":
    """The take (or that of a lesson), and the bars of it to practise."""
    from loopdeck.cli.lesson import lesson_riff
    from loopdeck.practice.target import target_of
    from loopdeck.shelf.looping import seen
    from loopdeck.shelf.material import material_of

    both = args.played == args.layers
    take = lesson_riff(args.take, args.shelf)
    material = seen(material_of(take, played=both or args.played, layers=both or args.layers))
    return take, target_of(material, args.first, args.last)


def _plan(args: argparse.Namespace, target: "Target") -> "Plan":
    from loopdeck.practice.practising import Plan
    from loopdeck.rhythm.tempo import parse_tempo

    def asked(text: str | None) -> float | None:
        return None if text is None else float(parse_tempo(text).quarters_per_minute)

    first, last = asked(args.from_tempo), asked(args.to_tempo)
    last = last if last is not None else max(round(target.qpm, 2), first or 0.0)
    first = first if first is not None else max(20.0, float(round(last * _SLOWER)))
    return Plan(first, last, args.step, args.passes, args.within, args.call, args.technique)


def shelf_path(args: argparse.Namespace) -> Path:
    """The shelf that has the record of practising."""
    from loopdeck.shelf.paths import default_shelf

    return Path(args.shelf) if args.shelf is not None else default_shelf()


def _keep(args: argparse.Namespace, practice: "PracticeRun") -> None:
    from loopdeck.practice.progress import add_run
    from loopdeck.shelf.take import now_text

    add_run(shelf_path(args), practice.to_dict(), now_text())


def _practise(args: argparse.Namespace, practice: "PracticeRun") -> None:
    """Open ports and sound, and drive the run."""
    from loopdeck.audio.listening import LiveSound
    from loopdeck.audio.sound_device import SoundDeviceError
    from loopdeck.engine.practice_runner import LiveRig, run_practice
    from loopdeck.midi.port import first_device
    from loopdeck.midi.ports import Ports, open_now
    from loopdeck.midi.systems import check_wanted, find_system, list_ports, what_is_missing

    system = find_system()
    if system is None:
        raise UserError(f"{what_is_missing()}; so nobody can hear what you play.")
    into = args.into or first_device(list_ports(system)[0]) or "virtual"
    check_wanted(system, [into], [args.out] if args.out else [], None)
    rigs: list[LiveRig] = []

    def heard(_port: int, data: bytes, _delta: float) -> None:
        for rig in rigs:
            rig.hear(data, time.perf_counter())

    ports = Ports(system, [into], [args.out] if args.out else [], None, heard)
    sound = None
    try:
        open_now(ports)
        if not args.no_sound:
            try:
                sound = LiveSound(device=args.sound_device)
                sound.start()
            except SoundDeviceError as error:
                _say(args, str(error))
        rigs.append(LiveRig(ports, sound, *_lateness(args, into)))
        _say(
            args,
            f"{practice.target.name}: from {practice.plan.from_qpm:g} to {practice.plan.to_qpm:g}, a bar of lead-in.",
        )
        run_practice(practice, rigs[0], lambda judged: _said(args, judged), args.most)
    finally:
        ports.silence()
        ports.close()
        if sound is not None:
            sound.close()


def _lateness(args: argparse.Namespace, port: str) -> "tuple[Callable[[int], float], dict[int, int] | None]":
    """How late a note of a pitch arrives: as named, else by the pickup's profile and what was
    measured of the input; and the string of each channel, as far as the profile knows it.
    """
    from loopdeck.bass.pickup.delay import late_sec
    from loopdeck.bass.pickup.profile import load_pickup
    from loopdeck.engine.input_latency import InputLatencies
    from loopdeck.engine.paths import default_corrections
    from loopdeck.shelf.calibration import measured_delay

    strings, delay = None, None
    if args.pickup is not None:
        profile = load_pickup(args.pickup)
        delay = measured_delay(args.pickup) or profile.latency
        strings = {channel - 1: string for string, channel in enumerate(profile.channels, 1)} or None
    if args.late is not None:
        return (lambda pitch: args.late / 1000.0), strings
    latencies = InputLatencies(str(default_corrections()))
    if latencies.problem:
        note(latencies.problem)
    order = latencies.order(0, port)
    constant = order["sec"] if order is not None else 0.0
    if delay is None:
        return (lambda pitch: constant), strings
    return (lambda pitch: constant + float(late_sec(pitch, delay))), strings


def _said(args: argparse.Namespace, judged: "Judged") -> None:
    _say(args, judged.sentence())


def _say(args: argparse.Namespace, sentence: Any) -> None:
    """A line while it goes on; beside JSON it is not for programs."""
    print(sentence, file=sys.stderr if args.json else sys.stdout, flush=True)
