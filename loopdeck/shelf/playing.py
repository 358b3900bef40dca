"""What the scale finder takes of a take: its pitched notes with their metrical weight."""

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.scale_features import strength
from loopdeck.analysis.scale_finder import Playing, playing_of
from loopdeck.shelf.material import Material
from loopdeck.shelf.take import IMPORTED


def pitched_playing(material: Material) -> tuple[Playing, NDArray[np.int64]]:
    """The playing without drums, and the index of each of its notes in the material.

    What was played live was cut out of a run, a file has ends.
    """
    index = np.flatnonzero(material.pitched)
    array = material.notes.array[index]
    meters = {meter for stretch in material.stretches for meter in stretch.cycle.meters}
    bar_q = float(material.stretches[0].cycle.meters[0].quarters)
    playing = playing_of(
        array["pitch"],
        material.onset_q[index],
        material.duration_q[index],
        _strong(material)[index],
        bar_q,
        material.take.origin == IMPORTED,
        meters.pop() if len(meters) == 1 else None,
    )
    return playing, index


def _strong(material: Material) -> NDArray[np.float64]:
    """How strong the written place of each note is."""
    placed = material.placed
    if len(material.stretches) > 1:
        rows = zip(placed.bar.tolist(), placed.written, strict=True)
        return np.array([strength(material.meter_of(bar), written) for bar, written in rows], float)
    numbers, first, back = np.unique(placed.slot, return_index=True, return_inverse=True)
    by_slot = [strength(material.meter_of(int(placed.bar[row])), placed.written[row]) for row in first.tolist()]
    return np.array(by_slot, float)[back] if len(numbers) else np.zeros(0)
