"""The riffs of a take as they are reported, and one of them onto the shelf: for ``loopdeck riffs``,
for ``loopdeck harvest``, and for the page at the end of a session.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np

from loopdeck.analysis.repeats.riffs import to_dict
from loopdeck.errors import UserError
from loopdeck.shelf.excerpt import excerpt
from loopdeck.shelf.found_riffs import riffs_of
from loopdeck.shelf.material import Material
from loopdeck.shelf.store import Shelf


def report_riffs(material: Material, remarks: Sequence[str] = ()) -> dict[str, Any]:
    """What the reports say: ``take``, ``notes`` (how many were searched), ``drums`` (how many were
    left out), ``riffs``, ``says``, and the ``remarks`` as they are given.
    """
    index = np.flatnonzero(material.pitched)
    riffs = [to_dict(riff) for riff in riffs_of(material)]
    for riff in riffs:
        for one in riff["occurrences"]:
            one["bar"] = int(material.bars[one["indices"][0]])
    return {
        "take": material.title,
        "notes": len(index),
        "drums": len(material) - len(index),
        "riffs": riffs,
        "remarks": list(remarks),
        "says": _says(riffs, len(index), material.brief.scale is not None),
    }


def _says(riffs: list[dict[str, Any]], notes: int, scale: bool) -> list[str]:
    if not notes:
        return ["There are no notes."]
    if notes == 1:
        return ["One note alone cannot come back."]
    if not riffs:
        return [f"Nothing comes back among the {notes} notes, or only what chance would bring."]
    first = riffs[0]
    times = len(first["occurrences"])
    varied = sum(one["alike"] < 1.0 or one["transposed"] != 0 for one in first["occurrences"])
    what = f"{first['name']} comes {_times(times)}" + (f", {varied} of them varied" if varied else ", always the same")
    best = first["occurrences"][first["best"]]
    says = [f"{what}; its cleanest is {'at ' if best['bar'] >= 1 else ''}{place_words(best)}."]
    if scale and first["in_scale"] < 1.0:
        says.append(f"{round(100 * (1 - first['in_scale']))} % of its notes are outside the scale.")
    return says


def _times(count: int) -> str:
    return "twice" if count == 2 else f"{count} times"


def place_words(occurrence: dict[str, Any]) -> str:
    """Where a riff comes: ``bar 5 (0:08)``, or ``before the start``, where no bars are counted."""
    if occurrence["bar"] < 1:
        return "before the start"
    return f"bar {occurrence['bar']} ({_clock(occurrence['start_sec'])})"


def bars_words(occurrences: list[dict[str, Any]], most: int) -> str:
    """The bars in which the first ``most`` begin, ``1, 5, ...``; those before the start are
    counted: ``2 before, 1, 5``.
    """
    bars = [one["bar"] for one in occurrences[:most]]
    early = sum(bar < 1 for bar in bars)
    told = [f"{early} before"] if early else []
    told += [str(bar) for bar in bars if bar >= 1]
    return ", ".join(told) + (", ..." if len(occurrences) > most else "")


def _clock(seconds: float) -> str:
    """Minutes and seconds: ``1:07``."""
    whole = int(max(seconds, 0.0))
    return f"{whole // 60}:{whole % 60:02d}"


def chosen_riff(riffs: list[dict[str, Any]], asked: str, where: str) -> dict[str, Any]:
    """The riff that was asked for by its place or its letter. Raises UserError with those there
    are."""
    asked, names = asked.strip(), [riff["name"] for riff in riffs]
    if not names:
        raise UserError(f"There is no riff {asked!r} to keep: nothing comes back in {where}.")
    if asked.isdecimal() and 1 <= int(asked) <= len(names):
        return riffs[int(asked) - 1]
    if asked.upper() in names:
        return riffs[names.index(asked.upper())]
    last = f"1 to {len(names)}, or {names[0]} to {names[-1]}" if len(names) > 1 else f"1, or {names[0]}"
    raise UserError(f"There is no riff {asked!r} in {where}; it has {last}.")


def keep_riff(material: Material, riff: dict[str, Any], name: str, shelf_path: str | None) -> dict[str, Any]:
    """Put the cleanest performance of a riff on the shelf. Raises UserError, OSError."""
    take = excerpt(material, riff["occurrences"][riff["best"]]["indices"], name)
    with Shelf(shelf_path) as shelf:
        number = shelf.add(take)
    return {"riff": riff["name"], "number": number, "name": name}
