"""Write the tables of docs/players.md anew from the code: ``python docs/make_players_page.py``."""

import argparse
from collections.abc import Sequence
from pathlib import Path

from loopdeck import configs
from loopdeck.brief.brief import SPECS, load_brief
from loopdeck.brief.spec import WHEN_WORDS
from loopdeck.brief.tunings import find_tuning, load_tuning
from loopdeck.midi.control_files import load_controls
from loopdeck.theory.formulas import ALIASES, SCALES
from loopdeck.theory.pitch import pitch_name
from loopdeck.toml_files import parse, read_text

PAGE = Path(__file__).with_name("players.md")


def _table(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    lines = [head, tuple("---" for _ in head), *rows]
    return "".join(f"| {' | '.join(cell.replace('|', '/') for cell in line)} |\n" for line in lines)


def fields() -> str:
    """Every field of a brief."""
    rows = [
        (
            f"`{name}`",
            one.title,
            one.about,
            one.hint,
            f"`{one.default}`" if one.default else "none",
            WHEN_WORDS[one.when],
        )
        for name, one in SPECS.items()
    ]
    return _table(("field", "called", "what it is for", "values", "if left out", "a change works"), rows)


def scales() -> str:
    """Every scale by its degrees."""
    others: dict[str, list[str]] = {}
    for other, name in ALIASES.items():
        others.setdefault(name, []).append(other)
    rows = [(name, " ".join(degrees), ", ".join(others.get(name, []))) for name, degrees in SCALES.items()]
    return _table(("scale", "degrees", "also called"), rows)


def tunings() -> str:
    """Every tuning that comes with loopdeck."""
    rows = []
    for path in sorted(configs.folder("tunings").glob("*.toml")):
        text = read_text(path, "a tuning")
        tuning = load_tuning(text, str(path))
        assert find_tuning(tuning.name) == tuning
        strings = " ".join(pitch_name(pitch, flats=True) for pitch in reversed(tuning.strings))
        rows.append((tuning.name, f"`{path.stem}`", strings, str(parse(text, str(path), "").get("about", ""))))
    return _table(("tuning", "on the command line", "open strings", "about"), rows)


def maps() -> str:
    """Every control map that comes with loopdeck."""
    names = sorted(path.stem for path in configs.folder("controls").glob("*.toml"))
    return _table(("map", "about"), [(f"`{name}`", " ".join(load_controls(name).about.split())) for name in names])


def briefs() -> str:
    """Every brief that comes with loopdeck."""
    rows = []
    for path in sorted(configs.folder("briefs").glob("*.toml")):
        brief = load_brief(path)
        rows.append(
            (f"`{path.stem}`", str(brief.tempo), str(brief.cycle), str(brief.scale or ""), str(brief.swing), brief.mood)
        )
    return _table(("brief", "tempo", "cycle", "scale", "swing", "mood"), rows)


TABLES = {"fields": fields, "scales": scales, "tunings": tunings, "maps": maps, "briefs": briefs}


def written(text: str) -> str:
    """The page with its tables as they are now."""
    for name, table in TABLES.items():
        before, rest = text.split(f"<!-- {name} -->\n")
        after = rest.split(f"<!-- end of {name} -->")[1]
        text = f"{before}<!-- {name} -->\n{table()}<!-- end of {name} -->{after}"
    return text


if __name__ == "__main__":
    argparse.ArgumentParser(description=__doc__).parse_args()
    PAGE.write_text(written(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
