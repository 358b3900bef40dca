"""``loopdeck quantize``: move a take's notes to the grid, into a new file, and say how far each was from it."""

import argparse
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import numpy as np

from loopdeck.cli import report as layout
from loopdeck.errors import UserError

if TYPE_CHECKING:
    from loopdeck.analysis.timing import Stretch
    from loopdeck.brief.brief import Brief
    from loopdeck.capture.notes import Notes
    from loopdeck.export.piece import PieceTrack
    from loopdeck.rhythm.meter import Meter
    from loopdeck.rhythm.tempo import TempoMap
    from loopdeck.shelf.take import Take

HELP = "move a take's notes to the grid, and say how far each was from it"

#: Bars whose meters are written out; no take is that long.
MAX_BARS = 100_000
#: What an option of this command is called in a brief.
_FIELDS = {
    "tempo": "tempo",
    "meter": "cycle",
    "grid": "grid",
    "swing": "swing",
    "strength": "strength",
    "window": "window",
}


class QuantizeError(UserError):
    """The command was asked for something it must not do; ``str(error)`` is one sentence."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    parser.add_argument("take", metavar="TAKE", help="a take's number or name, or a Standard MIDI File")
    parser.add_argument("-o", "--output", metavar="OUT.mid", help="the file to write; only --json goes without")
    parser.add_argument(
        "--tempo", metavar="TEMPO", help="such as 96 or 8th=184, counted from the start; default: the take's own"
    )
    parser.add_argument("--meter", metavar="CYCLE", help='such as 7/8 or "4/4 4+3/8"; default: the take\'s own')
    parser.add_argument("--grid", metavar="GRID", help="1/4 1/8 1/16 1/32 1/8T 1/16T or auto; default: the brief's")
    parser.add_argument("--swing", metavar="SWING", help="such as 2:1, 58%% or straight; default: the brief's")
    parser.add_argument(
        "--strength", metavar="PERCENT", help="0 to 100: how far towards its slot; default: the brief's"
    )
    parser.add_argument(
        "--window",
        metavar="PERCENT",
        help="1 to 100: how near its slot a note must be to be moved; default: the brief's",
    )
    parser.add_argument("--straight", action="store_true", help="write the notes without the swing")
    parser.add_argument("--json", action="store_true", help="print JSON and nothing else")
    parser.add_argument("--shelf", metavar="FILE", help="the shelf, if not the usual one")


def run(args: argparse.Namespace) -> int:
    """Quantize, write, report."""
    from loopdeck.analysis.timing import Feel, Stretch, repeating, report
    from loopdeck.brief.brief import Brief
    from loopdeck.cli.guard import check_output
    from loopdeck.rhythm.tempo import TempoMap
    from loopdeck.shelf.source import open_take

    if args.output is None and not args.json:
        raise QuantizeError(
            "There is no file to write to; name one with -o OUT.mid, or ask for the figures with --json."
        )
    asked = {field: value for option, field in _FIELDS.items() if (value := getattr(args, option)) is not None}
    Brief.default().replace(**asked)
    take = open_take(args.take, args.shelf)
    if args.output is not None:
        check_output(args.output, args.take, args.shelf)
    brief = take.brief.replace(**asked)
    notes = take.notes()
    onset_sec = notes.array["onset_sec"]
    tempo = TempoMap.steady(brief.tempo) if args.tempo is not None else take.tempo()
    if args.meter is not None:
        stretches: tuple[Stretch, ...] = (Stretch(Fraction(0), brief.cycle),)
    else:
        stretches = repeating(take.stretches(), float(tempo.quarters(onset_sec[-1])) if len(notes) else 0.0)
    feel = Feel(brief.grid, brief.swing, brief.strength / 100, brief.window / 100, args.straight)
    figures, placed = report(onset_sec, notes.array["pitch"], tempo, stretches, feel)
    found = {
        "take": take.name if take.number is None else f"{take.number} {take.name}",
        "tempo": _tempo_text(brief, tempo, args.tempo is not None),
        "meter": _meter_text(stretches),
        "grid": str(brief.grid),
        "swing": str(brief.swing),
        "strength": brief.strength,
        "window": brief.window,
        "straight": args.straight,
        "output": args.output,
        **figures,
    }
    if args.output is not None:
        _write(args.output, take, notes, placed.quantized_q, tempo, stretches)
    if args.json:
        import json

        print(json.dumps(found))
    else:
        print(_readable(found, brief))
    return 0


# ---- the file ---------------------------------------------------------------------------------------------------------------


def _write(
    path: str,
    take: "Take",
    notes: "Notes",
    onset_q: np.ndarray[Any, np.dtype[np.float64]],
    tempo: "TempoMap",
    stretches: Sequence["Stretch"],
) -> None:
    from loopdeck.export.piece import piece_of_notes, unhindered
    from loopdeck.export.smf import write_smf

    end_q = float(onset_q.max()) if len(onset_q) else 0.0
    piece = piece_of_notes(take, notes, onset_q, tempo, _bars(stretches, end_q))
    tracks = [part for track in piece.tracks for part in _by_program(unhindered(track), take)]
    write_smf(path, replace(piece, tracks=tuple(tracks)))


def _bars(stretches: Sequence["Stretch"], end_q: float) -> tuple[tuple[Fraction, "Meter"], ...]:
    """Where each bar begins, with its meter; of bars that are all alike only the first."""
    places: list[tuple[Fraction, Meter]] = []
    for index, (start, cycle) in enumerate(stretches):
        until = stretches[index + 1].start if index + 1 < len(stretches) else Fraction(end_q) + 1
        if len(set(cycle.meters)) == 1:
            places.append((start, cycle.meters[0]))
            continue
        while start < until and len(places) < MAX_BARS:
            places += [(start + bar, meter) for bar, meter in zip(cycle.bar_starts, cycle.meters, strict=True)]
            start += cycle.quarters
    return tuple(places)


def _by_program(track: "PieceTrack", take: "Take") -> list["PieceTrack"]:
    """The track with the sound its channel was set to; one track a channel where the channels have different ones."""
    programs: dict[int, int] = {}
    for event in take.events:
        if len(event.data) == 2 and event.data[0] & 0xF0 == 0xC0:
            programs.setdefault(event.data[0] & 0x0F, event.data[1] + 1)
    channels = sorted(set(track.channel.tolist()))
    found = {programs.get(channel) for channel in channels}
    if len(found) <= 1:
        return [replace(track, program=found.pop() if found else None)]
    parts = []
    for channel in channels:
        rows = np.flatnonzero(track.channel == channel)
        parts.append(
            replace(
                track,
                name=f"{track.name}, channel {channel + 1}",
                onset_q=track.onset_q[rows],
                duration_q=track.duration_q[rows],
                pitch=track.pitch[rows],
                velocity=track.velocity[rows],
                channel=track.channel[rows],
                bends=tuple(track.bends[row] for row in rows.tolist()),
                program=programs.get(channel),
            )
        )
    return parts


# ---- words ------------------------------------------------------------------------------------------------------------------


def _tempo_text(brief: "Brief", tempo: "TempoMap", asked: bool) -> str:
    if asked:
        return str(brief.tempo)
    qpm = [f"{point[2]:.3f}".rstrip("0").rstrip(".") for point in tempo.points]
    changes = [now for now, before in zip(qpm[1:], qpm[:-1], strict=True) if now != before]
    return (
        qpm[0]
        if not changes
        else f"{qpm[0]}, then {len(changes)} changes"
        if len(changes) > 1
        else " then ".join([qpm[0], *changes])
    )


def _meter_text(stretches: Sequence["Stretch"]) -> str:
    texts = [str(stretch.cycle) for stretch in stretches]
    return " then ".join(texts) if len(texts) <= 4 else f"{' then '.join(texts[:2])} and {len(texts) - 2} changes more"


def _readable(found: dict[str, Any], brief: "Brief") -> str:
    from loopdeck.theory.pitch import pitch_name

    notes = found["notes"]
    swing = "straight" if found["swing"] == "straight" else f"swing {found['swing']}"
    lines = [
        f"{found['take']}: {_count(len(notes), 'note')} at {found['tempo']} in {found['meter']}",
        f"grid {found['grid']}, {swing}, strength {found['strength']} %, window {found['window']} %",
    ]
    if notes:
        lines += [
            f"{found['early']} early, {found['late']} late, {found['on_time']} within 6 ms;"
            f" median {_early_or_late(found['median_ms'])}, middle half ±{found['spread_ms']:.1f} ms",
            "",
        ]
        worst = sorted(notes, key=lambda note: (-abs(note["offset_ms"]), note["index"]))
        rows = [
            [
                note["bar"],
                note["written"],
                note["slot"],
                brief.scale.spell(note["pitch"]) if brief.scale is not None else pitch_name(note["pitch"]),
                f"{note['onset_sec']:.3f}",
                _early_or_late(note["offset_ms"]),
                f"{note['quantized_sec']:.3f}",
                note["index"],
            ]
            for note in worst
        ]
        shown, more = layout.cut(rows, layout.SCREEN_LINES - len(lines) - 4, "notes")
        headers = ("bar", "quarters in", "slot", "note", "second", "offset", "goes to", "index")
        lines.append(layout.table(shown, headers, right=(0, 2, 4, 5, 6, 7)))
        lines += [more] if more else []
    else:
        lines.append("There are no notes.")
    if found["output"] is not None:
        lines += ["", f"Written to {found['output']}."]
    return "\n".join(lines)


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _early_or_late(offset_ms: float) -> str:
    if abs(offset_ms) < 0.05:
        return "on the dot"
    return f"{abs(offset_ms):.1f} ms {'early' if offset_ms < 0 else 'late'}"
