"""The places in the beat that somebody played to, where nothing says so: a file with notes knows
its tempo, but not whether they were eighths, triplets or swung.

Method
    Of the usual ways to divide a beat the one is taken around whose places the onsets lie closest,
    for the number of places it has: the spread around them (median, so that wrong notes do not
    count) times their number. A swung division must be clearly better than the same without swing,
    since the unsteadiness of hands would always let one win a little. Common practice, no source.
"""

import numpy as np
from numpy.typing import NDArray

#: A division that was not asked for, and a swung one against the same played straight, have at most
#: this share of the other's spread.
BETTER, SWUNG = 0.7, 0.75
_STRAIGHT = tuple(np.arange(count) / count for count in (1, 2, 4, 3, 6))
_SHARES = np.arange(0.53, 0.76, 0.01)
_EIGHTHS = tuple(np.array([0.0, share]) for share in _SHARES)
_SIXTEENTHS = tuple(np.array([0.0, share / 2, 0.5, 0.5 + share / 2]) for share in _SHARES)


def division_of(at_q: NDArray[np.float64], offered_q: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """The places within a quarter (0 to 1) that onsets ``at_q`` (n,) were played to; None where the
    places ``offered_q`` (rising, over the whole playing) do as well. Both count in quarters.
    """
    if len(at_q) < 2 or len(offered_q) < 2:
        return None
    phases = at_q % 1.0
    straight, best = min(((_cost(phases, one), one) for one in _STRAIGHT), key=lambda pair: pair[0])
    swung, swing = min(((_cost(phases, one), one) for one in (*_EIGHTHS, *_SIXTEENTHS)), key=lambda pair: pair[0])
    cost, division = (swung, swing) if swung < SWUNG * straight else (straight, best)
    density = (len(offered_q) - 1) / float(offered_q[-1] - offered_q[0])
    after = np.clip(np.searchsorted(offered_q, at_q), 1, len(offered_q) - 1)
    off = np.where(
        at_q - offered_q[after - 1] < offered_q[after] - at_q, at_q - offered_q[after - 1], at_q - offered_q[after]
    )
    if cost >= BETTER * _spread(off) * density:
        return None
    return division if division is best else _swung(phases, division)


def _cost(phases: NDArray[np.float64], division: NDArray[np.float64]) -> float:
    return _spread(_located(phases, division)[1]) * len(division)


def _located(
    phases: NDArray[np.float64], division: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """The place that each phase is nearest to, and how far it is from that."""
    off = phases[:, None] - division[None, :]
    off -= np.rint(off)
    places = np.abs(off).argmin(axis=1)
    return places, off[np.arange(len(phases)), places]


def _swung(phases: NDArray[np.float64], division: NDArray[np.float64]) -> NDArray[np.float64]:
    """A swung ``division`` with its late places where they were played."""
    places, off = _located(phases, division)
    late = places % 2 == 1
    by = float(np.median(off[late]) - np.median(off[~late])) if 0 < late.sum() < len(late) else 0.0
    return division + np.where(np.arange(len(division)) % 2 == 1, by, 0.0)


def _spread(off: NDArray[np.float64]) -> float:
    return float(np.median(np.abs(off - np.median(off))))
