"""The comparison as a picture: above, the target's notes as boxes with what was played in them;
below, how early or late each note was.

Hollow boxes were missed, crosses are wrong notes, plus signs were added: no colour is needed. Time
is the target's.
"""

from typing import TYPE_CHECKING, Any

import numpy as np

from loopdeck.analysis.comparison.comparing import STRICT_SEC, TOLERANCE_SEC
from loopdeck.cli.pictures import INK, LINE, NOW, QUIET, SHADE, head, name_pitches, new_figure, save

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from loopdeck.analysis.comparison.comparing import Comparison
    from loopdeck.shelf.material import Material


def draw(made: "Comparison", take: "Material", target: "Material", path: str) -> None:
    """Draw into ``path``. Raises OSError."""
    figure, (above, below) = new_figure(14.0, 7.0, rows=2, sharex=True, gridspec_kw={"height_ratios": [2.0, 1.0]})
    wanted, played = target.notes.array, take.notes.array
    place = wanted["onset_sec"]
    missed = np.zeros(len(wanted), bool)
    missed[made.missed] = True
    _boxes(above, wanted[~missed], facecolor=SHADE, linewidth=0.8)
    _boxes(above, wanted[missed], facecolor="none", linewidth=1.6, linestyle="--")
    wrong = {one for one, _, _ in made.wrong}
    moment = _in_target_time(made, played["onset_sec"], place)
    added = [one for one in made.added if one not in wrong]
    rest = np.setdiff1d(np.arange(len(played)), made.added)
    above.bar([0], [0], facecolor=SHADE, edgecolor=INK, linewidth=0.8, label="target")
    above.plot(moment[rest], played["pitch"][rest], ".", color=INK, markersize=9, label="played")
    above.plot(moment[added], played["pitch"][added], "+", color=INK, markersize=11, mew=2, label="added")
    crosses = sorted(wrong)
    above.plot(moment[crosses], played["pitch"][crosses], "x", color=NOW, markersize=10, mew=2.5, label="wrong")
    above.bar([0], [0], facecolor="none", edgecolor=INK, linestyle="--", label="missed")
    above.margins(y=0.08)
    pitches = np.concatenate((wanted["pitch"], played["pitch"]))
    if len(pitches):
        above.set_ylim(float(pitches.min()) - 2, float(pitches.max()) + 2)
    name_pitches(above, pitches, target.brief.scale or take.brief.scale)
    score = f"F1 {made.scores['f1']:.3f}" + ("" if made.by == "time" else ", by order")
    head(above, f"{take.title} against {target.title}", f": {score}", share=0.55)
    above.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=5, fontsize=11, frameon=False, labelcolor=INK)
    timed = sorted({*made.matched, *made.early, *made.late})
    for edge, style in ((TOLERANCE_SEC, "-"), (STRICT_SEC, ":")):
        for side in (-1000.0, 1000.0):
            below.axhline(side * edge, color=LINE, linestyle=style, linewidth=1.4)
    below.axhline(0.0, color=QUIET, linewidth=1)
    below.vlines([place[other] for _, other, _ in timed], 0, [ms for _, _, ms in timed], color=INK, linewidth=1.2)
    below.plot([place[other] for _, other, _ in timed], [ms for _, _, ms in timed], "o", color=INK, markersize=4)
    if len(wanted) and len(played):
        # A take that goes on for long after the target must not make the target small.
        start, end = float(place.min()), float((place + wanted["duration_sec"]).max())
        room = max(0.25 * (end - start), 1.0)
        above.set_xlim(max(start - room, min(start, moment.min()) - 0.5), min(end + room, max(end, moment.max()) + 0.5))
    below.set_ylabel("early  ·  late   (ms)", color=QUIET, fontsize=11)
    below.set_xlabel("seconds of the target", color=QUIET, fontsize=11)
    save(figure, path)


def _boxes(plot: "Axes", notes: np.ndarray, **look: Any) -> None:
    """A box for each note, all of them as one thing to draw: an hour has thousands."""
    from matplotlib.collections import PolyCollection

    left, pitch = notes["onset_sec"], notes["pitch"].astype(float)
    right = left + np.maximum(notes["duration_sec"], 0.02)
    across, up = np.stack([left, left, right, right], 1), np.stack([pitch - 0.4, pitch + 0.4] * 2, 1)
    up[:, 2:] = up[:, 1::-1]
    plot.add_collection(PolyCollection(list(np.stack([across, up], 2)), edgecolor=INK, **look))


def _in_target_time(made: "Comparison", onset_sec: np.ndarray, place: np.ndarray) -> np.ndarray:
    """Where played notes stand in the target's time: as they are, or by order along the pairs."""
    if made.by == "time" or len(made.matched) < 2:
        return np.asarray(onset_sec)
    ones = [one for one, _, _ in made.matched]
    others = [other for _, other, _ in made.matched]
    slope = 1.0 / made.ratio
    inner = np.interp(onset_sec, onset_sec[ones], place[others])
    before, after = onset_sec < onset_sec[ones[0]], onset_sec > onset_sec[ones[-1]]
    inner[before] = place[others[0]] + (onset_sec[before] - onset_sec[ones[0]]) * slope
    inner[after] = place[others[-1]] + (onset_sec[after] - onset_sec[ones[-1]]) * slope
    return np.asarray(inner)
