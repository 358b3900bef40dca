"""Raw MIDI events as they arrived: the material everything else is a view of."""

from typing import NamedTuple


class Event(NamedTuple):
    """One complete MIDI message (status byte always present) at a time in seconds, from an input
    counted from 0.
    """

    time_sec: float
    port: int
    data: bytes
