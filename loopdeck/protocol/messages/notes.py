"""Notes as they are played, and those that were errors of the pickup."""

from dataclasses import dataclass
from typing import Annotated, NamedTuple

from loopdeck.protocol.fields import AtMost, Byte, Count, Quarters, Seconds, Word
from loopdeck.protocol.messages.message import Channel, Message, PassIndex, String


class BendPoint(NamedTuple):
    """One point of how a note's pitch moves, from its onset."""

    after_q: Quarters
    semitones: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteStarted(Message):
    """A note was played. ``slot`` and ``slot_q`` are the place of the grid it belongs to; ``at_q``
    is a little below 0 for an early downbeat.

    ``length_q`` is None while the note is held. ``channel`` counts from 0.
    """

    id: Count
    pass_index: PassIndex
    at_q: Quarters
    slot: int = 0
    slot_q: Quarters
    pitch: Byte
    velocity: Byte
    channel: Channel = 0
    string: String = 0
    stamp_sec: Seconds
    length_q: Quarters | None = None
    bend: tuple[BendPoint, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteBent(Message):
    """The pitch of the held note ``id`` moves: its whole curve so far, thinned out."""

    id: Count
    bend: tuple[BendPoint, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteEnded(Message):
    """The note ``id`` has ended.

    ``bend``: how its pitch moved; empty for one that stayed where it was struck.
    """

    id: Count
    length_q: Quarters
    bend: tuple[BendPoint, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteWithdrawn(Message):
    """The note ``id``, told of before, was an error of the pickup (``why``): it is out of view."""

    id: Count
    why: Word = ""


class RemovedNote(NamedTuple):
    """A note that was taken out as an error of the pickup, and why."""

    id: Count
    pass_index: PassIndex
    at_q: Quarters
    pitch: Byte
    velocity: Byte
    string: String
    why: Word


@dataclass(frozen=True, slots=True, kw_only=True)
class CleanUpChanged(Message):
    """What the clean-up of pickup errors took out: how many notes, the newest of them, and which
    of its parts are on.
    """

    count: Count
    parts: tuple[Word, ...] = ()
    notes: Annotated[tuple[RemovedNote, ...], AtMost(100)] = ()
