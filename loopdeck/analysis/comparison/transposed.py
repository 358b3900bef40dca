"""Whether a take is the target at another height, as when a keyboard stands an octave up."""

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.comparison.matching import match

_FARTHEST = 24
#: So few notes lie at one height by chance.
_FEWEST = 3
_NAMES = {1: "a semitone", 2: "a whole tone", 5: "a fourth", 7: "a fifth", 12: "an octave", 24: "two octaves"}

_Notes = tuple[NDArray[np.float64], NDArray[np.int64]]


def transposition(played: _Notes, target: _Notes, tolerance_sec: float, share: float) -> int:
    """By how many semitones the take lies above the target: the shift, of up to two octaves, at
    which most notes are there in time, octaves first; 0 where that is less than ``share`` of them.

    Notes are (onsets in seconds, pitches), shapes (n,) and (m,), by onset.
    """
    least = max(share * min(len(played[0]), len(target[0])), _FEWEST)
    best, found = 0, 0
    for shift in sorted(
        (one for one in range(-_FARTHEST, _FARTHEST + 1) if one), key=lambda one: (one % 12 != 0, abs(one))
    ):
        count = len(match(*played, target[0], target[1] + shift, tolerance_sec))
        if count >= least and count > found:
            best, found = shift, count
    return best


def height_words(semitones: int) -> str:
    """``an octave higher``, ``3 semitones lower``."""
    return f"{_NAMES.get(abs(semitones), f'{abs(semitones)} semitones')} {'higher' if semitones > 0 else 'lower'}"
