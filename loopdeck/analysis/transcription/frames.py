"""Where the slots of each beat are played: straight, or moved by a swing.

Swing moves the places of grids made of halves; triplets and the other tuplets stay where they are
(as in ``rhythm.swing``).
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.assign import Frame, frame
from loopdeck.analysis.transcription.beats import Beats, CycleBeats, Stretch, cycle_beats
from loopdeck.analysis.transcription.grids import KIND, PLACES, POSITION, SWUNG
from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.meter import Cycle
from loopdeck.rhythm.swing import Swing, warp

_PLACE = np.array([float(place) for place in PLACES])
_AUTO = Grid("auto")


@lru_cache(maxsize=64)
def _frame(position: bytes, compound: bool) -> Frame:
    kind = KIND[int(compound)]
    return frame(np.frombuffer(position, np.float32).reshape(POSITION[kind].shape), kind)


def _positions(cycle: Cycle, beats: CycleBeats, number: int, swing: Swing) -> NDArray[np.float32]:
    """The played positions of the grids of one beat of a cycle."""
    kind = KIND[int(beats.compound[number])]
    straight = POSITION[kind]
    if swing.straight:
        return straight
    start, length = float(beats.start[number]), float(beats.length[number])
    moved = (warp(start + np.minimum(straight, 1.0) * length * (1 - 1e-9), cycle, swing, _AUTO) - start) / length
    return np.where(SWUNG[kind][:, None] & (straight < 1.0), moved, straight).astype(np.float32)


def frames(beats: Beats, stretches: Sequence[Stretch], swing: Swing) -> tuple[NDArray[np.int64], list[Frame]]:
    """The frames there are, and which of them each beat has, shape (m,)."""
    known: dict[tuple[bytes, bool], int] = {}
    shapes: list[Frame] = []
    of = np.zeros(len(beats.start_q), np.int64)
    for index, (_, cycle) in enumerate(stretches):
        table = cycle_beats(cycle)
        numbers = np.zeros(len(table.start), np.int64)
        here = np.flatnonzero(beats.stretch == index)
        if not len(here):
            continue
        for number, compound in enumerate(table.compound):
            key = (_positions(cycle, table, number, swing).tobytes(), compound)
            if key not in known:
                known[key] = len(shapes)
                shapes.append(_frame(*key))
            numbers[number] = known[key]
        of[here] = numbers[beats.number[here]]
        # A beat that is cut off by the next stretch is a simple one.
        odd = here[beats.compound[here] != np.array(table.compound)[beats.number[here]]]
        if len(odd):
            key = (POSITION[KIND[0]].tobytes(), False)
            if key not in known:
                known[key] = len(shapes)
                shapes.append(_frame(*key))
            of[odd] = known[key]
    return of, shapes


def played_q(
    beats: Beats,
    beat: NDArray[np.int64],
    place: NDArray[np.int64],
    grid: NDArray[np.int64],
    stretches: Sequence[Stretch],
    swing: Swing,
) -> NDArray[np.float64]:
    """Where places are played, quarters from the start of the take; ``beat``, ``place`` and
    ``grid`` (k,).
    """
    written = beats.start_q[beat] + _PLACE[place] * beats.length_q[beat]
    if swing.straight:
        return written
    found = written.copy()
    for index, (start, cycle) in enumerate(stretches):
        rows = np.flatnonzero((beats.stretch[beat] == index) & SWUNG[grid])
        found[rows] = warp(written[rows] - float(start), cycle, swing, _AUTO) + float(start)
    return found
