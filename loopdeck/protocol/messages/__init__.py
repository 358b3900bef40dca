"""What the engine and the window say to each other: one frozen dataclass for each message, in a
module for each subject.

Conventions
    Every message has ``time_sec``, the moment it speaks of: seconds of the common monotonic clock
    (``time.perf_counter``). Positions count quarter notes, from the start of a pass unless said
    otherwise; passes count from 0, and -1 is playing while no pass runs. Both sides match messages
    by type. The kind that stands on the wire is the class's name (``NoteStarted``:
    ``note_started``); ``fields`` checks what the annotations say when a message is decoded, and
    nobody checks it again.

How the two talk
    The window says ``Hello``; the engine answers ``Welcome`` and then everything the window has to
    know so far: ``BriefChanged``, ``ClockChanged``, ``LayersChanged`` with ``LayerNotes`` for each
    layer, a ``NoteStarted`` with its ``length_q`` for each note of the passes that can still be
    looped, ``TakeKept``, ``DevicesChanged``, ``MixerChanged``, ``QuestionsPending``, ``PassHeard``.
    After that come the changes. A message that ends in ``Changed`` or ``Pending`` tells the whole
    state of its subject, so the newest one is all one needs.
"""

import re
from collections.abc import Mapping
from typing import Any

from loopdeck.protocol.fields import record_of
from loopdeck.protocol.messages.gear import (
    DeviceListChanged,
    DeviceRow,
    DevicesChanged,
    MixerChanged,
    PartRow,
    PedalRow,
    PedalsChanged,
)
from loopdeck.protocol.messages.heard import PassHeard, PassRiff, TempoGuessed
from loopdeck.protocol.messages.layers import LayerNote, LayerNotes, LayerRow, LayersChanged
from loopdeck.protocol.messages.meeting import Bye, Hello, Welcome
from loopdeck.protocol.messages.message import Message
from loopdeck.protocol.messages.musical_time import BriefChanged, ClockChanged
from loopdeck.protocol.messages.notes import (
    BendPoint,
    CleanUpChanged,
    NoteBent,
    NoteEnded,
    NoteStarted,
    NoteWithdrawn,
    RemovedNote,
)
from loopdeck.protocol.messages.notices import CommandCall, Question, QuestionsPending, Said
from loopdeck.protocol.messages.steering import Command, KeyPlayed, TargetSet, WindowAsked
from loopdeck.protocol.messages.takes import ShelfChanged, TakeKept

__all__ = [
    "FROM_ENGINE", "FROM_WINDOW", "LISTENER", "PROTOCOL", "BendPoint", "BriefChanged", "Bye", "CleanUpChanged",
    "ClockChanged", "Command", "CommandCall", "DeviceListChanged", "DeviceRow", "DevicesChanged",
    "Hello", "KeyPlayed", "LayerNote", "LayerNotes", "LayerRow", "LayersChanged", "Message",
    "MixerChanged", "NoteBent", "NoteEnded", "NoteStarted", "NoteWithdrawn", "PartRow", "PassHeard", "PassRiff",
    "PedalRow", "PedalsChanged", "Question", "QuestionsPending", "RemovedNote", "Said", "ShelfChanged",
    "TakeKept", "TargetSet", "TempoGuessed", "Welcome", "WindowAsked", "kind_of", "kinds_of", "message_from",
]  # fmt: skip

PROTOCOL = 2
#: The role of the process that says after each pass what it brought.
LISTENER = "listener"

FROM_WINDOW: tuple[type[Message], ...] = (Hello, Bye, Command, KeyPlayed, TargetSet, PassHeard, TempoGuessed)
FROM_ENGINE: tuple[type[Message], ...] = (
    Welcome, Bye, BriefChanged, ClockChanged, NoteStarted, NoteBent, NoteEnded, LayersChanged, LayerNotes,
    TakeKept, DevicesChanged, DeviceListChanged, PedalsChanged, MixerChanged, Said, QuestionsPending,
    WindowAsked, PassHeard, ShelfChanged, NoteWithdrawn, CleanUpChanged,
)  # fmt: skip


def kind_of(message_type: type[Message]) -> str:
    """What stands on the wire: the class's name in small letters."""
    return re.sub(r"(?<!^)(?=[A-Z])", "_", message_type.__name__).lower()


def kinds_of(types: tuple[type[Message], ...]) -> dict[str, type[Message]]:
    """The types by their kind."""
    return {kind_of(one): one for one in types}


def message_from(message_type: type[Message], values: Mapping[str, Any]) -> Message:
    """The message with plain values (``time_sec`` among them), checked. Raises MessageError."""
    found = record_of(message_type, values, f"The message {kind_of(message_type)}")
    assert isinstance(found, Message)
    return found
