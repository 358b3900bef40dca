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

from loopdeck.looper.layers import LAYER_CHANNELS, Layer
from loopdeck.synth.band import DRIVEN_PROGRAMS

Channels = NDArray[np.int64]


def string_channels(layers: Sequence[Layer], taken: Collection[int] = ()) -> list[Channels]:
    """The channel of each note of each layer, shape (n,); ``taken`` ones are not free."""
    free = [one for one in LAYER_CHANNELS if one not in taken and one not in {layer.channel for layer in layers}]
    found = []
    for layer in layers:
        channels = np.full(len(layer), layer.channel, np.int64)
        if layer.bent and layer.program - 1 not in DRIVEN_PROGRAMS:
            # A string is known by what the pickup says of it, or by its own channel.
            strings = layer.notes["channel"].astype(np.int64) * 64 + layer.notes["string"]
            is_bent = [len(curve) > 1 or curve.item(0, 1) != 0.0 for curve in layer.bends]
            bent = np.unique(strings[np.array(is_bent, bool)])
            # Without a plain string one of those that bend keeps the layer's channel.
            apart = bent if np.isin(strings, bent, invert=True).any() else bent[1:]
            for string in apart.tolist():
                if free:
                    channels[strings == string] = free.pop(0)
        found.append(channels)
    return found
