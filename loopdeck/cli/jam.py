"""``loopdeck jam``: the window and the engine. This process is the window (or stands for it),
watches over the engine, and is brought back by it.
"""

import argparse
import gc
import os
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loopdeck.cli.sounds import add_device_arguments, sound_options
from loopdeck.cli.take_arguments import complete_names, with_names

if TYPE_CHECKING:
    from loopdeck.cli.remembered import Remembered
    from loopdeck.process.options import MidiOptions, SoundOptions

HELP = "the window and the engine: play"
#: What one plays in when no brief is named: with a scale, so that notes have degrees from the first
#: one on.
FIRST_BRIEF = {"scale": "E minor pentatonic"}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    add = parser.add_argument
    ours = "a brief by name, or a TOML file (default: 4/4 at 96 in E minor pentatonic)"
    complete_names(add("--brief", metavar="FILE", help=with_names(ours, "briefs")), "briefs")
    add(
        "--in",
        dest="ins",
        action="append",
        metavar="PORT",
        help="MIDI input by a part of its name, or 'virtual'; may be repeated",
    )
    add("--out", dest="outs", action="append", metavar="PORT", help="MIDI output, likewise; may be repeated")
    maps = with_names("a control map by name, or a TOML file", "controls")
    complete_names(add("--controls", metavar="FILE", help=maps), "controls")
    add(
        "--controls-in",
        metavar="PORT",
        help="the pedal board's own input, or 'virtual' (default: the instruments' inputs)",
    )
    add(
        "--thru",
        choices=("auto", "on", "off"),
        default="auto",
        help="let what you play sound, too: auto means only the computer keyboard",
    )
    add("--send-clock", action="store_true", help="send MIDI clock, start, stop and song position to the outputs")
    add("--follow", metavar="PORT", help="follow the MIDI clock of this input")
    profile = with_names(
        "hear the inputs through a pickup profile: strings by channel, low notes judged earlier", "pickups"
    )
    complete_names(add("--pickup", metavar="PICKUP", help=profile), "pickups")
    add("--no-correction", action="store_true", help="do not subtract the latency that measure found for an input")
    add(
        "--sound", choices=("auto", "on", "off"), default="auto", help="built-in sound: auto is on if there is a device"
    )
    add(
        "--route",
        metavar="WAYS",
        default="",
        help="where parts sound: sound, midi or both, as in click=sound,layers=both,live=midi,drums=sound (default: midi with --out)",
    )
    add_device_arguments(parser)
    add("--api", choices=("auto", "alsa", "jack"), default="auto", help="the MIDI system to use")
    add("--headless", action="store_true", help="no window: steered by MIDI and signals")
    add("--journal", metavar="DIR", type=Path, help="the folder of the session journals")
    add("--shelf", metavar="FILE", type=Path, help="the shelf to keep takes on")
    add(
        "--recover",
        choices=("ask", "keep", "leave"),
        default="ask",
        help="what to do with a session that ended without warning",
    )
    add("--theme", choices=("paper", "slate"), default="paper", help="ink on paper, or chalk on slate")
    add("--fullscreen", action="store_true", help="fill the screen")
    add("--rejoin", action="store_true", help=argparse.SUPPRESS)


def run(args: argparse.Namespace) -> int:
    """Play until the player leaves."""
    # Collecting circles of references among what is being loaded takes a tenth of a start. The
    # window switches it on again after its first frame.
    gc.disable()
    try:
        return _run(args)
    finally:
        gc.enable()


def _run(args: argparse.Namespace) -> int:
    from loopdeck.process.options import options_from_environment
    from loopdeck.process.supervise import warm_engine

    if args.rejoin:
        options = options_from_environment()
        if options is None:
            print("loopdeck: --rejoin is for the engine, which brings its window back by it.", file=sys.stderr)
            return 2
        return play(options)
    warm = warm_engine()
    try:
        options = options_of(args)
    except BaseException:
        warm.kill()
        warm.wait()
        raise
    return play(options, warm)


# ---- what to start -------------------------------------------------------------------------------


