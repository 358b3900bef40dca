"""What every command that reads a take takes: ``TAKE``, which of it, and the brief to read it by.

A command calls ``add_take_arguments(parser)`` and ``open_material(args)``, and has the playing and
the layers as one ``Material``.
"""

import argparse
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loopdeck.shelf.material import Material
    from loopdeck.shelf.pickup_view import PickedUp
    from loopdeck.shelf.take import Take

#: What an option is called in a brief.
BRIEF_OPTIONS = {
    "tempo": "tempo",
    "meter": "cycle",
    "grid": "grid",
    "swing": "swing",
    "scale": "scale",
    "tuning": "tuning",
    "strength": "strength",
    "window": "window",
}
#: What --pickup says for no pickup at all.
NO_PICKUP = "none"
_BRIEF_HELP = {
    "tempo": ("TEMPO", "such as 96 or 8th=184, counted from the start; default: the take's own"),
    "meter": ("CYCLE", 'such as 7/8 or "4/4 4+3/8"; default: the take\'s own'),
    "grid": ("GRID", "1/4 1/8 1/16 1/32 1/8T 1/16T or auto; default: the brief's"),
    "swing": ("SWING", "such as 2:1, 58%% or straight; default: the brief's"),
    "scale": ("SCALE", 'such as "G dorian"; default: the brief\'s'),
    "tuning": ("TUNING", 'such as drop-d or "E1 A1 D2 G2"; default: the brief\'s'),
}


def add_take_arguments(
    parser: argparse.ArgumentParser,
    *,
    brief: tuple[str, ...] = ("tempo", "meter", "grid", "swing", "scale", "tuning"),
    many: bool = False,
    picture: bool = False,
    optional: bool = False,
) -> None:
    """Add TAKE and the options that go with it.

    ``brief``: which of ``BRIEF_OPTIONS`` the command lets one set. ``many``: one TAKE or more
    (``args.take`` is then a list). ``optional``: TAKE may be left out. ``picture``: also
    ``--picture``; whether it can be written is for the command to check.
    """
    words = "a take's number or name, or a Standard MIDI File"
    count = "+" if many else "?" if optional else None
    complete_takes(parser.add_argument("take", metavar="TAKE", nargs=count, help=words))
    parser.add_argument(
        "--played", action="store_true", help="only what was played; default: the playing and the layers"
    )
    parser.add_argument("--layers", action="store_true", help="only the layers, each once")
    for option in brief:
        metavar, what = _BRIEF_HELP[option]
        kind = {"scale": "scales", "tuning": "tunings"}.get(option)
        action = parser.add_argument(
            f"--{option}", metavar=metavar, help=with_names(what, kind) if kind is not None else what
        )
        if option in _CHOICES:
            set_completer(action, _CHOICES[option])
    profile = with_names(
        "see the playing through a pickup profile: cleaned up, delays removed; default: the one it was played with, if"
        " the take knows; none: as it arrived",
        "pickups",
    )
    complete_names(parser.add_argument("--pickup", metavar="PICKUP", help=profile), "pickups")
    parser.add_argument(
        "--bring-back",
        metavar="INDEX",
        type=int,
        action="append",
        default=[],
        help="show this note although the pickup's clean-up takes it for an error; may be given several times",
    )
    if picture:
        parser.add_argument("--picture", metavar="OUT.png|.svg", help="draw it into this file")
    add_json(parser)
    add_shelf(parser)


def add_json(parser: argparse.ArgumentParser) -> None:
    """Add ``--json``: a report for programs."""
    parser.add_argument("--json", action="store_true", help="print JSON and nothing else")


def add_shelf(parser: argparse.ArgumentParser, default: str | None = None) -> None:
    """Add ``--shelf``: where takes are looked up."""
    parser.add_argument("--shelf", metavar="FILE", default=default, help="the shelf, if not the usual one")


def with_names(words: str, kind: str) -> str:
    """The help of an option with the names there are: of ``scales``, or of configurations
    (``briefs``, ``tunings``, ``controls``, ``pickups``).
    """
    if not {"-h", "--help"} & set(sys.argv):
        # Nobody is going to read it.
        return words
    if kind == "scales":
        from loopdeck.theory.scale import SCALES as found
    else:
        from loopdeck import configs

        found = dict.fromkeys(configs.names(kind), ())
    return f"{words}. There are: {', '.join(found)}".replace("%", "%%" if "%%" not in words else "%")


# ---- completion in the shell ---------------------------------------------------------------------


def set_completer(action: argparse.Action, choices: Callable[..., Iterable[str]]) -> None:
    """What a shell offers for an argument (``loopdeck.cli.main`` says how)."""
    action.completer = choices  # type: ignore[attr-defined]


def complete_names(action: argparse.Action, kind: str) -> None:
    """Offer the names of configurations of one kind."""

    def names(**_more: object) -> list[str]:
        from loopdeck import configs

        return configs.names(kind)

    set_completer(action, names)


def complete_scales(action: argparse.Action) -> None:
    """Offer every scale on every root."""
    set_completer(action, _scales)


def complete_takes(action: argparse.Action) -> None:
    """Offer the numbers and names of the takes on the shelf, and files."""
    set_completer(action, _takes)


