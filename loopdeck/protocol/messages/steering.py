"""What the player asks for: commands, letter keys that play, the target that is practised."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any

from loopdeck.protocol.fields import AtMost, Byte, Quarters, Seconds, Word
from loopdeck.protocol.messages.layers import LayerNote
from loopdeck.protocol.messages.message import Message, String


@dataclass(frozen=True, slots=True, kw_only=True)
class Command(Message):
    """A command to the looper or the engine, by the name and arguments of the command table."""

    name: Word
    args: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyPlayed(Message):
    """A letter key that plays a note went down (``on``) or up at ``played_sec``.

    ``string`` counts from 1, the highest; 0: none.
    """

    pitch: Byte
    on: bool
    velocity: Byte = 0
    string: String = 0
    played_sec: Seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetSet(Message):
    """What is practised, so that it can sound: its notes, from the start of a cycle of ``cycle_q``
    quarters, and when they sound: ``never``, ``always``, or in ``turns`` with the player, first.

    No notes: nothing is practised any more.
    """

    notes: Annotated[tuple[LayerNote, ...], AtMost(10_000)] = ()
    cycle_q: Quarters = 0.0
    sounds: Word = "never"


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowAsked(Message):
    """A pedal asks something of the window itself, by the name and arguments of the command
    table.
    """

    name: Word
    args: Mapping[str, Any] = field(default_factory=dict)
