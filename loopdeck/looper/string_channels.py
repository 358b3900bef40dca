"""A channel for each string of a layer whose notes are bent, as far as channels are free.

Conventions
    Pitch bend is of a whole channel (MIDI 1.0), so strings that sound together can be bent apart
    only on channels of their own. A layer keeps its own channel, and takes others that no layer
    has: the strings that bend come first, the layer's own channel is for those left over. Layers
    take turns in their order. An overdriven guitar stays on one channel: its strings go into one
    amplifier. Channels count from 0.
"""

from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.reading import lanes
from loopdeck.looper.layers import LAYER_CHANNELS, Layer
from loopdeck.synth.band import DRIVEN_PROGRAMS

Channels = NDArray[np.int64]


def string_channels(layers: Sequence[Layer], taken: Collection[int] = ()) -> list[Channels]:
    """The channel of each note of each layer, shape (n,); ``taken`` ones are not free."""
    free = [one for one in LAYER_CHANNELS if one not in taken and one not in {layer.channel for layer in layers}]
    found = []
    for layer in layers:
        channels = np.full(len(layer), layer.channel, np.int64)
        for rows in _bent_strings(layer)[1:]:
            if free:
                channels[rows] = free.pop(0)
        found.append(channels)
    return found


def _bent_strings(layer: Layer) -> list[list[int]]:
    """The rows of each string, the one that may keep the layer's channel first, then those that
    bend; a plain string needs no channel of its own beside another plain one.
    """
    if not layer.bent or layer.program - 1 in DRIVEN_PROGRAMS:
        return []
    strings = lanes(layer.notes)
    bent = [rows for rows in strings if any(len(layer.bends[row]) > 1 or layer.bends[row][0, 1] for row in rows)]
    plain = [row for rows in strings if rows not in bent for row in rows]
    return [plain, *bent] if plain else bent
