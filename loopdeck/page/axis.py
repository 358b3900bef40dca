"""The axis of what is written: seconds to quarters with the swing taken out, so that a swung note
is as long on paper as a straight one.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.bass.technique.reading import Written
from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.swing import Swing, unwarp
from loopdeck.shelf.material import Material


class WrittenAxis:
    """Times of ``material`` on a grid; ``swing`` stands in for the brief's."""

    def __init__(self, material: Material, grid: Grid, swing: Swing | None = None) -> None:
        self._tempo, self._stretches = material.tempo, material.stretches
        self._grid, self._swing = grid, swing or material.brief.swing

    def played_q(self, times_sec: ArrayLike) -> NDArray[np.float64]:
        """Where times lie as they were played, quarters from the start of the first pass."""
        return np.asarray(self._tempo.quarters(np.asarray(times_sec, np.float64)))

    def written_q(self, times_sec: ArrayLike) -> NDArray[np.float64]:
        """The same without the swing."""
        played = self.played_q(times_sec)
        if self._swing.straight or not len(played):
            return played
        starts = np.array([float(stretch.start) for stretch in self._stretches])
        home = np.maximum(np.searchsorted(starts, played, side="right") - 1, 0)
        found = played.copy()
        for index in np.unique(home).tolist():
            rows = home == index
            cycle = self._stretches[index].cycle
            found[rows] = unwarp(played[rows] - starts[index], cycle, self._swing, self._grid) + starts[index]
        return found

    def lengths(self, notes: Sequence[Written]) -> list[float]:
        """How long notes sounded, in written quarters, at least 0."""
        on = self.written_q([note.onset_sec for note in notes])
        off = self.written_q([note.end_sec for note in notes])
        return [float(one) for one in np.maximum(off - on, 0.0)]
