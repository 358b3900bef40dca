"""The ``loopdeck`` command: finds the command asked for, imports only that one, and turns a wrong
input into a sentence.

A module of ``loopdeck.cli`` is a command when it has ``HELP``, ``add_arguments(parser)`` and
``run(args) -> exit code``. Exit codes: 0 done, 2 a wrong input (one sentence on standard error),
130 interrupted.
"""

import argparse
import contextlib
import errno
import gc
import importlib
import os
import sys
from collections.abc import Sequence

from loopdeck.cli.parser import Parser
from loopdeck.errors import UserError
from loopdeck.process.signals import end_asked, remember_ending, remember_steering

# The table is written out, so that starting up imports no command that was not asked for.
COMMANDS = {
    "jam": "the window and the engine: play",
    "demo": "the whole job, performed by a built-in player",
    "brief": "constraints to write in: draw one from a mood, list, show",
    "ports": "the MIDI inputs and outputs of this machine",
    "quantize": "move a take's notes to the grid, and say how far each was from it",
    "feel": "what the timing of a take was: swing, early and late by place, drift, accents",
    "check": "which notes left the scale, and which scale would explain them",
    "riffs": "what repeats in a take: its riffs, best first, and where they come back",
    "play": "play a take: with click or groove, slower, transposed, some bars of it, round and round",
    "practise": "practise a take: passes judged, the tempo rises when they are clean; and progress over days",
    "clip": "a riff as a clip for a video lesson: lanes, tab, neck and count, moving in time with its sound",
    "lesson": "riffs to hand out: page, sounds, MIDI file, brief; and a pupil's answer with the comparison",
    "harvest": "the riffs in everything that was played in a session, kept or not; --keep 1,3 puts them on the shelf",
    "compare": "how near a take is to a target: missed, added, wrong, early, late, and what to work on",
    "takes": "the shelf: list, show, rename, rate, tag, note, remove, restore, export, import",
    "neck": "where a scale lies on the neck of a tuning, and the positions a hand can hold",
    "tune": "the open strings to tune by ear, each with the octave above",
    "finger": "string, fret and finger for every note of a take",
    "technique": "how each note was played: slides, hammer-ons, bends, vibrato, ghost and dead notes",
    "vary": "change a riff: transpose, another scale or tuning, thinner, thicker, power chords and more",
    "tab": "a take as text tab; and text tab back as a take",
    "sheet": "a take as sheet music: MusicXML, or engraved as PDF, SVG or PNG",
    "render": "a take to a WAV file, as it was heard",
    "measure": "how late and how evenly this rig answers; the correction is stored for jam",
}


def _parser(command: str | None) -> argparse.ArgumentParser:
    from loopdeck import __version__

    parser = Parser(
        prog="loopdeck",
        description="A live MIDI looper and riff recorder. Without a command: jam.",
    )
    parser.add_argument("--version", action="version", version=f"loopdeck {__version__}")
    # With its name given, argparse need not lay out a usage line to find it.
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", prog="loopdeck")
    for name, words in COMMANDS.items():
        if command is not None and name != command:
            continue
        about = words[0].upper() + words[1:] + "."
        sub = commands.add_parser(name, help=words, description=about)
        if name == command:
            module = importlib.import_module(f"loopdeck.cli.{name}")
            module.add_arguments(sub)
    return parser


def _complete() -> None:
    """Answer a shell that asks how a line could go on (argcomplete says so in the environment, and
    ends the process after it).
    """
    try:
        import argcomplete
    except ImportError:
        return
    words = os.environ.get("COMP_LINE", "").split()[1:]
    asked = next((word for word in words if word in COMMANDS), None)
    argcomplete.autocomplete(_parser(asked), always_complete_options="long")


def _sentence(error: BaseException) -> str | None:
    """The sentence for an error that is the user's to correct; None for one that is ours."""
    if isinstance(error, UserError):
        return str(error)
    if isinstance(error, OSError):
        if error.filename is not None and error.strerror:
            return f"{error.filename}: {error.strerror}."
        if error.errno in (errno.ENOSPC, errno.EIO, errno.EDQUOT):
            # Files that are written have names: this is what was to be printed.
            _drop_output()
            return f"What was to be printed could not be written: {error.strerror}."
        return f"{error.strerror or error or type(error).__name__}."
    return None


def _drop_output() -> None:
    """What could not be printed goes nowhere; Python would complain about it once more at exit."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _print_anything() -> None:
    """Letters that the terminal has none for come out as question marks, and never as an error.
    Where a stream was closed before the start
    (``>&-``), what is printed goes nowhere, and no file that is opened later takes its place.
    """
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(os.open(os.devnull, os.O_WRONLY), "w", encoding="utf-8"))
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(AttributeError, ValueError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]


def _collect_seldom() -> None:
    """A million events are millions of objects without a circle among them: looking for circles as
    often as usual doubles the time.
    """
    gc.set_threshold(200_000, 20, 100)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code."""
    if "_ARGCOMPLETE" in os.environ:
        _complete()
    words = list(sys.argv[1:] if argv is None else argv)
    asked = next((word for word in words if not word.startswith("-")), None)
    if not words or (words[0].startswith("-") and words[0] not in ("-h", "--help", "--version")):
        words.insert(0, "jam")
        asked = "jam"
    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    _print_anything()
    remember_ending()
    if asked in ("jam", "demo"):
        remember_steering()
    else:
        _collect_seldom()
    try:
        args = _parser(asked if asked in COMMANDS else None).parse_args(words)
        module = importlib.import_module(f"loopdeck.cli.{args.command}")
        code = int(module.run(args))
        sys.stdout.flush()
        return code
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        # The reader of our output (``| head``) went away: not an error.
        _drop_output()
        return 0
    except Exception as error:
        ended = end_asked()
        if ended is not None:
            return ended
        sentence = _sentence(error)
        if sentence is None:
            raise
        print(f"loopdeck: {sentence}", file=sys.stderr)
        return 2


if __name__ == "__main__":
    sys.exit(main())
