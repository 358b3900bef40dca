"""``loopdeck feel``: what the timing of a take was: its swing, what comes early or late, and how
steady it is.
"""

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from loopdeck.cli import report as layout
from loopdeck.cli.guard import check_picture_option
from loopdeck.cli.take_arguments import add_take_arguments, open_material, tempo_assumed

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from loopdeck.analysis.feel import FeelFound
    from loopdeck.shelf.material import Material

HELP = "what the timing of a take was: swing, early and late by place, drift, accents"

#: So many notes each tell how playing and layers are swung.
_ENOUGH = 8


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    add_take_arguments(parser, brief=("tempo", "meter", "grid", "swing"), picture=True)


def run(args: argparse.Namespace) -> int:
    """Report; 0 however the timing was."""
    check_picture_option(args, args.take)
    material = open_material(args)
    feel = measured(material)
    found = as_dict(feel, material, tempo_assumed(args, material))
    if args.picture is not None:
        from loopdeck.cli.feel_picture import draw

        draw(feel, material, found["says"], args.picture)
    if args.json:
        import json

        print(json.dumps(found))
    else:
        print(_readable(found))
    return 0


def measured(material: "Material") -> "FeelFound":
    """The feel of all the notes, drums too: they keep time."""
    import numpy as np

    return _measured(material, np.ones(len(material), bool))


def _measured(material: "Material", chosen: "NDArray[np.bool_]") -> "FeelFound":
    from loopdeck.analysis.feel import measure

    array, brief = material.notes.array[chosen], material.brief
    return measure(
        array["onset_sec"],
        array["pitch"],
        array["velocity"],
        material.tempo,
        material.stretches,
        brief.grid,
        brief.swing,
    )


def _apart(material: "Material") -> str:
    """What there is to say where playing and layers are swung each in their own way."""
    from loopdeck.analysis.feel_sentences import swung_apart

    played = material.source == 0
    if min(played.sum(), (~played).sum()) < _ENOUGH:
        return ""
    return swung_apart(_measured(material, played), _measured(material, ~played))


def as_dict(feel: "FeelFound", material: "Material", first: Sequence[str] = ()) -> dict[str, Any]:
    """What is printed; ``first`` is what has to be said before everything else."""
    from loopdeck.analysis.feel import report
    from loopdeck.analysis.feel_sentences import MOST_SAID, says

    return {
        "take": material.title,
        "meter": str(feel.cycle),
        "grid": str(material.brief.grid),
        "brief_swing": str(material.brief.swing),
        **report(feel),
        "says": [*first, *says(feel, _apart(material))][:MOST_SAID],
    }


def _readable(found: dict[str, Any]) -> str:
    brief = "straight" if found["brief_swing"].startswith("straight") else f"swing {found['brief_swing']}"
    lines = layout.folded(
        f"{found['take']}: {found['count']} note{'' if found['count'] == 1 else 's'} in {found['meter']}, "
        f"against {found['grid']}, {brief}."
    )
    for sentence in found["says"]:
        lines += layout.folded(sentence)
    if found["slots"]:
        several = len(found["meter"].split()) > 1
        worst = sorted(found["slots"], key=lambda one: -abs(one["median_ms"]))
        rows = [
            [
                f"{one['bar_in_cycle']}:{one['count']}" if several else one["count"],
                one["notes"],
                _early_or_late(one["median_ms"]),
                f"{one['spread_ms']:.1f} ms",
                round(one["velocity"]),
            ]
            for one in worst
        ]
        shown, more = layout.cut(rows, max(layout.SCREEN_LINES - len(lines) - 4, 3), "places")
        lines += ["", layout.table(shown, ("beat", "notes", "median", "spread", "velocity"), right=(1, 2, 3, 4))]
        lines += [more] if more else []
    return "\n".join(lines)


def _early_or_late(ms: float) -> str:
    return "on the dot" if abs(ms) < 0.5 else f"{abs(ms):.0f} ms {'early' if ms < 0 else 'late'}"
