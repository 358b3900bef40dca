"""``loopdeck measure``: how late and how evenly this rig answers, through a loop of cable or by a
player who taps along.

What was found is stored for the input it was found on, and ``jam`` takes it off that input's stamps
from then on.
"""

import argparse
import os
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from loopdeck.cli.sounds import add_device_arguments, sound_options
from loopdeck.cli.take_arguments import add_json

if TYPE_CHECKING:
    from loopdeck.analysis.latency import Latency
    from loopdeck.audio.sounding import Sound
    from loopdeck.midi.port import System
    from loopdeck.midi.ports import Ports

HELP = "how late and how evenly this rig answers; the correction is stored for jam"

_LOOP_COUNT, _TAP_COUNT, _MOST = 200, 40, 10_000


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add = parser.add_argument
    add(
        "--in",
        dest="into",
        metavar="PORT",
        help="MIDI input by a part of its name, or 'virtual' (default: the first device)",
    )
    add("--out", metavar="PORT", help="MIDI output, likewise")
    add("--tap", action="store_true", help="click, and let the player tap along")
    add(
        "--click",
        choices=("sound", "midi"),
        help="with --tap: the built-in sound, or an output (default: sound if there is a device and no --out)",
    )
    add(
        "--pickup", metavar="PICKUP", help="measure how late this pickup is by pitch, from playing along on all strings"
    )
    add("--take", metavar="TAKE", help="with --pickup: from this take, played to the click, instead of playing now")
    add("--shelf", metavar="FILE", help="the shelf for --take, if not the usual one")
    add("--count", type=int, metavar="N", help=f"N notes (default: {_LOOP_COUNT}) or taps (default: {_TAP_COUNT})")
    add_json(parser)
    add("--picture", metavar="FILE", help="write a picture of the distribution, a PNG file")
    add(
        "--store",
        action=argparse.BooleanOptionalAction,
        default=True,
        help="store the correction for jam (the default)",
    )
    add_device_arguments(parser)
    add("--api", choices=("auto", "alsa", "jack"), default="auto", help="the MIDI system to use")


def run(args: argparse.Namespace) -> int:
    """Measure, report, store; 0 when it was measured."""
    from loopdeck.cli import measure_pickup
    from loopdeck.errors import UserError

    if args.take is not None and args.pickup is None:
        raise UserError("--take goes with --pickup: it says whose playing is measured.")
    if args.take is not None:
        return measure_pickup.tell(args, measure_pickup.from_take(args))
    if args.pickup is not None:
        from loopdeck.bass.pickup.profile import load_pickup

        load_pickup(args.pickup)
        args.tap = True
    usual = measure_pickup.CLICKS if args.pickup is not None else _TAP_COUNT if args.tap else _LOOP_COUNT
    count = args.count if args.count is not None else usual
    if not 5 <= count <= _MOST:
        raise UserError(f"{count} cannot be measured with; 5 to {_MOST} would be right.")
    if args.click and not args.tap:
        raise UserError("--click is for taps; give --tap as well.")
    if args.click == "sound" and args.out:
        raise UserError("The click can sound built in or go to an output; leave --out away, or say --click midi.")
    if args.picture:
        _check_picture(args.picture)
    sound = _sound(args)
    try:
        found = _measured(args, count, sound)
    finally:
        if sound is not None:
            sound.end()
    if args.pickup is not None:
        return measure_pickup.tell(args, measure_pickup.from_playing(found.heard, found.clicked))
    out = "loopdeck out" if found.out == "virtual" else found.out or "the built-in sound"
    return _tell(args, found.latency, found.into, out)


class _Measured(NamedTuple):
    """A measurement, the name of the input, the output ("" for none), what was heard (seconds,
    pitch) and when it clicked.
    """

    latency: "Latency"
    into: str
    out: str
    heard: list[tuple[float, int]]
    clicked: list[float]


def _measured(args: argparse.Namespace, count: int, sound: "Sound | None") -> _Measured:
    """Measure. Raises UserError."""
    from loopdeck.engine.measuring import Measuring, NoteOnInput, SoundClicks
    from loopdeck.process.clock import Clock, PerfClock
    from loopdeck.process.priority import RealtimeGuard

    system, into, out = _chosen(args.api, args.into, args.out, sound is None)
    clock: Clock = PerfClock() if sound is None else sound.clock
    # What is measured is the rig as a session has it, with nothing in the way of time.
    guard = RealtimeGuard(clock)
    note_ons = NoteOnInput(clock)
    ports = _opened(system, into, out, note_ons)
    try:
        _note(_what_happens(args.tap, into, out, count))
        bar = _Count(count, sys.stderr.isatty())
        guard.begin()
        try:
            clicks = SoundClicks(sound, time.sleep) if sound is not None else None
            measuring = Measuring(ports, note_ons, clock, time.sleep, bar.show, clicks)
            latency = measuring.taps(count) if args.tap else measuring.loop(count)
        finally:
            guard.end()
            bar.close()
            ports.silence()
        name = next(port.shown for port in ports.ports if port.role == "in")
        return _Measured(latency, name, out, list(note_ons.heard), measuring.clicked)
    finally:
        ports.close()


def _sound(args: argparse.Namespace) -> "Sound | None":
    """The built-in sound where the click is to come from it. Raises UserError, SoundDeviceError."""
    if not args.tap or args.click == "midi" or (args.out and args.click is None):
        return None
    from loopdeck.audio.sounding import Sound, open_sound

    # Who names a device wants that one.
    way = "on" if args.click == "sound" or args.sound_device else "auto"
    found, why = open_sound(sound_options(args, way))
    if why:
        _note(f"{why.split(';')[0].rstrip('.')}; the click goes to an output.")
    return found if isinstance(found, Sound) else None


