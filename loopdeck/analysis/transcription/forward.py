"""The forward pass of the best way through all beats, many stretches of beats abreast.

What a step costs is mostly the call of each array operation, not its work. So a long take is cut
into stretches that are walked at once. Each begins ``_BEFORE`` beats early, from every state alike:
as soon as the best ways to all states share a beat, their scores are the true ones but for a
constant. This is checked where two stretches meet; a stretch of which it does not hold is walked
again from the true scores.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.beats import CUTS
from loopdeck.analysis.transcription.choices import TOP, Choices

#: Choices of a beat that begin (or end) at one cut, and all of them.
_WAYS, _STATES = CUTS * TOP, CUTS * CUTS * TOP
#: Steps whose links are looked up at once, all stretches together.
_BLOCK = 1024
#: Stretches walked abreast at most, the least beats of each, and the beats that each begins early.
_ABREAST, _LEAST, _BEFORE = 32, 48, 12
#: Scores below this are of impossible states. Constants may differ by this much.
_POSSIBLE, _ALIKE = -1e8, 0.01
#: (start cut, end cut, choice) to (end cut, start cut, choice)
_TURNED = np.arange(_STATES).reshape(CUTS, CUTS, TOP).transpose(1, 0, 2).reshape(CUTS, 1, _WAYS)


class Forward(NamedTuple):
    """``source`` (m, states): the way into each state from the beat before; ``reached`` (states,):
    the scores of the last beat's states without ``constant``.
    """

    source: NDArray[np.int8]
    reached: NDArray[np.float32]
    constant: float


class _Walk:
    """Steps from beat to beat; keeps where each state was best reached from."""

    def __init__(self, found: Choices, follows: NDArray[np.float32], score: NDArray[np.float32]) -> None:
        count = len(score)
        # Rows by the cut that two beats share: a beat's choices by their end cut, the next one's by
        # their start cut.
        self._after = found.grid.reshape(count, CUTS, _WAYS).astype(np.int64)
        self._before = found.grid.transpose(0, 2, 1, 3).reshape(count, CUTS, _WAYS) * np.int64(follows.shape[1])
        self._follows = follows
        self.local = score.reshape(count, _STATES)
        self.source = np.zeros((count, _STATES), np.int8)

    def go(self, first: NDArray[np.int64], reached: NDArray[np.float32], steps: int) -> NDArray[np.float32]:
        """``steps`` beats on from the beats ``first`` (k,), whose states have the scores
        ``reached`` (k, states); returns those of the last beats.
        """
        abreast = len(first)
        flat = reached.reshape(-1)
        turned = _TURNED + (np.arange(abreast) * _STATES)[:, None, None, None]
        rows = np.arange(abreast * _STATES) * _WAYS
        size = max(_BLOCK // abreast, 1)
        for begin in range(0, steps, size):
            beats = first + np.arange(begin + 1, min(begin + size, steps) + 1)[:, None]
            pairs = self._before[beats - 1][:, :, :, None, :] + self._after[beats][:, :, :, :, None]
            links = self._follows.take(pairs)
            local = self.local[beats].reshape(len(beats), -1)
            came = np.empty((len(beats), abreast * _STATES), np.int8)
            for step, link in enumerate(links):
                through = flat.take(turned) + link
                best = through.reshape(-1, _WAYS).argmax(axis=1)
                came[step] = best
                flat = through.take(best + rows) + local[step]
            self.source[beats] = came.reshape(*beats.shape, _STATES)
        return flat.reshape(abreast, _STATES)


def forward(found: Choices, follows: NDArray[np.float32], score: NDArray[np.float32]) -> Forward:
    """Where each state of each beat is best reached from; at least one beat."""
    walk = _Walk(found, follows, score)
    count = len(score)
    reached = np.full((1, _STATES), -1e9, np.float32)
    reached[0, :_WAYS] = walk.local[0, :_WAYS]
    stretches = min(_ABREAST, (count - 1) // _LEAST)
    if stretches < 2:
        return Forward(walk.source, walk.go(np.zeros(1, np.int64), reached, count - 1)[0], 0.0)
    length = (count - 1) // stretches
    first = np.arange(stretches) * length
    met = walk.go(first[1:] - _BEFORE, walk.local[first[1:] - _BEFORE], _BEFORE)
    ends = walk.go(first, np.concatenate((reached, met)), length)
    constant = 0.0
    for stretch in range(1, stretches):
        beyond = _constant(ends[stretch - 1], met[stretch - 1])
        if beyond is None:
            ends[stretch] = walk.go(first[stretch : stretch + 1], ends[stretch - 1 : stretch], length)[0]
        else:
            constant += beyond
    last = first[-1:] + length
    return Forward(walk.source, walk.go(last, ends[-1:], count - 1 - int(last[0]))[0], constant)


def _constant(true: NDArray[np.float32], early: NDArray[np.float32]) -> float | None:
    """By how much the scores of all possible states differ; None if not all by the same."""
    possible = true > _POSSIBLE
    if not np.array_equal(possible, early > _POSSIBLE):
        return None
    beyond = (true - early)[possible]
    return float(beyond.mean()) if len(beyond) and float(np.ptp(beyond)) < _ALIKE else None
