"""The map of what repeats: above, every note of the take; below, a row for each riff with a box
wherever it comes.

A box is full where the riff stands as it is, hatched where it is varied, and says by how much it is
moved; a heavy frame marks the cleanest. Readable in grey.
"""

from typing import TYPE_CHECKING, Any

import numpy as np

from loopdeck.cli.pictures import GROUND, INK, LINE, QUIET, SHADE, clock_axis, head, name_pitches, new_figure, save

if TYPE_CHECKING:
    from loopdeck.shelf.material import Material

#: Rows that are still readable; the best riffs.
_MOST_ROWS = 12
#: Room beside the first and the last note, of the width of the take: a note is a whole square.
_MARGIN = 0.012


def draw(found: dict[str, Any], material: "Material", path: str) -> None:
    """Draw into ``path``. Raises OSError."""
    riffs = found["riffs"][:_MOST_ROWS]
    rows = max(len(riffs), 1)
    figure, (above, below) = new_figure(
        14.0, 3.4 + 0.55 * rows, rows=2, sharex=True, gridspec_kw={"height_ratios": [2.2, 0.55 * rows + 0.3]}
    )
    onset_sec = material.notes.array["onset_sec"]
    covered = np.zeros(len(material), bool)
    for riff in riffs:
        for one in riff["occurrences"]:
            covered[one["indices"]] = True
    pitch = material.notes.array["pitch"]
    above.plot(onset_sec[~covered], pitch[~covered], ".", color=QUIET, markersize=3, alpha=0.55)
    above.plot(onset_sec[covered], pitch[covered], "s", color=INK, markersize=3)
    name_pitches(above, pitch, material.brief.scale)
    head(above, found["take"], ": what repeats")
    width = max(float(np.ptp(onset_sec)) if len(onset_sec) else 1.0, 1e-3)
    for row, riff in enumerate(riffs):
        _row(below, rows - 1 - row, riff, width)
    if len(onset_sec):
        ends = onset_sec + material.notes.array["duration_sec"]
        below.set_xlim(onset_sec.min() - _MARGIN * width, max(onset_sec.max() + _MARGIN * width, ends.max()))
    below.set_ylim(-0.6, rows - 0.4)
    below.set_yticks(range(rows), [_label(riff) for riff in reversed(riffs)] or ["nothing"], color=INK, fontsize=12)
    below.tick_params(axis="y", length=0)
    clock_axis(below)
    save(figure, path)


def _label(riff: dict[str, Any]) -> str:
    return f"{riff['name']}   {len(riff['occurrences'])} x"


def _row(plot: Any, at: int, riff: dict[str, Any], width: float) -> None:
    plot.axhline(at, color=LINE, linewidth=1, zorder=0)
    for number, one in enumerate(riff["occurrences"]):
        exact = one["alike"] >= 1.0
        plot.barh(
            at,
            max(one["end_sec"] - one["start_sec"], width * 0.002),
            left=one["start_sec"],
            height=0.56,
            facecolor=SHADE if exact else GROUND,
            edgecolor=INK,
            hatch=None if exact else "////",
            linewidth=3.0 if number == riff["best"] else 1.0,
        )
        if one["transposed"]:
            middle = (one["start_sec"] + one["end_sec"]) / 2
            plot.text(middle, at + 0.33, f"{one['transposed']:+d}", ha="center", va="bottom", fontsize=9, color=INK)
