"""Two takes held against each other, in a sentence or two: one cycle of each, its layers and its
best pass.
"""

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.comparison.comparing import compare
from loopdeck.analysis.comparison.transposed import height_words
from loopdeck.shelf.looping import BEST, loop_of
from loopdeck.shelf.take import Take

#: Tempi that differ by less, in quarters a minute, are one.
_SAME_QPM = 0.5


def side_by_side(take: Take, target: Take) -> str:
    """How near ``take`` is to ``target``. Raises UserError where one has nothing to compare."""
    mine, theirs = _cycle_of(take), _cycle_of(target)
    made = compare(*mine, *theirs)
    if made.transposed:
        words = f"{take.name} lies {height_words(made.transposed)} than {target.name}, with {len(made.moved)} of its {made.targets} notes"
    else:
        right = made.targets - len(made.missed)
        share = f"all {right}" if right == made.targets > 1 else f"{right} of the {made.targets}"
        notes = "note" if made.targets == 1 else "notes"
        words = f"{take.name} has {share} {notes} of {target.name}"
        others = "other" if len(made.added) == 1 else "others"
        words += f", and {len(made.added)} {others}" if made.added else ""
    if made.by == "time" and made.matched:
        middle = float(np.median(made.offsets_ms))
        way = "late" if middle > 0 else "early"
        words += f"; {abs(middle):.0f} ms {way}" if abs(middle) >= 0.5 else "; in time"
        words += f", F1 {made.scores['f1']:.2f}"
    qpm, other = (one.brief.tempo.quarters_per_minute for one in (take, target))
    tempo = f" Their tempi are {qpm:g} and {other:g}." if abs(qpm - other) >= _SAME_QPM else ""
    return f"{words}.{tempo}"


def _cycle_of(take: Take) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Onsets in seconds and pitches of one cycle, by onset, then pitch; shape (n,) each."""
    found = loop_of(take, BEST)
    rows = [row for layer in found["layers"] for row in layer["notes"]]
    sec = np.array([row[0] for row in rows]) * 60.0 / take.brief.tempo.quarters_per_minute
    pitch = np.array([row[2] for row in rows], np.int64)
    order = np.lexsort((pitch, sec))
    return sec[order], pitch[order]
