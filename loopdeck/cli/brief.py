"""``loopdeck brief``: constraints to write in: drawn from a mood, listed, shown."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loopdeck.cli.take_arguments import add_json, add_output, add_shelf, complete_names, set_completer, with_names
from loopdeck.errors import UserError

if TYPE_CHECKING:
    from loopdeck.brief.brief import Brief
    from loopdeck.practice.draw import Draw, Limit

#: The highest number of a draw.
_HIGHEST_SEED = 10**15

HELP = "constraints to write in: draw one from a mood, list, show"


def _moods(**_more: object) -> list[str]:
    from loopdeck.practice.moods import MOODS

    return list(MOODS)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The sub-commands."""
    acts = parser.add_subparsers(dest="act", metavar="ACTION", required=True)

    def act(name: str, words: str) -> argparse.ArgumentParser:
        sub = acts.add_parser(name, help=words, description=words[0].upper() + words[1:] + ".")
        add_json(sub)
        return sub

    drawing = act("draw", "draw a brief from a mood: scale, tempo, meter, feel, technique, and a first step to try")
    add = drawing.add_argument
    mood = add("--mood", metavar="MOOD", help="such as dark, happy, calm; without it, one is drawn too")
    set_completer(mood, _moods)
    add(
        "--keep",
        metavar="tempo,meter",
        help="hold these fields as they are in --brief, or without it as in the last draw",
    )
    ours = with_names("a brief to begin from, by name or file", "briefs")
    complete_names(add("--brief", metavar="FILE", help=ours), "briefs")
    add("--seed", type=int, metavar="N", help="draw number N: the same number gives the same draw")
    add("--like-kept", action="store_true", help="only from scales, meters and tempi of takes that you rated 4 or more")
    add("--untried", action="store_true", help="only scales and meters that no take of yours has")
    add("--back", action="store_true", help="take the last draw back, and show the one before it")
    add_shelf(drawing)
    add_output(drawing, "FILE.toml", "write the brief into this file")
    act("list", "the briefs there are, those that come with loopdeck and your own")
    showing = act("show", "everything a brief says")
    ours = with_names("a brief's name, or a TOML file", "briefs")
    complete_names(showing.add_argument("brief", metavar="BRIEF", help=ours), "briefs")


def run(args: argparse.Namespace) -> int:
    """Do one thing with briefs."""
    return {"draw": _run_draw, "list": _run_list, "show": _run_show}[args.act](args)


# ---- draw ----------------------------------------------------------------------------------------


def _run_draw(args: argparse.Namespace) -> int:
    from loopdeck.cli.guard import Kind, check_output
    from loopdeck.practice.drawn import default_draws, read_draws

    if args.seed is not None and not 0 <= args.seed <= _HIGHEST_SEED:
        raise UserError(f"The number of a draw is out of range; 0 to {_HIGHEST_SEED} would be right.")
    if args.output is not None:
        check_output(args.output, None, args.shelf, Kind("a brief", (".toml",)))
    memory = default_draws()
    draws = read_draws(memory)
    if args.back:
        found, draws = _back(args, draws)
    else:
        found = _draw(args, draws[-1] if draws else None).to_dict()
        draws = [*draws, found]
    if args.output is not None:
        _write(args.output, found)
    # A draw by its number tells nothing of what comes next, and leaves no trace.
    unsaid = "" if args.seed is not None else _remember(memory, draws)
    _print(args.json, found, _readable(found))
    if unsaid:
        print(f"loopdeck: {unsaid}", file=sys.stderr, flush=True)
    return 0


def _remember(memory: Path, draws: list[dict[str, Any]]) -> str:
    """Write the draws down; a sentence where that cannot be. The draw itself is there all the
    same.
    """
    from loopdeck.practice.drawn import write_draws

    try:
        write_draws(memory, draws)
    except OSError as error:
        return f"The draw is not remembered: {memory} cannot be written ({error.strerror or error})."
    return ""


def _back(args: argparse.Namespace, draws: list[dict[str, Any]]) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    others = ("mood", "keep", "brief", "seed")
    if any(getattr(args, name) is not None for name in others) or args.like_kept or args.untried:
        raise UserError("--back takes the last draw back and draws nothing; leave the other options out.")
    if len(draws) < 2:
        raise UserError("There is no draw before the last one to go back to.")
    return draws[-2], draws[:-1]