def _takes(prefix: str = "", parsed_args: argparse.Namespace | None = None, **_more: object) -> list[str]:
    from glob import escape, glob

    from loopdeck.errors import UserError
    from loopdeck.shelf.paths import default_shelf
    from loopdeck.shelf.store import Shelf

    where = Path(getattr(parsed_args, "shelf", None) or default_shelf())
    files = [path for path in glob(f"{escape(prefix)}*") if path.lower().endswith((".mid", ".midi", ".smf"))]
    if not where.exists():
        return files
    try:
        with Shelf(where) as shelf:
            rows = shelf.find()
    except (UserError, OSError):
        return files
    return [*(str(row["number"]) for row in rows), *(row["name"] for row in rows), *files]


def _scales(**_more: object) -> list[str]:
    from loopdeck.theory.scale import SCALES

    roots = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
    return [f"{root} {name}" for root in roots for name in SCALES]


def _tunings(**_more: object) -> tuple[str, ...]:
    from loopdeck.brief.tunings import names

    return names()


def _grids(**_more: object) -> tuple[str, ...]:
    from loopdeck.rhythm.grid import STEPS

    return (*STEPS, "auto")


_CHOICES: dict[str, Callable[..., Iterable[str]]] = {"scale": _scales, "tuning": _tunings, "grid": _grids}


def add_output(parser: argparse.ArgumentParser, metavar: str, words: str, required: bool = False) -> None:
    """Add the file to write: ``-o``, ``--out`` or ``--output``, as ``args.output``."""
    parser.add_argument("-o", "--out", "--output", dest="output", metavar=metavar, required=required, help=words)


def asked_brief(args: argparse.Namespace) -> dict[str, str]:
    """The fields of a brief that were given as options, as text.

    Raises UserError for an option that a brief cannot hold.
    """
    from loopdeck.brief.brief import Brief
    from loopdeck.theory.scale import parse_scale

    asked = {
        field: value for option, field in BRIEF_OPTIONS.items() if (value := getattr(args, option, None)) is not None
    }
    if asked.get("scale", "none").strip() == "":
        # In a brief no scale is written ""; on the command line that is a slip.
        parse_scale("")
    # Before a shelf is opened: what is wrong on the command line is said first.
    Brief.default().replace(**asked)
    return asked


def open_material(args: argparse.Namespace, take: "str | Take | None" = None) -> "Material":
    """The material of ``args.take`` (or of another ``take``, by its name or as it is, read with the
    same options).

    Raises UserError, OSError.
    """
    from loopdeck.rhythm.tempo import TempoMap
    from loopdeck.shelf.material import material_of, one_cycle
    from loopdeck.shelf.source import open_take

    asked = asked_brief(args)
    named = args.take if take is None else take
    found = open_take(named, args.shelf) if isinstance(named, str) else named
    brief = found.brief.replace(**asked)
    tempo = TempoMap.steady(brief.tempo) if "tempo" in asked else None
    both = args.played == args.layers
    stretches = one_cycle(brief) if "cycle" in asked else None
    material = material_of(
        found, brief, played=both or args.played, layers=both or args.layers, tempo=tempo, stretches=stretches
    )
    found_view = view_of(material, args.pickup, args.bring_back)
    return material if found_view is None else found_view.material


def tempo_assumed(args: argparse.Namespace, material: "Material") -> list[str]:
    """A sentence where a file names no tempo, so that it has the 120 of the MIDI file format, and
    none was asked for: bars and beats hang on it.
    """
    from loopdeck.shelf.take import IMPORTED

    take = material.take
    if take.origin != IMPORTED or take.recording.tempo_map or args.tempo is not None:
        return []
    if material.brief.tempo.quarters_per_minute != 120.0:
        return []
    return ["The file names no tempo; 120 is assumed (--tempo sets another)."]


def view_of(material: "Material", name: str | None, bring_back: Iterable[int] = ()) -> "PickedUp | None":
    """The material as a pickup profile shows it: that of this name, else the one it was played
    with; None for none. Raises UserError, OSError.
    """
    from loopdeck.errors import UserError
    from loopdeck.shelf.pickup_view import as_kept

    if name is not None and name.strip().lower() == NO_PICKUP:
        name, kept = None, None
    else:
        kept = as_kept(material, _among(bring_back, material)) if name is None else None
    if name is None and kept is None and bring_back:
        raise UserError(
            "--bring-back is for what a pickup's clean-up took out of view; name the profile with --pickup."
        )
    return kept if name is None else through_pickup(material, name, bring_back)


def _among(bring_back: Iterable[int], material: "Material") -> frozenset[int]:
    """The numbers of notes of the material. Raises UserError for another one."""
    from loopdeck.errors import UserError

    back = frozenset(bring_back)
    beyond = back - set(range(len(material)))
    if beyond:
        raise UserError(f"There is no note {min(beyond)} to bring back; they count from 0 to {len(material) - 1}.")
    return back


def through_pickup(material: "Material", name: str, bring_back: Iterable[int] = ()) -> "PickedUp":
    """The material as the pickup profile of that name shows it, with the delay that was measured
    for it.

    Notes in ``bring_back``, by their number, are shown whatever they look like. Raises UserError,
    OSError.
    """
    from dataclasses import replace

    from loopdeck.bass.pickup.profile import load_pickup
    from loopdeck.shelf.calibration import measured_delay
    from loopdeck.shelf.pickup_view import picked_up

    back = _among(bring_back, material)
    pickup = load_pickup(name)
    delay = measured_delay(name)
    return picked_up(material, pickup if delay is None else replace(pickup, latency=delay), back)
