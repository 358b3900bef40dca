"""MIDI devices, pedals, and the mixer of the built-in sound."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any

from loopdeck.protocol.fields import AtMost, Word
from loopdeck.protocol.messages.message import Message, Name


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceRow:
    """One connection: ``role`` in, out or controls; ``state`` as ``midi.ports`` has it; ``name`` ""
    while no device is connected.
    """

    role: Word
    name: Name
    state: Word


@dataclass(frozen=True, slots=True, kw_only=True)
class DevicesChanged(Message):
    """All MIDI connections."""

    devices: tuple[DeviceRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceListChanged(Message):
    """What devices there are to choose from: names as their systems have them.

    ``system``: the MIDI system, "" where none answers; ``virtual``: it has ports of our own.
    """

    ins: tuple[Name, ...] = ()
    outs: tuple[Name, ...] = ()
    sounds: tuple[Name, ...] = ()
    system: Word = ""
    virtual: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PedalRow:
    """One press of a switch: which (``CC 64``), how (``short``, ``long``, ``double``, ``let go``),
    and the command it gives.
    """

    switch: Word
    press: Word
    command: Word
    args: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class PedalsChanged(Message):
    """The control map in force, by name ("" for none), and the switch that is being learned.

    ``learning``: the command it is learned for, with ``args``; "" while none is. ``heard``: what
    the pedal sent last, in words. ``text``: what is waited for, or what is so now; ``wrong``:
    something is not as it should be; ``asks``: ``learn-take`` is waited for.
    """

    name: Name = ""
    rows: tuple[PedalRow, ...] = ()
    learning: Word = ""
    args: Mapping[str, Any] = field(default_factory=dict)
    heard: Word = ""
    text: Annotated[str, AtMost(2000)] = ""
    wrong: bool = False
    asks: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """One part of the mixer.

    ``db``: its level; ``way``: sound, midi, both, or "" for the master.
    """

    part: Word
    db: float
    muted: bool
    way: Word = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MixerChanged(Message):
    """The mixer of the built-in sound.

    ``device`` is "" where there is none, and ``why`` then says why. Levels go from ``lowest`` to
    ``highest`` dB.
    """

    device: Name = ""
    why: Annotated[str, AtMost(2000)] = ""
    lowest: float = -60.0
    highest: float = 12.0
    parts: tuple[PartRow, ...] = ()