def _check_picture(path: str) -> None:
    """Before anything is measured: could the picture be written? Raises OSError."""
    target = Path(path)
    if target.is_dir():
        raise IsADirectoryError(21, "Is a folder; name a file", path)
    folder = target.parent
    if not folder.is_dir():
        raise FileNotFoundError(2, "There is no such folder", str(folder))
    if not os.access(folder, os.W_OK):
        raise PermissionError(13, "Nothing can be written into this folder", str(folder))


# ---- ports ---------------------------------------------------------------------------------------


def _chosen(api: str, into: str | None, out: str | None, sends: bool = True) -> "tuple[System, str, str]":
    """The MIDI system, the input and the output ("" where nothing is to be sent).

    Raises UserError.
    """
    from loopdeck.errors import UserError
    from loopdeck.midi.systems import check_wanted, find_system, list_ports, what_is_missing

    system = find_system(api)
    if system is None:
        raise UserError(f"{what_is_missing(api)}; so there is nothing to measure.")
    out = out if sends else None
    check_wanted(system, [into] if into else [], [out] if out else [], None)
    found = []
    for wanted, names, kind in zip((into, out), list_ports(system), ("input", "output"), strict=True):
        if kind == "output" and not sends:
            found.append("")
            continue
        # As in jam: the first one that is a device, or one of our own for others to connect to.
        device = next((name for name in names if "through" not in name.lower()), None)
        choice = wanted or device or ("virtual" if system.virtual else None)
        if choice is None:
            raise UserError(f"There is no MIDI {kind} on this machine, so there is nothing to measure.")
        found.append(choice)
    return system, found[0], found[1]


def _opened(system: "System", into: str, out: str, note_ons: Any) -> "Ports":
    from loopdeck.midi.port import Port
    from loopdeck.midi.ports import Ports

    def changed(port: Port, sentence: str) -> None:
        if not port.live:
            _note(sentence)

    ports = Ports(system, [into], [out] if out else [], None, note_ons.hear, changed)
    ports.open()
    ports.watch()
    return ports


def _what_happens(tap: bool, into: str, out: str, count: int) -> str:
    ways = [
        f"'{name}'" if wanted != "virtual" else f"the port 'loopdeck {role}'"
        for wanted, name, role in ((into, into, "in"), (out, out, "out"))
    ]
    if tap:
        where = f"goes to {ways[1]}" if out else "sounds built in"
        return (
            f"A click {where}; tap along on {ways[0]}, as evenly as you can, {count} times. "
            "Most people tap a little before a click, so an early result is the player and not the rig."
        )
    return f"{count} notes go to {ways[1]} and are awaited on {ways[0]}."


# ---- what is said --------------------------------------------------------------------------------


def _tell(args: argparse.Namespace, latency: "Latency", into: str, out: str) -> int:
    stored, unsaved = "", None
    # Taps that come early say nothing of the rig, and must not wipe out what a loop has found.
    store = args.store and not (latency.kind == "tap" and latency.median_ms < 0.0)
    if store:
        from loopdeck.engine.input_latency import correction_of, plain_name, store_correction
        from loopdeck.engine.paths import default_corrections

        problem = store_correction(default_corrections(), into, correction_of(latency))
        if problem:
            _note(problem)
        stored = plain_name(into)
    if args.picture:
        from loopdeck.window.latency_picture import save_picture

        kind = f"taps on {into}" if args.tap else f"{out} to {into}"
        try:
            save_picture(args.picture, latency, f"Latency: {kind}")
        except OSError as error:
            # What was measured is told all the same.
            unsaved = error
    picture = args.picture if unsaved is None else None
    if args.json:
        import json

        print(json.dumps({"input": into, "stored": store, **latency.to_dict()}))
    else:
        print(_readable(latency, stored, picture))
    if unsaved is not None:
        raise unsaved
    return 0


def _readable(latency: "Latency", stored: str, picture: str | None) -> str:
    from loopdeck.cli.report import table

    rows = [
        ["median", f"{latency.median_ms:.2f} ms"],
        ["99 of 100 within", f"{latency.p99_ms:.2f} ms"],
        ["latest", f"{latency.max_ms:.2f} ms"],
        ["jitter", f"{latency.jitter_ms:.2f} ms"],
        ["lost", f"{latency.lost} of {latency.lost + len(latency.latency_ms)}"],
        ["unexpected", str(latency.spurious)],
        ["correction", f"{latency.correction_ms:.2f} ms"],
    ]
    lines = [table(rows, right=(1,)), "", *(one.sentence for one in latency.judgements)]
    if stored:
        lines += [
            "",
            f"Stored for the input {stored!r}: jam takes {latency.correction_ms:.1f} ms off it (--no-correction "
            "leaves it).",
        ]
    else:
        lines += ["", "Not stored."]
    if picture:
        lines.append(f"The picture is {picture}.")
    return "\n".join(lines)


def _note(sentence: str) -> None:
    print(f"loopdeck: {sentence}", file=sys.stderr, flush=True)


class _Count:
    """How far it is, on a terminal."""

    def __init__(self, count: int, on: bool) -> None:
        self._count, self._on, self._shown = count, on, False

    def show(self, done: int) -> None:
        if self._on:
            self._shown = True
            sys.stderr.write(f"\r{done} of {self._count}")
            sys.stderr.flush()

    def close(self) -> None:
        """Leave an empty line."""
        if self._shown:
            sys.stderr.write("\r" + " " * 24 + "\r")
            sys.stderr.flush()
