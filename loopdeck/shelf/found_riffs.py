"""The riffs in the material of a take: drums are left out, and the playing, each layer and each
instrument of a file are searched as parts of their own.
"""

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.repeats.riffs import Riff, find_riffs
from loopdeck.analysis.repeats.text import text_of
from loopdeck.shelf.material import Material
from loopdeck.shelf.take import IMPORTED

#: Channels take turns where fewer than this share of the changes between them sound together for
#: longer than so many seconds.
_TURNS, _TURN_SEC = 0.2, 0.1


def riffs_of(material: Material) -> list[Riff]:
    """What comes back, best first; notes keep the index they have in the take."""
    index = np.flatnonzero(material.pitched)
    notes = material.notes.array[index]
    part = material.source[index] * 16 + _instruments(material)[index]
    placed, onset_q = material.placed, material.onset_q
    in_bar_q = np.array(placed.written, float) + onset_q - placed.target_q
    text = text_of(
        notes["onset_sec"],
        notes["duration_sec"],
        notes["pitch"],
        part,
        onset_q[index],
        number=index,
        bars=(placed.bar[index], in_bar_q[index]),
    )
    scale = material.brief.scale
    return find_riffs(text, material.bars, scale.pitch_classes if scale is not None else None)


def _instruments(material: Material) -> NDArray[np.int64]:
    """Which notes one instrument plays, shape (k,): all that was played live, however a pickup
    spreads its strings over the channels; in a file each channel is one, unless they take turns as
    the strings of one line do.
    """
    notes = material.notes.array
    channel = np.asarray(notes["channel"], np.int64)
    if material.take.origin != IMPORTED or len(notes) < 2:
        return channel * 0
    ends = np.maximum.accumulate(notes["onset_sec"] + notes["duration_sec"])[:-1]
    other = np.diff(channel) != 0
    together = other & (ends - notes["onset_sec"][1:] > _TURN_SEC)
    return channel * 0 if together.sum() < _TURNS * other.sum() else channel
