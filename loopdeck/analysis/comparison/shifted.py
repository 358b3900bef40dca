"""A take at the target's tempo that begins elsewhere, or goes round the target several times.

Method
    Every pair of notes of equal pitch votes for the time by which one lies behind the other. Where
    most votes gather is the shift; of equal ones the nearest to 0. A simple vote, as in the
    generalised Hough transform (Ballard, Pattern Recognition 13(2), 1981).

Conventions
    Notes are (onsets in seconds, pitches), shapes (n,), by onset.
"""

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.comparison.matching import match

Notes = tuple[NDArray[np.float64], NDArray[np.int64]]

#: So many notes of the target vote, spread evenly, and at most so many votes are counted.
_VOTERS, _MOST_VOTES = 300, 2_000_000
#: A shift whose votes are this share of the most is as good if it is nearer.
_AS_GOOD = 0.97
#: Fewer notes come again by chance; no more rounds than this are counted.
_FEWEST, _MOST_ROUNDS = 3, 64


def shift_of(played: Notes, target: Notes, tolerance_sec: float) -> float:
    """By how many seconds the take lies behind the target; 0.0 where no two notes are of equal
    pitch.
    """
    votes = _votes(played, target)
    if not len(votes):
        return 0.0
    first = np.searchsorted(votes, votes - tolerance_sec)
    counts = np.searchsorted(votes, votes + tolerance_sec, "right") - first
    good = np.flatnonzero(counts >= _AS_GOOD * counts.max())
    centre = votes[good[np.abs(votes[good]).argmin()]]
    # The nearest may stand at the edge of its heap.
    heap = np.abs(votes - centre) <= 2 * tolerance_sec
    centre = votes[heap][counts[heap].argmax()]
    return float(np.median(votes[np.abs(votes - centre) <= tolerance_sec]))


def shifts_of(played: Notes, target: Notes, wanted: tuple[float, int, int]) -> NDArray[np.float64]:
    """The shifts at which most notes of equal pitch gather, that with most of them first, in
    seconds. ``wanted``: the tolerance in seconds, how many votes a shift needs, how many shifts.
    """
    tolerance_sec, least, most = wanted
    votes = _votes(played, target)
    counts = np.searchsorted(votes, votes + tolerance_sec, "right") - np.searchsorted(votes, votes - tolerance_sec)
    found: list[float] = []
    while len(found) < most and len(votes) and (best := int(counts.argmax())) >= 0 and counts[best] >= least:
        near = np.abs(votes - votes[best]) <= tolerance_sec
        centre = float(np.median(votes[near]))
        found.append(centre)
        # What lies beside it is the same one, its votes spread by the playing.
        counts = np.where(np.abs(votes - centre) <= 2 * tolerance_sec, 0, counts)
    return np.array(found)


def _votes(played: Notes, target: Notes) -> NDArray[np.float64]:
    """The time between every two notes of equal pitch, rising."""
    voters = _VOTERS if len(played[0]) * _VOTERS <= _MOST_VOTES else max(_MOST_VOTES // len(played[0]), 1)
    if not len(target[0]):
        return np.zeros(0)
    some = np.unique(np.linspace(0, len(target[0]) - 1, voters).astype(int))
    found = [played[0][played[1] == target[1][one]] - target[0][one] for one in some]
    return np.sort(np.concatenate(found))


def rounds(played: Notes, place_sec: NDArray[np.float64], pitch: NDArray[np.int64], more: tuple[float, float]) -> int:
    """How many more times the target comes among notes that are not part of it: ``played`` those,
    ``place_sec`` and ``pitch`` (m,) the target. ``more``: the tolerance in seconds, and which share
    of the target makes a round.
    """
    tolerance_sec, share = more
    least = max(share * len(pitch), _FEWEST)
    found = 0
    while len(played[0]) >= least and found < _MOST_ROUNDS:
        shift = shift_of(played, (place_sec, pitch), tolerance_sec)
        again = [one for one, _ in match(*played, place_sec + shift, pitch, tolerance_sec)]
        if len(again) < least:
            break
        found += 1
        played = np.delete(played[0], again), np.delete(played[1], again)
    return found
