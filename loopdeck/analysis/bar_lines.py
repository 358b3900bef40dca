"""Where the bars of a melody begin, when its file may have begun with a pickup at the first tick.

Conventions
    Places and lengths are quarters. A reading says where the first whole bar begins, with its
    probability; the readings of one melody add up to 1.

Method
    Many files begin their first bar with the pickup, so that every bar line of theirs is too early.
    Of a melody that begins on a bar line every place in its first bar is tried as the first
    downbeat: how many notes fall on the bar lines, how long they are and the ones before them, how
    far the melody leaps to them, whether it ends on a strong place, how long the pickup would be.
    A conditional logit over these places, fitted on the printed bar lines of folk tunes
    (``tests/fitting/fit_bar_lines.py``), gives the probabilities. A melody that does not begin on a
    bar line has its rest written, and its bar lines are believed.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis import scale_tables
from loopdeck.analysis.scale_features import BAR, BETWEEN, COUNT, GROUP, BarReading, Melody
from loopdeck.rhythm.meter import Meter

Floats = NDArray[np.float64]

#: What is looked at for each place, in the order of the fitted weights.
SIGNS = (
    "on bar lines", "long there", "long before", "leaps there", "on groups", "long on groups", "low there", "on counts",
    "ends on one", "ends on a group", "ends with a bar", "closes long", "whole parts", "whole halves",
    "none", "an eighth", "a sixteenth", "a quarter", "three eighths", "a half", "more than half a bar", "off the counts",
    "pickup's length", "none, whole bars", "some, whole bars", "none, first long",
)  # fmt: skip
#: A melody begins on a bar line when it begins this near to one,
_NEAR_Q = 0.13
#: a note stands on a line this near to it, and readings less likely than this are left out.
_ON_Q = 0.06
_UNLIKELY = 0.05


def strengths(onset_q: Floats, start_q: float, meter: Meter) -> Floats:
    """How strong each place is when a bar begins at ``start_q``, (k,), to the nearest sixteenth."""
    bar_q, unit_q = float(meter.quarters), float(meter.unit_quarters)
    place = np.round(((onset_q - start_q) % bar_q) * 4) / 4 % bar_q
    counts = place / unit_q
    strong = np.where(np.abs(counts - np.round(counts)) < 0.02, COUNT, BETWEEN)
    for group in meter.group_starts[1:]:
        strong[np.abs(place - float(group)) < 0.05] = GROUP
    strong[place < 0.05] = BAR
    return strong


def places(meter: Meter) -> Floats:
    """Where the first whole bar may begin, in quarters after the first note."""
    bar_q = float(meter.quarters)
    return np.arange(0.0, bar_q - 0.01, 0.25 if bar_q <= 3 else 0.5)


def signs(notes: Melody, meter: Meter) -> Floats:
    """What speaks for each of the ``places``, (places, len(SIGNS)); onsets from the first note
    on.
    """
    onset = notes.onset_q - notes.onset_q[0]
    length, bar_q = notes.length_q, float(meter.quarters)
    mean = max(float(length.mean()), 1e-6)
    long = np.log(np.maximum(length, mean / 64) / mean)
    before = np.concatenate([[0.0], long[:-1]])
    leaps = np.abs(np.diff(notes.pitch, prepend=notes.pitch[:1])) / 4
    low = notes.pitch < np.quantile(notes.pitch, 0.25)
    end = float(onset[-1] + length[-1])
    bars = max(end / bar_q, 1.0)
    starts, unit_q = [float(start) for start in meter.group_starts[1:]], float(meter.unit_quarters)
    groups = max(len(starts), 1)
    rows = []
    for place in places(meter).tolist():
        down = _on(onset - place, bar_q)
        group = np.zeros(len(onset), bool)
        for start in starts:
            group |= _on(onset - place - start, bar_q)
        told = [down.sum() / bars, long[down].sum() / bars, before[down].sum() / bars, leaps[down].sum() / bars]
        told += [group.sum() / bars / groups, long[group].sum() / bars / groups, low[down].sum() / bars]
        told += [_on(onset - place, unit_q).mean(), down[-1], group[-1]]
        told += [*_closing(end - place, float(length[-1]), bool(down[-1]), bar_q)]
        rows.append([*told, *_pickup(place, end, bar_q, unit_q), long[0] * (place == 0)])
    return np.array(rows, float)


def _on(from_line: Floats, line_q: float) -> NDArray[np.bool_]:
    return np.asarray((from_line + _ON_Q) % line_q < 2 * _ON_Q, bool)


def _closing(after_q: float, last_q: float, on_line: bool, bar_q: float) -> tuple[float, ...]:
    """How a melody ends that lasts ``after_q`` from its first downbeat on."""
    whole = (after_q + _ON_Q) % bar_q < 2 * _ON_Q
    bars = after_q / bar_q + 0.02
    return float(whole), last_q / bar_q * on_line, float(bars % 8 < 0.1), float(bars % 4 < 0.1)


def _pickup(place: float, end: float, bar_q: float, unit_q: float) -> tuple[float, ...]:
    """How long the pickup is, and whether the whole lasts whole bars."""
    whole = (end + _ON_Q) % bar_q < 2 * _ON_Q
    lengths = (0.0, 0.5, 0.25, 1.0, 1.5, 2.0)
    off = place % unit_q > 0.01
    return (
        *(float(place == length) for length in lengths),
        float(place > bar_q / 2),
        float(off),
        place / bar_q,
        float(whole and place == 0),
        float(whole and place > 0),
    )


@lru_cache(maxsize=1)
def _weights() -> Floats:
    lines = (line.split("|") for line in scale_tables.BAR_LINES.strip().splitlines())
    rows = {sign.strip(): float(number) / 100 for sign, number in lines}
    return np.array([rows[sign] for sign in SIGNS])


def begins_on_line(onset_q: float, bar_q: float) -> bool:
    """Whether what begins at ``onset_q`` begins on a bar line, so that the file may have been cut
    there.
    """
    return abs(onset_q - round(onset_q / bar_q) * bar_q) <= _NEAR_Q


def readings(notes: Melody, meter: Meter, weights: Floats | None = None) -> list[BarReading]:
    """The readings worth looking at of a melody of one meter, k >= 1 notes.

    ``weights``: of the SIGNS, (len(SIGNS),); the fitted ones if None. A time signature of more than
    16 quarters is believed.
    """
    bar_q = float(meter.quarters)
    line_q = round(float(notes.onset_q[0]) / bar_q) * bar_q
    if not begins_on_line(float(notes.onset_q[0]), bar_q) or bar_q > 16:
        return [BarReading(1.0, line_q, strengths(notes.onset_q, line_q, meter))]
    scored = signs(notes, meter) @ (_weights() if weights is None else weights)
    chance = np.exp(scored - scored.max())
    chance /= chance.sum()
    chance[(chance < _UNLIKELY) & (chance < chance.max())] = 0.0
    starts = places(meter) + line_q
    return [
        BarReading(float(chance[row] / chance.sum()), float(starts[row]), strengths(notes.onset_q, starts[row], meter))
        for row in np.flatnonzero(chance).tolist()
    ]
