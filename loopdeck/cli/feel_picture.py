"""The feel as a picture: the cycle with every played note over its slot, and the swing as a
distribution with its interval.

Above, time runs to the right and late is up; each dot is a note, a heavy bar the median of its
slot, and the band around the middle line is what cannot be heard. Below, where in the pair the
second notes lie. Readable in grey.
"""

from typing import TYPE_CHECKING, Any

import numpy as np

from loopdeck.cli.pictures import GROUND, INK, LINE, QUIET, SHADE, head, new_figure, save

if TYPE_CHECKING:
    from loopdeck.analysis.feel import FeelFound
    from loopdeck.analysis.swing_estimate import Swung, Turns
    from loopdeck.shelf.material import Material

_NAMES = {"1/8": "eighths", "1/16": "sixteenths"}


def draw(feel: "FeelFound", material: "Material", says: list[str], path: str) -> None:
    """Draw into ``path``. Raises OSError."""
    figure, (above, below) = new_figure(13.0, 7.8, rows=2, gridspec_kw={"height_ratios": [1.7, 1.0]})
    _cycle(above, feel)
    head(above, material.title, f": {says[0]}", size=15.0)
    _pairs(below, feel)
    save(figure, path)


def _cycle(plot: Any, feel: "FeelFound") -> None:
    from loopdeck.analysis.swing_estimate import NOTICED_MS

    plot.axhspan(-NOTICED_MS, NOTICED_MS, color=SHADE, zorder=0)
    plot.axhline(0, color=LINE, linewidth=1.5, zorder=1)
    for group in feel.cycle.groups:
        bar = group.start in feel.cycle.bar_starts
        plot.axvline(float(group.start), color=INK if bar else LINE, linewidth=2.2 if bar else 1, zorder=1)
    spread = np.random.default_rng(0)
    for one in feel.slots:
        at = float(one.written)
        values = feel.offset_ms[(feel.slot == one.slot) & np.isfinite(feel.offset_ms)]
        beside = at + spread.uniform(-0.03, 0.03, len(values))
        # Of a thousand notes of one place the crowd is to be seen, not each.
        alpha = min(0.7, max(30 / max(len(values), 1), 0.04))
        plot.plot(beside, values, "o", color=QUIET, markersize=4.5, alpha=alpha, markeredgewidth=0)
        plot.plot([at - 0.08, at + 0.08], [one.median_ms] * 2, color=INK, linewidth=4, solid_capstyle="butt")
    drawn = np.abs(feel.offset_ms[(feel.slot >= 0) & np.isfinite(feel.offset_ms)])
    reach = max(float(np.max(drawn, initial=0.0)) * 1.1, 15.0)
    plot.set_ylim(-1.25 * reach, reach)
    plot.set_xlim(-0.25, float(feel.cycle.quarters) + 0.1)
    labels = [one for one in feel.slots if len(feel.slots) <= 36 or " " not in one.counted]
    plot.set_xticks(
        [float(one.written) for one in labels], [one.counted.replace(" ", "\n") for one in labels], color=INK
    )
    label = "early  -  ms  -  late"
    if round(feel.constant_ms):
        early = "ahead of" if feel.constant_ms < 0 else "behind"
        label += f"\nfrom {abs(feel.constant_ms):.0f} ms {early} the click"
    plot.set_ylabel(label, color=QUIET, fontsize=12)
    _words(plot, feel, reach)


def _words(plot: Any, feel: "FeelFound", reach: float) -> None:
    """What dots, bars and the band are, and which bar of the cycle begins where."""
    plot.plot([], [], "o", color=QUIET, markersize=6, label="a note")
    plot.plot([], [], color=INK, linewidth=4, label="the middle one of a place (median)")
    plot.fill_between([], [], color=SHADE, label="too little to be heard")
    plot.legend(
        loc="lower right", ncols=3, fontsize=11, frameon=True, facecolor=GROUND, edgecolor=GROUND, labelcolor=INK
    )
    for number, start in enumerate(feel.cycle.bar_starts if len(feel.cycle.meters) > 1 else (), 1):
        plot.text(
            float(start) + 0.05, 0.97 * reach, f"bar {number}", color=INK, fontsize=12, va="top", backgroundcolor=GROUND
        )


def _pairs(plot: Any, feel: "FeelFound") -> None:
    unit = feel.fit.main
    one = None if unit is None else feel.fit.found[unit]
    plot.set_yticks([])
    if unit is None or one is None:
        plot.set_xticks([])
        plot.text(
            0.5, 0.5, "Too few pairs to tell a swing.", ha="center", color=INK, fontsize=14, transform=plot.transAxes
        )
        return
    shares = 100 * feel.shares
    shown = shares[(shares > 35) & (shares < 90)]
    turns = feel.fit.turns
    if turns is None:
        plot.axvspan(100 * one.share_low, 100 * one.share_high, color=SHADE, zorder=0)
    counts, _, _ = plot.hist(shown, bins=np.arange(35, 90.1, 1.0), facecolor=GROUND, edgecolor=INK, hatch="///")
    top = max(float(np.max(counts)), 1.0)
    for share, text in _marked(one, turns):
        plot.plot([100 * share] * 2, [0, top * 1.12], color=INK, linewidth=3.5)
        left = 100 * share + 0.6
        plot.text(left, top * 1.14, text, color=INK, fontsize=13, va="bottom", backgroundcolor=GROUND, zorder=4)
    for percent, name in ((50.0, "straight"), (200 / 3, "2:1"), (75.0, "3:1")):
        plot.axvline(percent, color=LINE, linewidth=1.4, linestyle=(0, (4, 3)))
        plot.text(percent, top * 1.3, name, color=QUIET, fontsize=11, ha="center", va="bottom", backgroundcolor=GROUND)
    plot.set_ylim(0, top * 1.48)
    plot.set_xlim(40, 85)
    plot.set_xlabel(f"the second of two {_NAMES[unit]}, % of the pair ({one.pairs} pairs)", color=QUIET, fontsize=12)


def _marked(one: "Swung", turns: "Turns | None") -> list[tuple[float, str]]:
    """Where a heavy line stands, and what is written at it."""
    if turns is None:
        return [(one.share, f"{one.ratio:.2f}:1  ({one.low:.2f} to {one.high:.2f}, 95 %)")]
    swung, straight = len(turns.swung), len(turns.straight)
    return [
        (0.5, f"{straight} bars"),
        (turns.share, f"{turns.share / (1 - turns.share):.2f}:1 in {swung} bars"),
    ]
