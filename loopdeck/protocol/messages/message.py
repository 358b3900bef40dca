"""The base of all messages, and the types of their fields that several of them share."""

from dataclasses import dataclass
from typing import Annotated

from loopdeck.protocol.fields import AtMost, Between, Seconds

Channel = Annotated[int, Between(0, 15)]
"""A MIDI channel, from 0."""
String = Annotated[int, Between(0, 32)]
"""A string, from 1, the highest; 0: not known."""
Name = Annotated[str, AtMost(1000)]
PassIndex = Annotated[int, Between(-1, 1 << 53)]
"""A pass, from 0; -1: playing while no pass runs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """Any message."""

    time_sec: Seconds = 0.0
