"""``loopdeck play``: play a take, on the built-in sound or on a MIDI output."""

import argparse
from typing import TYPE_CHECKING

from loopdeck.cli.sounds import add_listening_arguments, without_sound_says_how
from loopdeck.cli.take_arguments import add_shelf, complete_takes
from loopdeck.errors import UserError

if TYPE_CHECKING:
    from loopdeck.audio.listening import ToHear
    from loopdeck.shelf.take import Take

HELP = "play a take: with click or groove, slower, transposed, some bars of it, round and round"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add = parser.add_argument
    complete_takes(add("take", metavar="TAKE", help="a take's number or name, or a Standard MIDI File"))
    add("--click", action="store_true", help="with the click")
    add("--groove", metavar="GROOVE", help="with drums: sparse, medium or busy; add alone for no click")
    add("--tempo", metavar="TEMPO", help="at this tempo, such as 60 or 8th=120; default: as it was played")
    add("--from", dest="first", type=int, default=1, metavar="BAR", help="begin at this bar, counted from 1")
    add("--to", dest="last", type=int, metavar="BAR", help="end with this bar; default: the last")
    add("--loop", action="store_true", help="round and round, until you stop it with Ctrl-C")
    add("--times", type=int, metavar="N", help="play it N times")
    add("--transpose", type=int, default=0, metavar="N", help="N semitones up, or down if below 0")
    add("--straight", action="store_true", help="at the written places instead of as it was played")
    add("--parts", metavar="LIST", help="such as playing,layer1; also layers (default: what was heard)")
    add_listening_arguments(parser)
    add_shelf(parser)


def run(args: argparse.Namespace) -> int:
    """Play; 0 when all of it was heard."""
    from loopdeck.shelf.source import open_take

    if args.loop and args.times is not None:
        raise UserError("--loop goes on until you stop it, --times N plays it N times; give one of them.")
    if args.times is not None and not 1 <= args.times <= 10_000:
        raise UserError(f"{args.times} times is out of range; 1 to 10000 would be right.")
    take = changed(open_take(args.take, args.shelf), args.tempo, args.transpose, args.groove)
    piece = _piece(args, take)
    said = f"{take.name}: {piece.length / 48_000:.1f} s"
    said += ", until you press Ctrl-C" if args.loop else f", {args.times} times" if (args.times or 1) > 1 else ""
    if args.out is not None:
        to_midi(piece, args.out, said)
    else:
        from loopdeck.audio.listening import play_sound

        with without_sound_says_how():
            play_sound(piece, args.buffer, args.sound_device, lambda name: print(f"{said}, on {name}.", flush=True))
    return 0


def changed(take: "Take", tempo: str | None, semitones: int = 0, groove: str | None = None) -> "Take":
    """The take as it is to be heard. Raises UserError."""

    from loopdeck.practice.changed import at_tempo, transposed
    from loopdeck.rhythm.tempo import parse_tempo

    take = transposed(take, semitones)
    if tempo is not None:
        take = at_tempo(take, parse_tempo(tempo).quarters_per_minute)
    if groove is not None:
        from loopdeck.shelf.excerpt import in_a_brief

        take = in_a_brief(take)
        if take.recording.meters:
            raise UserError(
                f"{take.name} is too long for a cycle, or its tempo changes, so no groove fits it; there is the click."
            )
        take = take.changed(brief=take.brief.replace(groove=groove))
    return take


def _piece(args: argparse.Namespace, take: "Take") -> "ToHear":
    """The events from the first bar wanted to the last."""
    from loopdeck.audio.listening import ToHear
    from loopdeck.export.heard import on_the_beat, sound_events
    from loopdeck.export.score import GROOVE, parse_parts, parts_of, score_of_take, usual_parts
    from loopdeck.synth.events import CLICK

    parts = usual_parts(take) if args.parts is None else parse_parts(args.parts, take)
    more = {CLICK} if args.click else set()
    more |= {GROOVE} if args.groove is not None else set()
    parts = tuple(part for part in parts_of(take) if part in parts or part in more)
    if args.last is not None and args.last < args.first:
        raise UserError(f"Bar {args.last} lies before bar {args.first}; --to names the last bar that is heard.")
    if args.last is not None:
        # Raises UserError where that bar does not exist.
        score_of_take(take, 48_000, (), from_bar=args.last)
    bars = None if args.last is None else args.last - args.first + 1
    score, room = on_the_beat(score_of_take(take, 48_000, parts, args.straight, args.first, bars), take)
    times = 0 if args.loop else args.times or 1
    return ToHear(sound_events(score, take.said, room, args.last is None), score.end - score.first, times)


def to_midi(piece: "ToHear", wanted: str, said: str) -> None:
    """Play on the MIDI output ``wanted``; whatever ends it, nothing sounds on. Raises UserError."""
    from loopdeck.audio.listening import play_midi
    from loopdeck.midi.ports import Ports, open_now
    from loopdeck.midi.systems import check_wanted, find_system, what_is_missing

    system = find_system()
    if system is None:
        raise UserError(f"{what_is_missing()}; so there is no MIDI output to play on.")
    check_wanted(system, [], [wanted], None)
    ports = Ports(system, [], [wanted], None, lambda port, data, delta: None)
    try:
        open_now(ports)
        print(f"{said}, on {', '.join(row['name'] for row in ports.devices() if row['role'] == 'out')}.", flush=True)
        play_midi(piece, ports.send)
    finally:
        ports.silence()
        ports.close()
