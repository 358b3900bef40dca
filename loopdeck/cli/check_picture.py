"""The scale as a row: twelve degrees above the root, how long each sounds, and which of them are in
the scale.

Bars of ink stand for degrees inside, hollow hatched ones for those outside; the root has a double
edge. Below, the scales that would explain the playing, with their probabilities. Readable in grey.
"""

from typing import TYPE_CHECKING, Any

import numpy as np

from loopdeck.cli.pictures import GROUND, INK, LINE, QUIET, SHADE, head, new_figure, save

if TYPE_CHECKING:
    from loopdeck.shelf.material import Material


def draw(found: dict[str, Any], material: "Material", path: str) -> None:
    """Draw into ``path``. Raises OSError."""
    from loopdeck.theory.scale import Scale, parse_scale

    explains = found["explains"]
    scale: Scale = material.brief.scale or parse_scale(explains[0]["scale"] if explains else "C ionian")
    index = [note["index"] for note in found["notes"]]
    array = material.notes.array[index]
    steps = (array["pitch"].astype(int) - scale.root.pitch_class) % 12
    time = np.bincount(steps, array["duration_sec"], 12)
    counts = np.bincount(steps, minlength=12)
    share = 100 * time / time.sum() if time.sum() > 0 else 100.0 * counts / max(counts.sum(), 1)
    figure, (above, below) = new_figure(
        11.0, 6.6, rows=2, gridspec_kw={"height_ratios": [3.0, 0.5 + 0.42 * max(len(explains), 1)]}
    )
    for step in range(12):
        _degree(
            above, step, float(share[step]), int(counts[step]), bool(scale.mask[(scale.root.pitch_class + step) % 12])
        )
    names = [scale.spell(60 + scale.root.pitch_class + step).rstrip("-0123456789") for step in range(12)]
    labels = [f"{name}\n{degree}" for name, degree in zip(names, scale.degree_table, strict=True)]
    above.set_xticks(range(12), labels, color=INK, fontsize=13)
    above.set_ylabel("% of the sounding time", color=QUIET, fontsize=11)
    above.set_ylim(0, max(float(share.max()) * 1.32, 1.0))
    _words(above, bool(counts[~scale.mask[(scale.root.pitch_class + np.arange(12)) % 12]].sum()))
    head(above, material.title, _said(found, material, str(scale)), share=0.75)
    _explains(below, explains)
    save(figure, path)


def _words(plot: Any, outside: bool) -> None:
    """What the looks of the bars mean, and the numbers above them."""
    from matplotlib.patches import Patch

    looks = [Patch(facecolor=INK, edgecolor=INK, label="in the scale")]
    if outside:
        looks.append(Patch(facecolor=GROUND, edgecolor=INK, hatch="////", label="outside"))
    looks.append(Patch(facecolor="none", edgecolor="none", label="double edge: root; numbers: notes"))
    plot.legend(handles=looks, loc="upper right", ncols=3, fontsize=11, frameon=False, labelcolor=INK)


def _said(found: dict[str, Any], material: "Material", scale: str) -> str:
    if material.brief.scale is None:
        return f": read as {scale}"
    return f" in {scale}: {found['outside']} of {len(found['notes'])} notes outside"


def _degree(plot: Any, step: int, share: float, count: int, inside: bool) -> None:
    plot.bar(
        step,
        share,
        width=0.7,
        facecolor=INK if inside else GROUND,
        edgecolor=INK,
        hatch=None if inside else "////",
        linewidth=1.6,
    )
    if step == 0:
        plot.bar(step, share, width=0.84, facecolor="none", edgecolor=INK, linewidth=1.6)
    if inside and not count:
        plot.plot([step - 0.35, step + 0.35], [0, 0], color=INK, linewidth=5, solid_capstyle="butt", clip_on=False)
    if count:
        plot.annotate(
            str(count), (step, share), (0, 4), textcoords="offset points", ha="center", color=INK, fontsize=12
        )


def _explains(plot: Any, explains: list[dict[str, Any]]) -> None:
    rows = len(explains)
    for row, one in enumerate(explains):
        at = rows - 1 - row
        plot.barh(at, 100 * one["probability"], height=0.62, facecolor=SHADE, edgecolor=INK)
        outside = "all notes in" if not one["outside"] else f"{one['outside']} outside"
        plot.text(
            100 * one["probability"] + 1.2,
            at,
            f"{100 * one['probability']:.0f} %, {outside}",
            va="center",
            fontsize=12,
            color=INK,
            backgroundcolor=GROUND,
        )
    plot.set_yticks(range(rows), [one["scale"] for one in reversed(explains)], color=INK, fontsize=13)
    plot.tick_params(axis="y", length=0)
    plot.set_xlim(0, 118)
    plot.set_xticks([0, 25, 50, 75, 100])
    plot.set_ylim(-0.6, max(rows, 1) - 0.4)
    plot.axvline(100, color=LINE, linewidth=1, zorder=0)
    plot.set_xlabel("how likely, %", color=QUIET, fontsize=11)
