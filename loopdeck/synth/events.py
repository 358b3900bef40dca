"""What the built-in sound is told: MIDI messages, each at a sample and for a part; and the queue
they wait in.

Conventions
    Samples are counted from 0 by the device (or the file that is rendered); a message takes effect
    at its sample, and at once when it comes too late for that. Messages of one sample take effect
    in the order they were fed. Parts are ``click``, ``drums``, ``live`` and ``layer:N`` (N from 1).
"""

import re
from collections.abc import Iterable
from itertools import pairwise
from typing import NamedTuple

from loopdeck.errors import UserError

CLICK, DRUMS, LIVE = "click", "drums", "live"
#: Everything together; no event is for it, but it has a level.
MASTER = "master"
#: How far the level of a part can be set, in dB.
LOWEST, HIGHEST = -60.0, 12.0
_LAYER = re.compile(r"layer:([1-9][0-9]{0,5})")


class SoundEvent(NamedTuple):
    """One complete MIDI message ``data`` for ``part``, at the absolute ``sample``."""

    sample: int
    part: str
    data: bytes


def layer_part(number: int) -> str:
    """The part of a layer: ``layer:3`` for 3."""
    return f"layer:{number}"


def layer_number(part: str) -> int | None:
    """The number of a layer's part, None for the other parts.

    Raises UserError if it is not a part.
    """
    if part in (CLICK, DRUMS, LIVE):
        return None
    match = _LAYER.fullmatch(part)
    if match is None:
        raise UserError(f"There is no part {part!r}; the parts are click, drums, live and layer:1, layer:2 and so on.")
    return int(match[1])


def is_note_on(data: bytes) -> bool:
    """True for a note-on that plays: velocity 0 is a note-off (MIDI 1.0)."""
    return len(data) == 3 and data[0] & 0xF0 == 0x90 and data[2] > 0


class EventQueue:
    """Events that wait, in order of their sample, in the order they came where samples are
    equal.
    """

    def __init__(self) -> None:
        self._events: list[SoundEvent] = []
        self._head = 0

    def push(self, events: Iterable[SoundEvent]) -> None:
        """Put events in, in any order."""
        del self._events[: self._head]
        self._head = 0
        before = len(self._events)
        self._events += events
        if any(a.sample > b.sample for a, b in pairwise(self._events[max(before - 1, 0) :])):
            self._events.sort(key=lambda event: event.sample)

    def take(self, until: int) -> list[SoundEvent]:
        """Take out what lies before the sample ``until``."""
        first, events = self._head, self._events
        while self._head < len(events) and events[self._head].sample < until:
            self._head += 1
        return events[first : self._head]

    def next_note_on(self, until: int) -> int:
        """The sample of the first note-on that waits before ``until``; ``until`` when there is
        none.
        """
        for place in range(self._head, len(self._events)):
            event = self._events[place]
            if event.sample >= until:
                break
            if is_note_on(event.data):
                return event.sample
        return until

    def clear(self) -> None:
        """Forget all that waits."""
        self._events.clear()
        self._head = 0

    def __len__(self) -> int:
        return len(self._events) - self._head
