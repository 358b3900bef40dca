"""The layers of the loop, and their notes."""

from dataclasses import dataclass
from typing import Annotated, NamedTuple

from loopdeck.protocol.fields import AtMost, Between, Byte, Count, Quarters
from loopdeck.protocol.messages.message import Channel, Message, PassIndex, String
from loopdeck.protocol.messages.notes import BendPoint


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerRow:
    """One layer.

    ``solo``: it alone sounds; ``pass_index``: the pass it was made of (-1: playing before the
    start); ``notes``: how many it has; ``channel`` counts from 0, ``program`` from 1.
    """

    number: Count
    muted: bool
    solo: bool = False
    sounding: bool
    pass_index: PassIndex = -1
    notes: Count
    channel: Channel = 0
    program: Annotated[int, Between(0, 128)] = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class LayersChanged(Message):
    """The layers that stand, from the oldest to the newest.

    ``loops_next``: the pass that loop-that would take next; -1: what was played while no pass ran;
    None: there is nothing it could take.
    """

    layers: Annotated[tuple[LayerRow, ...], AtMost(10_000)]
    loops_next: PassIndex | None = None


class LayerNote(NamedTuple):
    """One note of a layer, from the start of the cycle.

    ``string`` counts from 1, the highest; 0: none.
    """

    onset_q: Quarters
    duration_q: Quarters
    pitch: Byte
    velocity: Byte = 0
    string: String = 0
    bend: tuple[BendPoint, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerNotes(Message):
    """The notes of layer ``number``, as they were played: sent when the layer is made and whenever
    it changes.
    """

    number: Count
    notes: tuple[LayerNote, ...]