def options_of(args: argparse.Namespace) -> Any:
    from dataclasses import replace

    from loopdeck import configs
    from loopdeck.brief.brief import Brief, load_brief
    from loopdeck.cli.remembered import recall
    from loopdeck.process.children import python_command
    from loopdeck.process.options import Options, journal_path
    from loopdeck.protocol.address import new_address

    brief = load_brief(configs.find("briefs", args.brief)) if args.brief else Brief.default().replace(**FIRST_BRIEF)
    remembered = recall()
    remembered.words_of(args)
    if args.controls:
        from loopdeck.midi.control_files import load_controls

        load_controls(args.controls)
    elif args.controls_in:
        args.controls = "four-switch"
    if args.shelf is not None and args.shelf.exists():
        from loopdeck.shelf.store import Shelf

        # Now, not when the first take is to be kept.
        Shelf(args.shelf).close()
    pickup = _pickup(args.pickup)
    sound = _sound(args)
    headless = args.headless or not screen()
    if headless and not args.headless:
        _note("There is no screen, so this goes on without a window (as with --headless), steered by MIDI and signals.")
    if args.follow and args.follow not in (args.ins or []):
        args.ins = [*(args.ins or []), args.follow]
    named_out = bool(args.outs)
    api, ins, outs = _ports(args, headless, remembered)
    named_out = named_out or any(one != "virtual" for one in args.outs or ())
    for sentence in remembered.sentences:
        _note(sentence)
    journal = journal_path(args.journal if args.journal is not None else data_folder() / "journals")
    return Options(
        address=new_address(),
        journal=str(journal.resolve()),
        shelf=str((args.shelf if args.shelf is not None else _default_shelf()).resolve()),
        brief=brief.to_dict(),
        midi=_midi(args, api, ins, outs),
        # Who named an output wants to hear that one; one of our own that anybody may listen to does
        # no harm beside the built-in sound.
        sound=replace(sound, route_rest="midi" if named_out else "both" if "virtual" in outs else "sound"),
        recover=args.recover,
        headless=headless,
        front=python_command("loopdeck", "jam", "--rejoin"),
        corrections="" if args.no_correction else _corrections(),
        pickup=pickup,
        look={"theme": args.theme, "fullscreen": args.fullscreen, "said": " ".join(remembered.sentences)},
    )


def _midi(args: argparse.Namespace, api: str, ins: list[str], outs: list[str]) -> "MidiOptions":
    from loopdeck import configs
    from loopdeck.process.options import MidiOptions

    return MidiOptions(
        api=api,
        ins=tuple(ins),
        outs=tuple(outs),
        controls=str(configs.find("controls", args.controls).resolve()) if args.controls else "",
        controls_in=args.controls_in or "",
        thru=args.thru,
        send_clock=args.send_clock,
        follow=ins.index(args.follow) if args.follow in ins else -1,
        first_come=getattr(args, "first_come", False),
    )


def _pickup(name: str | None) -> dict[str, Any]:
    """The arguments of the looper's command ``pickup`` for a profile, with the delay that was
    measured for it. Raises UserError, OSError.
    """
    if name is None:
        return {}
    from loopdeck.bass.pickup.profile import load_pickup, words_of_cleaning
    from loopdeck.shelf.calibration import measured_delay

    found = load_pickup(name)
    if found.keyboard:
        return {}
    delay = measured_delay(name) or found.latency
    late = {"constant_ms": min(delay.constant_ms, 200.0), "periods": min(delay.periods, 6.0)}
    rules = words_of_cleaning(found.cleaning)
    known = {"bend_range": found.bend_range, "name": name, "cleaning": rules}
    return {"channels": " ".join(map(str, found.channels)), **late, **known}


def _sound(args: argparse.Namespace) -> "SoundOptions":
    """The options of the built-in sound. Raises UserError for a wrong route or delay."""
    from loopdeck.audio.routes import check_route

    check_route(args.route)
    return sound_options(args, args.sound, route=args.route)


def data_folder() -> Path:
    from platformdirs import user_data_path

    return user_data_path("loopdeck", appauthor=False)


def _default_shelf() -> Path:
    from loopdeck.shelf.paths import default_shelf

    return default_shelf()


def _corrections() -> str:
    from loopdeck.engine.paths import default_corrections

    return str(default_corrections())


