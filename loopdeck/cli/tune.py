"""``loopdeck tune``: the open strings to tune by ear, one after the other, each with the octave
above it to beat against.
"""

import argparse
from typing import TYPE_CHECKING

from loopdeck.cli.sounds import add_listening_arguments, without_sound_says_how
from loopdeck.cli.take_arguments import complete_names, with_names
from loopdeck.errors import UserError

if TYPE_CHECKING:
    from loopdeck.audio.listening import ToHear
    from loopdeck.theory.tuning import Tuning

HELP = "the open strings to tune by ear, each with the octave above"
_RATE = 48_000
#: A string is plucked anew so often while it is held, and the octave comes in so much later than
#: the string.
_AGAIN_SEC, _OCTAVE_SEC = 4.0, 1.0
_VELOCITY, _OCTAVE_VELOCITY = 84, 60
SHORTEST_SEC, LONGEST_SEC = 1.0, 600.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add = parser.add_argument
    words = with_names('such as drop-d or "E1 A1 D2 G2" (default: four-string)', "tunings")
    complete_names(add("--tuning", metavar="TUNING", default="four-string", help=words), "tunings")
    add("--string", type=int, metavar="N", help="only this string, 1 the highest, until you stop it with Ctrl-C")
    add("--seconds", type=float, metavar="S", default=8.0, help="how long each string is held (default 8)")
    add("--loop", action="store_true", help="round and round, until you stop it with Ctrl-C")
    add_listening_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Sound the strings."""
    from loopdeck.brief.tunings import find_tuning

    tuning = find_tuning(args.tuning)
    if not SHORTEST_SEC <= args.seconds <= LONGEST_SEC:
        raise UserError(
            f"{args.seconds:g} seconds is out of range; {SHORTEST_SEC:g} to {LONGEST_SEC:g} would be right."
        )
    count = len(tuning.strings)
    if args.string is not None and not 1 <= args.string <= count:
        raise UserError(f"{tuning} has no string {args.string}; its strings are 1 (the highest) to {count}.")
    strings = range(count, 0, -1) if args.string is None else (args.string,)
    piece = open_strings(tuning, list(strings), args.seconds, args.loop or args.string is not None)
    said = f"{tuning}: {', '.join(_said(tuning, string) for string in strings)}"
    said += f"; each for {args.seconds:g} s" + ("" if piece.times else ", until you press Ctrl-C")
    if args.out is not None:
        from loopdeck.cli.play import to_midi

        to_midi(piece, args.out, said)
    else:
        from loopdeck.audio.listening import play_sound

        with without_sound_says_how():
            play_sound(piece, args.buffer, args.sound_device, lambda name: print(f"{said}, on {name}.", flush=True))
    return 0


def _said(tuning: "Tuning", string: int) -> str:
    from loopdeck.bass.pickup.delay import period_sec
    from loopdeck.theory.pitch import pitch_name

    pitch = tuning.strings[string - 1]
    return f"{pitch_name(pitch)} {1 / float(period_sec(pitch)):.2f} Hz"


def open_strings(tuning: "Tuning", strings: list[int], seconds: float, endless: bool) -> "ToHear":
    """Each of ``strings`` for ``seconds``, plucked anew while it is held, the octave above a moment
    later.
    """
    from loopdeck.audio.listening import ToHear
    from loopdeck.synth.events import LIVE, SoundEvent

    events = []
    for place, string in enumerate(strings):
        begin, end = place * seconds, (place + 1) * seconds - 0.05
        for up, wait, velocity in ((0, 0.0, _VELOCITY), (12, _OCTAVE_SEC, _OCTAVE_VELOCITY)):
            pitch = tuning.strings[string - 1] + up
            at = begin + min(wait, seconds / 2)
            while at < end and pitch <= 127:
                until = end if end - at < 1.5 * _AGAIN_SEC else at + _AGAIN_SEC - 0.05
                events.append(SoundEvent(round(at * _RATE), LIVE, bytes((0x90, pitch, velocity))))
                events.append(SoundEvent(round(until * _RATE), LIVE, bytes((0x80, pitch, 0))))
                at = until + 0.05
    events.sort(key=lambda event: event.sample)
    return ToHear(tuple(events), round(len(strings) * seconds * _RATE), 0 if endless else 1)
