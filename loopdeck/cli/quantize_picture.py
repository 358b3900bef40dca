"""Quantizing as a picture: the cycle, with every played note over its slot; early below the line,
late above it.

Thin lines mark the slots that were struck, heavy ones the beats. A filled dot is a note, an open
one an ornament. Readable in grey.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from loopdeck.cli.pictures import GROUND, INK, LINE, QUIET, SHADE, head, new_figure, save

if TYPE_CHECKING:
    from loopdeck.rhythm.meter import Cycle
    from loopdeck.shelf.material import Material


def draw(found: dict[str, Any], material: "Material", headline: str, path: str) -> None:
    """Draw the report ``found`` (see ``analysis.timing.report``) into ``path``. Raises OSError."""
    figure, (plot,) = new_figure(13.0, 5.6)
    cycle = material.stretches[0].cycle
    notes = found["notes"]
    places = np.array([_place(note, cycle, len(material.stretches) == 1) for note in notes])
    offsets = np.array([note["offset_ms"] for note in notes])
    open_dots = np.array([note.get("ornament", False) for note in notes], bool)
    length = float(cycle.quarters) if len(material.stretches) == 1 else float(places.max(initial=0.0)) + 1
    _lines(plot, cycle, sorted(set(places.tolist())), length)
    jitter = np.random.default_rng(0).uniform(-0.025, 0.025, len(notes))
    for rows, face in ((~open_dots, INK), (open_dots, GROUND)):
        plot.plot(
            (places + jitter)[rows], offsets[rows], "o", markersize=5, alpha=0.6, markeredgecolor=INK, markerfacecolor=face
        )  # fmt: skip
    for place in np.unique(places):
        middle = float(np.median(offsets[places == place]))
        plot.plot([place - 0.06, place + 0.06], [middle] * 2, color=INK, linewidth=4, solid_capstyle="butt")
    reach = max(float(np.abs(offsets).max(initial=0.0)) * 1.1, 15.0)
    plot.set_ylim(-reach, reach)
    plot.set_xlim(-0.2, length + 0.05)
    plot.set_ylabel("early  -  ms  -  late", color=QUIET, fontsize=12)
    head(plot, headline, "", size=15.0)
    save(figure, path)


def _place(note: dict[str, Any], cycle: "Cycle", whole: bool) -> float:
    """Where a note stands in the cycle; in its bar where a take has several meters one after the
    other.
    """
    numerator, _, denominator = note["written"].partition("/")
    inside = int(numerator) / int(denominator or 1)
    bar = cycle.bar_starts[(note["bar"] - 1) % len(cycle.meters)] if whole else 0
    return float(bar) + inside


def _lines(plot: Any, cycle: "Cycle", struck: Sequence[float], length: float) -> None:
    from loopdeck.analysis.timing import ON_TIME_MS

    plot.axhspan(-ON_TIME_MS, ON_TIME_MS, color=SHADE, zorder=0)
    plot.axhline(0, color=LINE, linewidth=1.5, zorder=1)
    for place in struck:
        plot.axvline(place, color=LINE, linewidth=0.6, zorder=0)
    ticks, labels = [], []
    for click in cycle.clicks:
        if float(click.position) > length or click.kind == "between":
            continue
        heavy = 2.2 if click.kind == "bar" else 1.4
        plot.axvline(float(click.position), color=INK if click.kind == "bar" else QUIET, linewidth=heavy, zorder=1)
        ticks.append(float(click.position))
        labels.append(f"{click.beat}\nbar {click.bar + 1}" if click.kind == "bar" else str(click.beat))
    plot.set_xticks(ticks, labels, color=INK)