def screen() -> bool:
    """True when a window can be hoped for."""
    if not sys.platform.startswith("linux") or os.environ.get("SDL_VIDEODRIVER"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _ports(args: argparse.Namespace, headless: bool, remembered: "Remembered") -> tuple[str, list[str], list[str]]:
    """The MIDI system to use ("" for none), and the ports wanted: named, remembered, or the first.

    Raises UserError for one that is not there.
    """
    from loopdeck.errors import UserError
    from loopdeck.midi.port import first_device
    from loopdeck.midi.systems import check_wanted, look, what_is_missing
    from loopdeck.process.signals import STEERING, numbers

    ins, outs = args.ins or [], args.outs or []
    system, in_names, out_names = look(args.api)
    if system is None:
        missing = what_is_missing(args.api)
        asked = [*ins, *outs, *([args.controls_in] if args.controls_in else [])]
        if asked:
            raise UserError(f"{missing}; so there is no port {asked[0]!r}, and loopdeck ports will list none.")
        steered = "signals start and stop it" if numbers(STEERING) else "without a window nothing can start it"
        instead = steered if headless else "the letter keys of the computer keyboard are the instrument"
        _note(f"{missing}; {instead}.")
        return "", [], []
    check_wanted(system, ins, outs, args.controls_in)
    remembered.ports(ins, outs, (in_names, out_names), system.virtual)
    remembered.pedals_in(args, in_names, system.virtual)
    args.outs, nobody = list(outs), not ins
    for wanted, names in ((ins, in_names), (outs, out_names)):
        if not wanted:
            found = first_device(names)
            if found is not None or system.virtual:
                wanted.append(found if found is not None else "virtual")
    args.first_come = nobody and ins in ([], ["virtual"])
    return system.name.lower(), ins, outs


def _note(sentence: str) -> None:
    print(f"loopdeck: {sentence}", file=sys.stderr, flush=True)


# ---- playing -------------------------------------------------------------------------------------


def play(options: Any, warm: Any = None) -> int:
    """Start the engine (``warm``: one that only waits for its options) and stay until it has ended;
    returns the exit code.
    """
    from loopdeck.process import headless
    from loopdeck.process.children import ready_for_signals
    from loopdeck.process.signals import EndRequest, steer_by_signals
    from loopdeck.process.supervise import Supervisor

    def silence() -> None:
        """Who heard the engine that died hangs on its last notes, and the next one needs a moment
        to come up.
        """
        from loopdeck.midi.connections import ConnectionFile, silence_listeners

        silence_listeners(ConnectionFile(options.address).read())

    if options.headless:
        gc.enable()
        return headless.run(options, Supervisor(options, headless.complain, warm=warm, on_death=silence))
    end = EndRequest(interrupt=True)
    leaving = threading.Event()

    def ended() -> None:
        """An engine that has ended in order leaves the window nothing to show, but for what the
        session brought, where the player has left.
        """
        if not leaving.is_set():
            end.ask()

    supervisor = Supervisor(options, headless.complain, on_end=ended, warm=warm, on_death=silence)
    try:
        # The engine comes up while the window is being imported.
        supervisor.start()
        steer_by_signals(supervisor.signal)
        ready_for_signals()
        return _window(options, supervisor, leaving)
    except KeyboardInterrupt:
        end.done()
        return supervisor.stop()


def _window(options: Any, supervisor: Any, leaving: threading.Event) -> int:
    from loopdeck.process import headless
    from loopdeck.protocol.address import LinkError
    from loopdeck.window import window
    from loopdeck.window.harvest_process import SessionFiles

    # Who practises plays one thing over and over; what comes back is not news.
    at_end = not options.look.get("practise")
    files = SessionFiles(options.journal, options.shelf, supervisor.ended, leaving, at_end)
    while not supervisor.ended.is_set():
        try:
            code = window.run(options.address, shelf=options.shelf, files=files, **options.look)
        except window.DisplayError as error:
            why = str(error).split(";")[0].rstrip(".")
            _note(f"{why}; this goes on without a window, steered by MIDI and signals.")
            gc.enable()
            return headless.run(options, supervisor)
        except LinkError:
            # The engine has not come up: either it has said why and ended, or it is being started
            # again.
            if supervisor.ended.wait(1.0):
                break
            continue
        if code == window.QUIT:
            # The window has said bye, and the engine ends by itself; this only waits for it.
            return int(supervisor.stop())
    return int(supervisor.code)
