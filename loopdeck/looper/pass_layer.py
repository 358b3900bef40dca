"""From a pass of playing to a layer.

Conventions
    The layer is as it was played: nothing is quantized here. A note still held is given the whole
    cycle for now; the layer is made again when the note ends. An early downbeat at the very end of
    the pass belongs to the next one; where that is not layered and the pass has nothing of its own
    on slot 0, it becomes the layer's downbeat, and sounds from the downbeat after the one that the
    player played.
"""

import numpy as np
from numpy.typing import NDArray

from loopdeck.capture.notes import STRAIGHT_BEND
from loopdeck.looper.layers import LAYER_DTYPE, Layer, channel_of
from loopdeck.looper.recorder import PassRecord, Played, Recorder


def can_be_layer(record: PassRecord, follower: PassRecord | None) -> bool:
    """True when a layer of ``record`` would have a note."""
    if record.notes or follower is None or follower.layered:
        return bool(record.notes)
    return any(note.at_q < 0.0 for note in follower.notes)


def notes_of(record: PassRecord, follower: PassRecord | None) -> list[tuple[Played, int]]:
    """The notes that make the layer of ``record``, each with the first pass in which it may
    sound.
    """
    chosen = [(note, record.index + 1) for note in record.notes]
    wraps = follower is not None and not follower.layered and not any(note.slot == 0 for note in record.notes)
    if follower is not None and wraps:
        chosen += [(note, record.index + 2) for note in follower.notes if note.at_q < 0.0]
    chosen.sort(key=lambda pair: (pair[0].at_q, pair[0].id))
    return chosen


def layer_of(
    record: PassRecord, follower: PassRecord | None, number: int, program: int, recorder: Recorder, qpm: float
) -> Layer:
    """The layer of a pass.

    ``recorder`` knows the bend curves; ``qpm`` turns their seconds into quarters.
    """
    chosen = notes_of(record, follower)
    cycle_q, scale = float(record.cycle_q), np.array([qpm / 60.0, 1.0])
    notes = np.zeros(len(chosen), LAYER_DTYPE)
    bends: list[NDArray[np.float64]] = []
    for row, (note, first_pass) in enumerate(chosen):
        end_q = note.end_q if note.end_q is not None else note.at_q + cycle_q
        duration_q = min(max(end_q - note.at_q, 0.0), cycle_q)
        notes[row] = (note.at_q, duration_q, note.pitch, note.velocity, note.channel, note.string, first_pass)
        curve = recorder.bend_of(note)
        bends.append(curve if curve is STRAIGHT_BEND else curve * scale)
    ids = tuple(note.id for note, _ in chosen)
    return Layer(number, notes, tuple(bends), record.index, program, channel_of(number), ids, float(qpm))
