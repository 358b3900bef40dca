"""Blue notes: which roots a line plays the blues on.

A blues line is minor pentatonic at heart, bends through the flat fifth, and borrows sixths, ninths
and major thirds on the way. By the notes alone that looks like dorian or mixolydian with something
outside, and no player would call it that. What gives it away is the flat fifth between fourth and
fifth: Titon, *Early Downhome Blues*, University of Illinois Press, 1977 (the blue third, fifth and
seventh as the movable degrees of the blues line; from memory).

Conventions
    k notes in order of onset: pitches as MIDI numbers, lengths in quarters, shape (k,). Roots are 0
    for C to 11 for B.
"""

import numpy as np
from numpy.typing import NDArray

#: Above the root in semitones: minor pentatonic, the flat fifth, and what a blues line has little
#: of.
_HEART, _FLAT_FIFTH, _RARE = (0, 3, 5, 7, 10), 6, (1, 8, 11)
#: The least share of the time of the heart and the flat fifth together, of the minor third and of
#: the minor seventh; the most of what is rare. This project's figures, no source.
_LEAST_HEART, _LEAST_THIRD, _LEAST_SEVENTH, _MOST_RARE = 0.7, 0.04, 0.04, 0.05
#: So many flat fifths must lie beside the fourth or the fifth, and that share of them; one must
#: lead down to the fourth, or so many up from the fourth through to the fifth.
_LEAST_TIMES, _LEAST_BESIDE = 2, 0.6


def roots_of_blues(pitch: NDArray[np.int64], length_q: NDArray[np.float64]) -> NDArray[np.bool_]:
    """For each root whether the line plays the blues on it, (12,)."""
    classes = pitch % 12
    time = np.bincount(classes, np.maximum(length_q, 0.0), 12)
    share = time / time.sum() if time.sum() > 0 else np.bincount(classes, minlength=12) / max(len(pitch), 1)
    moves = np.diff(pitch)
    into, out = np.concatenate(([99], moves)), np.concatenate((moves, [99]))
    return np.array([_is_blues(np.roll(share, -root), (classes - root) % 12, into, out) for root in range(12)])


def _is_blues(
    share: NDArray[np.float64], step: NDArray[np.int64], into: NDArray[np.int64], out: NDArray[np.int64]
) -> bool:
    """``share``: by degree; ``step``: the degree of each note; ``into`` and ``out``: the moves that
    lead to each note and away from it, in semitones.
    """
    if share[list(_HEART)].sum() + share[_FLAT_FIFTH] < _LEAST_HEART or share[list(_RARE)].sum() > _MOST_RARE:
        return False
    if share[3] < _LEAST_THIRD or share[10] < _LEAST_SEVENTH or not share[[5, 7]].all():
        return False
    flat = step == _FLAT_FIFTH
    beside = flat & ((np.abs(into) == 1) | (np.abs(out) == 1))
    # A raised fourth that leads to the fifth comes from anywhere, and never leads down.
    through = (flat & (into == 1) & (out == 1)).sum() >= _LEAST_TIMES or (flat & (out == -1)).any()
    return bool(beside.sum() >= max(_LEAST_TIMES, _LEAST_BESIDE * flat.sum()) and through)