def _draw(args: argparse.Namespace, last: dict[str, Any] | None) -> "Draw":
    """One draw; without a seed, one that is not the last one again."""
    from loopdeck.brief.brief import brief_from_dict
    from loopdeck.practice.draw import parse_keep
    from loopdeck.practice.moods import find_mood
    from loopdeck.practice.redraw import draw_anew

    held = parse_keep(args.keep or "")
    if args.keep is not None and not held:
        raise UserError("There is nothing named to keep; say what, such as --keep tempo,meter.")
    before = brief_from_dict(last["brief"]) if last is not None else None
    base = _base(args, before if args.keep is not None and args.seed is None else None)
    mood = find_mood(args.mood) if args.mood is not None else None
    if "mood" in held:
        mood = _held_mood(mood, base.mood if base is not None else "")
    return draw_anew(mood, base, held, _limit(args), last, args.seed)


def _held_mood(asked: str | None, own: str) -> str:
    """The mood of the brief to begin from, which is held. Raises UserError."""
    from loopdeck.practice.moods import find_mood, known_words

    if not own:
        raise UserError("There is no mood to keep: the brief to begin from has none; name one with --mood.")
    if asked is not None and not set(own.lower().replace(",", " ").split()) & known_words():
        return asked
    held = find_mood(own)
    if asked not in (None, held):
        raise UserError(f"The mood to keep is {held}, and --mood asks for {asked}; leave one of them out.")
    return held


def _base(args: argparse.Namespace, before: "Brief | None") -> "Brief | None":
    """The brief to begin from: the one that was named, or the last draw."""
    if args.brief is None:
        return before
    from loopdeck import configs
    from loopdeck.brief.brief import load_brief

    return load_brief(configs.find("briefs", args.brief))


def _limit(args: argparse.Namespace) -> "Limit | None":
    """What the shelf has to say. Raises UserError."""
    if not (args.like_kept or args.untried):
        return None
    if args.like_kept and args.untried:
        raise UserError("--like-kept and --untried rule each other out; give one of them.")
    from loopdeck.practice.draw import LIKE_KEPT, UNTRIED
    from loopdeck.practice.redraw import limit_of
    from loopdeck.shelf.paths import default_shelf

    path = Path(args.shelf) if args.shelf is not None else default_shelf()
    return limit_of(LIKE_KEPT if args.like_kept else UNTRIED, path)


def _write(path: str, found: dict[str, Any]) -> None:
    """The brief as a file, with the first step and the reasons as remarks."""
    from loopdeck.atomic import whole_file
    from loopdeck.brief.brief import brief_from_dict, brief_to_toml

    remarks = [f"First step: {found['first_step']}.", *(f"{name}: {why}" for name, why in found["why"].items())]
    text = "".join(f"# {line}\n" for line in remarks) + brief_to_toml(brief_from_dict(found["brief"]))
    with whole_file(path) as file:
        file.write(text.encode())


def _readable(found: dict[str, Any]) -> str:
    from loopdeck.practice.draw import DRAWN

    lines = [f"{found['mood'].capitalize()}, draw {found['seed']}:"]
    titles = {"cycle": "meter", "swing": "feel"}
    for name in (*DRAWN, *(one for one in found["why"] if one not in (*DRAWN, "first_step"))):
        lines += [f"  {titles.get(name, name):<11}{found['brief'][name]}", f"  {'':<11}{found['why'][name]}"]
    lines += [f"  {'first step':<11}{found['first_step']}", f"  {'':<11}{found['why']['first_step']}"]
    return "\n".join(lines)


# ---- list and show -------------------------------------------------------------------------------


def _run_list(args: argparse.Namespace) -> int:
    from loopdeck.brief.folder import list_briefs
    from loopdeck.cli.report import table

    rows = []
    # One file of the player's own that is wrong hides none of the others; show says what is wrong
    # with it.
    for one in sorted(list_briefs(), key=lambda found: found.name):
        row: dict[str, Any] = {"brief": one.name, "file": str(one.path), "readable": one.brief is not None}
        if one.brief is not None:
            texts = one.brief.to_dict()
            row |= {key: texts[key] for key in ("name", "tempo", "cycle", "scale", "swing", "mood", "technique")}
        rows.append(row)
    keys = ("brief", "tempo", "cycle", "scale", "swing", "mood")
    cells = [[str(row.get(key, "cannot be read" if key == "tempo" else "")) for key in keys] for row in rows]
    _print(args.json, {"briefs": rows}, table(cells, ("brief", "tempo", "meter", "scale", "feel", "mood")))
    return 0


def _run_show(args: argparse.Namespace) -> int:
    from loopdeck import configs
    from loopdeck.brief.brief import SPECS, load_brief

    path = configs.find("briefs", args.brief)
    brief = load_brief(path)
    words = "\n".join(brief.sentence(name) for name in SPECS)
    _print(args.json, {"file": str(path), "brief": brief.to_dict()}, words)
    return 0


def _print(as_json: bool, found: dict[str, Any], words: str) -> None:
    if as_json:
        import json

        print(json.dumps(found))
    else:
        print(words)
