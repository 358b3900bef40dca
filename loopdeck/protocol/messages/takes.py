"""Takes on the shelf."""

from dataclasses import dataclass
from typing import Annotated

from loopdeck.protocol.fields import AtMost, Count, Word
from loopdeck.protocol.messages.message import Message, Name


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeKept(Message):
    """A take is on the shelf. ``number`` is the shelf's; ``when`` is a time of day for people."""

    number: Count
    name: Name = ""
    when: Word = ""
    passes: Count = 1
    rating: Count = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfChanged(Message):
    """Where the shelf lies, and which of its takes is heard now: its number (0: none), and name."""

    path: Annotated[str, AtMost(5000)]
    heard: Count = 0
    name: Name = ""
