"""A grid of sixteenths laid under free playing: one for every tempo that is tried, each following
the player a little.

Method
    As in the tracking of beats by adaptive grids (Large & Kolen, "Resonance and the perception of
    musical meter", Connection Science 6(2-3), 1994; Dixon, "Automatic extraction of tempo and beat
    from expressive performances", Journal of New Music Research 30(1), 2001): each onset is given
    to the nearest place of the grid, and what it is off moves the grid and its tempo a little. The
    amounts are our own choice. Each tempo is tried straight and with swung eighths.

Conventions
    Seconds; ``period_sec`` is the length of a quarter. Slots are sixteenths, counted from the beat
    at or before the first onset. All grids are computed at once, as rows.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Tempos that are tried, quarters a minute, and the step from one to the next.
SLOWEST, FASTEST, _STEP = 50.0, 215.0, 1.012
#: Where the second of a pair of eighths falls: straight, and swung 3:2 and 2:1.
SHARES = (0.5, 0.6, 2 / 3)
#: How far an onset pulls the grid and its tempo, and how far that may wander in all.
_PULL, _LEARN, _WANDER = 0.35, 0.06, 0.06


class Grids(NamedTuple):
    """``c`` grids over ``k`` onsets. ``period_sec``, ``share``: shape (c,), as each began;
    ``slot``,
    ``off_sec``: shape (c, k), the place of each onset and how far it is from it."""

    period_sec: Floats
    share: Floats
    slot: Ints
    off_sec: Floats


def follow(onset_sec: Floats) -> Grids:
    """Lay all grids under the onsets, shape (k,), in order, no two together."""
    count = int(np.log(FASTEST / SLOWEST) / np.log(_STEP)) + 1
    period = 60.0 / (SLOWEST * _STEP ** np.arange(count))
    # Straight, a first onset off the beat is seen by the meter; swung, it decides what is long.
    kinds = [(SHARES[0], 0), *((share, first) for share in SHARES[1:] for first in (0, 2))]
    share = np.repeat([one for one, _ in kinds], count)
    first = np.repeat([one for _, one in kinds], count)
    start = np.tile(period, len(kinds))
    table = np.stack((0 * share, share / 2, share, (1 + share) / 2, 0 * share + 1), axis=1)
    slot, off = _laid(onset_sec, start, table, first)
    return Grids(start, share, slot, off)


def _laid(onset_sec: Floats, start: Floats, table: Floats, first: Ints) -> tuple[Ints, Floats]:
    rows = np.arange(len(start))
    period = start.copy()
    beat_sec = onset_sec[0] - table[rows, first] * period
    slot = np.zeros((len(start), len(onset_sec)), np.int64)
    off = np.zeros(slot.shape)
    slot[:, 0] = first
    beat = np.zeros(len(start), np.int64)
    for index, sec in enumerate(onset_sec[1:], 1):
        at = (sec - beat_sec) / period
        whole = np.maximum(np.floor(at), 0.0)
        near = np.abs((at - whole)[:, None] - table).argmin(axis=1)
        place = whole + table[rows, near]
        beats = np.minimum(whole + (near == 4), 1e6)
        error = sec - beat_sec - place * period
        slot[:, index] = 4 * (beat + whole.astype(np.int64)) + near
        off[:, index] = error
        beat = beat + beats.astype(np.int64)
        beat_sec = beat_sec + beats * period + _PULL * error
        learned = period + _LEARN * error / np.maximum(place, 1.0)
        period = np.clip(learned, start * (1 - _WANDER), start * (1 + _WANDER))
    return slot, off
