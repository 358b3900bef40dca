"""Whether a take is the target at another pitch, as when a keyboard stands an octave up."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.comparison.matching import match

_FARTHEST = 24
#: So few notes lie at one height by chance.
_FEWEST = 3
#: Distances are rounded before they are held against the tolerance.
_ROUNDED_SEC = 1e-4
_NAMES = {1: "a semitone", 2: "a whole tone", 5: "a fourth", 7: "a fifth", 12: "an octave", 24: "two octaves"}

_Notes = tuple[NDArray[np.float64], NDArray[np.int64]]


def transposition(played: _Notes, target: _Notes, tolerance_sec: float, share: float) -> int:
    """By how many semitones the take lies above the target: the shift, of up to two octaves, at
    which most notes are there in time, octaves first; 0 where that is less than ``share`` of them.

    Notes are (onsets in seconds, pitches), shapes (n,) and (m,), by onset.
    """
    least = max(share * min(len(played[0]), len(target[0])), _FEWEST)
    best, found, near = 0, 0, _near(played, target, tolerance_sec)
    for shift in sorted(
        (one for one in range(-_FARTHEST, _FARTHEST + 1) if one), key=lambda one: (one % 12 != 0, abs(one))
    ):
        at_most = near(shift)
        if at_most < least or at_most <= found:
            continue
        count = len(match(*played, target[0], target[1] + shift, tolerance_sec))
        if count >= least and count > found:
            best, found = shift, count
    return best


def _near(played: _Notes, target: _Notes, tolerance_sec: float) -> Callable[[int], int]:
    """For a shift, how many notes of the target have any note of their pitch near enough: a
    matching is no larger, and takes much longer to find.
    """
    every = np.concatenate((played[0], target[0]))
    room = float(np.ptp(every)) + 1.0 if len(every) else 1.0
    first = float(every.min()) if len(every) else 0.0
    line = np.sort(played[1] * room + played[0] - first)
    reach = tolerance_sec + _ROUNDED_SEC

    def count(shift: int) -> int:
        due = (target[1] + shift) * room + target[0] - first
        return int((np.searchsorted(line, due + reach, "right") > np.searchsorted(line, due - reach, "left")).sum())

    return count


def height_words(semitones: int) -> str:
    """``an octave higher``, ``3 semitones lower``."""
    return f"{_NAMES.get(abs(semitones), f'{abs(semitones)} semitones')} {'higher' if semitones > 0 else 'lower'}"
