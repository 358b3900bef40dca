"""``loopdeck vary``: a riff changed in one of many ways, as a new take or a Standard MIDI File."""

import argparse
from typing import TYPE_CHECKING

from loopdeck.cli.take_arguments import NO_PICKUP, add_output, add_take_arguments, open_material, set_completer
from loopdeck.shelf.source import looks_like_file

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from loopdeck.bass.variations.line import Line, Varied
    from loopdeck.capture.notes import Notes
    from loopdeck.rhythm.meter import Meter
    from loopdeck.shelf.material import Material
    from loopdeck.shelf.take import Take

HELP = "change a riff: transpose, another scale or tuning, thinner, thicker, power chords and more"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    from loopdeck.bass.variations.ways import WAYS

    add_take_arguments(parser)
    ways = "; ".join(f"{way.example}: {way.does}".replace("%", "%%") for way in WAYS.values())
    how = parser.add_argument("--how", metavar="WORDS", required=True, help=f"one of: {ways}")
    set_completer(how, lambda **_more: [way.example for way in WAYS.values()])
    add_output(parser, "NAME|OUT.mid", "the name of the new take, or a Standard MIDI File", required=True)


def run(args: argparse.Namespace) -> int:
    """Vary and write."""
    from loopdeck.bass.variations.ways import vary
    from loopdeck.brief.tunings import find_tuning
    from loopdeck.cli.new_take import check_new_take, put_new_take
    from loopdeck.cli.vary_hearing import in_scale, scale_heard, swing_heard, told, with_swing
    from loopdeck.errors import UserError

    check_new_take(args, args.take)
    material = open_material(args)
    line = line_of_material(material)
    if not len(line):
        raise UserError(f"{material.take.said} has no notes to vary.")
    if material.take.recording.meters and args.meter is None:
        line = _with_own_bars(line, material, args.how)
    heard = scale_heard(material, args.how)
    if args.swing is None:
        line = with_swing(line, swing_heard(line, args.how))
    found = told(vary(in_scale(line, heard), args.how, find_tuning), heard)
    if not len(found.riff):
        raise UserError("No note would be left of it, so nothing is written.")
    views = args.pickup is not None or bool(material.take.seen.inputs)
    picked_up = views and (args.pickup or "").strip().lower() != NO_PICKUP
    where = put_new_take(args, take_of(material, found, picked_up, not looks_like_file(args.output)))
    if args.json:
        import json

        print(
            json.dumps(
                {"says": found.says, "output": args.output, "notes": len(found.riff), "layer": len(found.layer or ())}
            )
        )
    else:
        print(f"{found.says} {where}")
    return 0


def line_of_material(material: "Material") -> "Line":
    """The pitched notes of a take as a line."""
    import numpy as np

    from loopdeck.bass.variations.line import LINE_DTYPE, Line

    index = np.flatnonzero(material.pitched)
    notes = np.zeros(len(index), LINE_DTYPE)
    array = material.notes.array[index]
    notes["onset_q"], notes["duration_q"] = material.onset_q[index], material.duration_q[index]
    for name in ("pitch", "velocity", "string", "channel"):
        notes[name] = array[name]
    seconds_per_q = 60.0 / material.brief.tempo.quarters_per_minute
    bends = tuple(material.notes.bends[row] / np.array([seconds_per_q, 1.0]) for row in index.tolist())
    return Line(notes, bends, material.brief)


def _with_own_bars(line: "Line", material: "Material", how: str) -> "Line":
    """A file's line in the cycle that its bars make; with all of them as one cycle where they make
    none, or where the last one is meant. Raises UserError for a last bar of more than a cycle.
    """
    from dataclasses import replace

    from loopdeck.errors import UserError
    from loopdeck.rhythm.meter import Cycle

    last = how.strip().lower().startswith("last-bar")
    if not last and len({meter for _, cycle in material.stretches for meter in cycle.meters}) == 1:
        return line
    if not last and len(material.stretches) == 1:
        return replace(line, brief=replace(line.brief, cycle=material.stretches[0].cycle))
    try:
        cycle = Cycle(_own_bars(material, float(line.notes["onset_q"].max())))
    except UserError:
        if not last:
            return line
        raise UserError(
            f"{material.take.said} is too long to be one cycle; name the cycle of the riff with --meter."
        ) from None
    return replace(line, brief=replace(line.brief, cycle=cycle))


