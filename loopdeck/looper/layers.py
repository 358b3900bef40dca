"""Layers: one pass of playing each, stored as it was played.

Conventions
    ``onset_q`` counts quarters from the start of the pass the note belongs to: an early downbeat is
    a little below zero. ``duration_q`` is in quarters and never longer than the cycle it was played
    in. ``first_pass`` is the first pass in which the note may sound: the one after the pass it
    belongs to, for in that one the player played it. A bend curve is an ``(n, 2)`` array of
    (quarters after the onset, semitones).
"""

from dataclasses import dataclass
from functools import cached_property
from math import ceil

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.touch import Touch, plain_touch
from loopdeck.brief.brief import Brief
from loopdeck.capture.notes import NOTE_DTYPE
from loopdeck.looper.known_touch import touch_known
from loopdeck.rhythm.quantize import quantize

LAYER_DTYPE = np.dtype(
    [
        ("onset_q", "f8"),
        ("duration_q", "f8"),
        ("pitch", "i2"),
        ("velocity", "i2"),
        ("channel", "i1"),
        ("string", "i1"),
        ("first_pass", "i4"),
    ]
)

#: Channels for layers as counted on the wire: all but the live one (0) and percussion (9).
LAYER_CHANNELS = (1, 2, 3, 4, 5, 6, 7, 8, 10, 11, 12, 13, 14, 15)


@dataclass(frozen=True, eq=False)
class Layer:
    """One layer.

    ``ids`` names each note over the layer's whole life; ``program`` counts from 1, ``channel`` from
    0.
    """

    number: int
    notes: NDArray[np.void]
    bends: tuple[NDArray[np.float64], ...]
    pass_index: int
    program: int
    channel: int
    ids: tuple[int, ...] = ()
    #: Quarters a minute at which it was played, by which its technique is read; 0 where that is not
    #: known, and every note counts as plucked.
    qpm: float = 0.0

    def __len__(self) -> int:
        return len(self.notes)

    @cached_property
    def bent(self) -> bool:
        """True when any of its notes is bent."""
        return any(len(curve) > 1 or curve[0, 1] != 0.0 for curve in self.bends)

    @cached_property
    def bend_range(self) -> int:
        """Two semitones, as receivers assume until told otherwise, or as many as it needs up to 96
        (MIDI 1.0, RPN 0,0).
        """
        widest = max((float(np.abs(curve[:, 1]).max()) for curve in self.bends), default=0.0)
        return min(max(2, ceil(widest)), 96)

    @cached_property
    def touch(self) -> Touch:
        """Which notes go on without a new pluck, which belong to a slide, which are dead."""
        if not self.qpm or not len(self):
            return plain_touch(len(self))
        notes = np.zeros(len(self), NOTE_DTYPE)
        sec = 60.0 / self.qpm
        notes["onset_sec"], notes["duration_sec"] = self.notes["onset_q"] * sec, self.notes["duration_q"] * sec
        for name in ("pitch", "velocity", "channel", "string"):
            notes[name] = self.notes[name]
        return touch_known(notes, self.bends)

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        bends = [curve.tolist() for curve in self.bends]
        played = (self.pass_index, self.program, self.channel, self.ids, self.qpm)
        return (self.number, self.notes.tolist(), bends, *played)

    def places(self, brief: Brief) -> NDArray[np.float64]:
        """Where each note sounds, in quarters from the start of a pass, by the brief of the moment;
        shape ``(len(self),)``.

        NaN for a note beyond the end of a cycle that was made shorter since: it is silent, and
        comes back with the longer cycle.
        """
        onsets = self.notes["onset_q"]
        if not len(onsets):
            return np.zeros(0)
        moved = quantize(onsets, brief.slots, brief.strength / 100.0, brief.window / 100.0)
        # The frets on the way of a slide move with its goal.
        leader = self.touch.leader
        moved = onsets + (moved - onsets)[leader]
        return np.where(onsets < float(brief.cycle.quarters), moved, np.nan)


def slot_of(number: int) -> int:
    """The channel slot of a layer, 1 to 14: its channel and its place in the mixer. Layer 15 shares
    the first one's.
    """
    return 1 + (number - 1) % len(LAYER_CHANNELS)


def channel_of(number: int) -> int:
    """The channel of a layer: the fourteen free ones in turn."""
    return LAYER_CHANNELS[slot_of(number) - 1]
