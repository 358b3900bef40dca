"""What the notes of a take say about root and scale, as numbers relative to every possible root.

Conventions
    ``k`` notes in order of onset: MIDI pitches, weights of any unit, and for each how strong its
    metrical place is, 0 to 1. A row of features stands for one root, 0 for C to 11 for B; inside a
    row each kind of feature has twelve columns, one for each distance above that root in semitones.
    A tune that ends says something by its first and last note; a loop has no ends.
"""

from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.rhythm.meter import Meter

Floats = NDArray[np.float64]

#: The kinds of features, in order; each has twelve columns.
KINDS = (
    "share",  # of the sounding time and of the number of notes, half and half
    "root of share",  # its square root: a little is much more than nothing
    "present",  # 1 where the note occurs at all
    "strong",  # the share, by the strength of the metrical place
    "downbeat",  # the share of the notes that open a bar
    "long",  # the part of the share that notes longer than usual have: where phrases rest
    "low",  # the share of the notes of the lowest fifth
    "leapt to",  # where leaps of more than a major third land, as a share of all moves
    "lowest",  # the lowest note
    "to root",  # from where the root is reached, as a share of all moves
    "from root",  # and where it is left to
    "last",  # the last note of a tune
    "first",  # the first note, and
    "opening",  # the first one on a strong place
    "cadence",  # what sounds eight, sixteen ... bars before the end: where its parts end
    "half cadence",  # and four, twelve ... bars before it
)
#: The kinds that only a tune has.
ENDS = ("last", "first", "opening", "cadence", "half cadence")
#: How strong places are: the bar's first, the first of a group, a count, anything else.
BAR, GROUP, COUNT, BETWEEN = 1.0, 0.6, 0.35, 0.15


def strength(meter: Meter, in_bar: Fraction) -> float:
    """How strong a written place is, ``in_bar`` quarters after the start of a bar.

    This project's weights, no source.
    """
    if in_bar == 0:
        return BAR
    if in_bar in meter.group_starts:
        return GROUP
    return COUNT if in_bar % meter.unit_quarters == 0 else BETWEEN


def features(
    pitch: ArrayLike, onset_q: ArrayLike, duration: ArrayLike, strong: ArrayLike, bar_q: float, ends: bool
) -> Floats:
    """The features of k >= 1 notes, shape (12, 12 * len(KINDS)); ``onset_q``, ``duration`` and
    ``strong`` of shape (k,), ``bar_q`` a bar's length.

    ``ends``: whether first and last note count.
    """
    heard = np.asarray(pitch, np.int64)
    classes = heard % 12
    time = np.asarray(duration, float)
    mean = float(time.mean())
    weight = 1.0 + np.minimum(time, 6 * mean) / mean if mean > 0 else np.full(len(time), 2.0)
    place = np.asarray(strong, float)
    share = _share(classes, weight)
    usual = float(np.median(time))
    longer = time > 1.4 * usual
    low = heard < heard.min() + 8
    leap = np.abs(np.diff(heard)) > 4
    one = np.eye(12)
    opening = int(np.argmax(place >= GROUP)) if (place >= GROUP).any() else 0
    ended = 1.0 if ends else 0.0
    by_class = [
        share,
        np.sqrt(share),
        (np.bincount(classes, minlength=12) > 0).astype(float),
        _share(classes, weight * place),
        _share(classes[place >= BAR], weight[place >= BAR]),
        np.bincount(classes[longer], weight[longer], 12) / weight.sum(),
        _share(classes[low], weight[low]),
        np.bincount(classes[1:][leap], minlength=12) / max(len(heard) - 1, 1),
        one[classes[np.argmin(heard)]],
    ]
    tails = [one[classes[-1]] * ended, one[classes[0]] * ended, one[classes[opening]] * ended]
    onsets = np.asarray(onset_q, float)
    end = float(onsets[-1] + time[-1])
    for first in (8, 4):
        places = np.arange(end - first * bar_q, onsets[0] + bar_q, -8 * bar_q)
        before = np.searchsorted(onsets, places - 0.01, side="right") - 1
        tails.append(np.bincount(classes[before[before >= 0]], minlength=12) * (ended / max(len(places), 1)))
    moves = np.zeros((12, 12))
    np.add.at(moves, (classes[:-1], classes[1:]), 1.0)
    moves /= max(len(heard) - 1, 1)
    turn = (np.arange(12)[:, None] + np.arange(12)) % 12
    roots = np.arange(12)
    turned = [row[turn] for row in by_class]
    into = moves[turn, roots[:, None]]
    out_of = moves[roots[:, None], turn]
    return np.concatenate([*turned, into, out_of, *(row[turn] for row in tails)], axis=1)


def _share(classes: NDArray[np.int64], weight: Floats) -> Floats:
    counted = np.bincount(classes, weight, 12)
    total = counted.sum()
    return counted / total if total > 0 else np.full(12, 1 / 12)


def is_loop(pitch: ArrayLike, onset_q: ArrayLike, longest_q: float = np.inf, tolerance_q: float = 0.2) -> float:
    """The length in quarters of the row of pitches that comes round twice or more, with what is
    left over its beginning; 0.0 if there is none.

    ``onset_q``: shape (k,), quarters. Rows longer than ``longest_q`` are not looked for; the time
    taken grows with their number of notes.
    """
    heard, onsets = np.asarray(pitch, np.int64), np.asarray(onset_q, float)
    most = min(len(heard) // 2, int(np.searchsorted(onsets, onsets[0] + longest_q + tolerance_q, side="right")) - 1)
    for period in range(1, most + 1):
        # Most wrong periods are told by a glance at the beginning.
        if (heard[period : 2 * period] != heard[:period]).any() or (heard[period:] != heard[:-period]).any():
            continue
        gaps = onsets[period:] - onsets[:-period]
        if len(set(heard[:period].tolist())) > 1 and np.ptp(gaps) < tolerance_q:
            return float(np.median(gaps))
    return 0.0