def _own_bars(material: "Material", last_q: float) -> "tuple[Meter, ...]":
    """The meters of the bars up to quarter ``last_q``, one at least; no more than one too many for
    a cycle.
    """
    from loopdeck.rhythm.meter import MAX_BARS

    bars = [material.meter_of(1)]
    end_q = float(bars[0].quarters)
    while end_q <= last_q + 1e-6 and len(bars) <= MAX_BARS:
        bars.append(material.meter_of(len(bars) + 1))
        end_q += float(bars[-1].quarters)
    return tuple(bars)


def take_of(material: "Material", found: "Varied", picked_up: bool = False, apart: bool = True) -> "Take":
    """What came of it as a take: the riff on the first input, a channel for each string, and the
    second voice on another. ``picked_up``: a pickup heard it. ``apart``: strings have a channel of
    their own even where nothing is bent.
    """
    from math import ceil

    from loopdeck.capture.events import Event
    from loopdeck.capture.writing import events_of
    from loopdeck.looper.recording import Recording
    from loopdeck.shelf.carried import grid_of
    from loopdeck.shelf.material import DRUM_CHANNEL
    from loopdeck.shelf.take import IMPORTED, Take, now_text

    brief = found.riff.brief
    if material.take.origin == IMPORTED and brief.grid == material.brief.grid:
        brief = brief.replace(grid=str(grid_of(material)))
    cycle_q = float(brief.cycle.quarters)
    lines = [line for line in (found.riff, found.layer) if line is not None]
    last_q = max((float(line.notes["onset_q"].max()) for line in lines if len(line)), default=0.0)
    passes = max(ceil((last_q + 1e-6) / cycle_q), 1)
    channels, views = _strings_apart(found.riff, picked_up, apart)
    free = next(one for one in (*range(1, 16), 0) if one not in {*channels.tolist(), DRUM_CHANNEL})
    events = list(events_of(_notes_of(found.riff, channels)))
    if found.layer is not None:
        events += events_of(_notes_of(found.layer, free), 1)
    if found.program is not None and found.layer is not None:
        events.append(Event(0.0, 1, bytes((0xC0 | free, found.program - 1))))
    return Take(
        name=material.take.name,
        kept_at=now_text(),
        note=found.says,
        recording=Recording(
            brief=brief,
            events=tuple(sorted(events, key=lambda event: event.time_sec)),
            passes=passes,
            end_sec=passes * cycle_q * 60.0 / brief.tempo.quarters_per_minute,
            views=views,
        ),
    )


def _strings_apart(line: "Line", picked_up: bool, apart: bool) -> "tuple[NDArray[np.int64], str]":
    """The channel of each note, shape (n,), and the views that tell its string by it: a bend is of
    one channel alone, so what was bent on one string leaves the others straight.
    """
    import numpy as np

    from loopdeck.bass.technique.strings import channel_of
    from loopdeck.looper.heard import Heard, Views, text_of_views

    strings, channels = line.notes["string"].astype(np.int64), line.notes["channel"].astype(np.int64)
    one = len(np.unique(channels)) < 2 and not (apart and strings.any())
    if one:
        channels = np.zeros(len(line), np.int64)
    elif strings.any():
        channels = np.array([channel_of(string) for string in strings.tolist()], np.int64)
    if not picked_up:
        return channels, text_of_views(Views(strings=bool(not one and strings.any())))
    known = range(1, len(line.brief.tuning.strings) + 1) if not one and strings.any() else ()
    heard = Heard(tuple(channel_of(string) + 1 for string in known))
    return channels, text_of_views(Views({0: heard}))


def _notes_of(line: "Line", channel: "int | NDArray[np.int64]") -> "Notes":
    """A line in seconds, at the tempo of its brief, on these channels."""
    import numpy as np

    from loopdeck.capture.notes import NOTE_DTYPE, Notes

    seconds = 60.0 / line.brief.tempo.quarters_per_minute
    array = np.zeros(len(line), NOTE_DTYPE)
    array["onset_sec"], array["duration_sec"] = line.notes["onset_q"] * seconds, line.notes["duration_q"] * seconds
    array["pitch"], array["velocity"], array["channel"] = line.notes["pitch"], line.notes["velocity"], channel
    array["string"] = line.notes["string"]
    return Notes(array, tuple(curve * np.array([seconds, 1.0]) for curve in line.bends))
