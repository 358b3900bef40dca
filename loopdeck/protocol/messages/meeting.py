"""How engine and window meet and part."""

from dataclasses import dataclass

from loopdeck.protocol.fields import Count, Word
from loopdeck.protocol.messages.message import Message


@dataclass(frozen=True, slots=True, kw_only=True)
class Bye(Message):
    """The sender ends in order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hello(Message):
    """The first message of a client.

    ``role`` is ``window``, ``front``, or anything else for one whose going does not matter.
    """

    protocol: Count
    role: Word = "window"
    token: Word = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Welcome(Message):
    """The engine's answer to a Hello."""

    protocol: Count
    version: Word
    pid: Count
