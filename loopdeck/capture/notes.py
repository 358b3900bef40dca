"""Notes: the one structure in which playing travels between the rooms.

Conventions
    Times are seconds, pitches MIDI numbers (middle C is C4 = 60), velocities 1 to 127, channels 0
    to 15 as on the wire. ``string`` is 1 for the highest string, 0 when it is not known. Notes
    stand in order of onset. A note carries its pitch-bend curve: an ``(n, 2)`` float64 array of
    (seconds after the onset, semitones); the first row stands at 0.0 and gives the bend in force
    when the note began. A note that was never bent has the one row ``(0.0, 0.0)``.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

NOTE_DTYPE = np.dtype(
    [
        ("onset_sec", "f8"),
        ("duration_sec", "f8"),
        ("pitch", "i2"),
        ("velocity", "i2"),
        ("channel", "i1"),
        ("string", "i1"),
    ]
)

#: The curve of a note that was never bent.
STRAIGHT_BEND = np.zeros((1, 2))
STRAIGHT_BEND.setflags(write=False)


@dataclass(frozen=True)
class Notes:
    """Notes in order of onset with their bend curves; ``array`` has NOTE_DTYPE, ``bends`` has one
    curve a note.
    """

    array: NDArray[np.void]
    bends: tuple[NDArray[np.float64], ...]

    def __post_init__(self) -> None:
        if len(self.array) != len(self.bends):
            raise ValueError(f"{len(self.array)} notes came with {len(self.bends)} bend curves.")

    def __len__(self) -> int:
        return len(self.array)


def empty_notes() -> Notes:
    """No notes at all."""
    return Notes(np.zeros(0, NOTE_DTYPE), ())
