"""What the engine and the window say to each other: one frozen dataclass for each message.

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
from dataclasses import dataclass, field
from typing import Annotated, Any, NamedTuple

from loopdeck.protocol.fields import AtMost, Between, Byte, Count, Quarters, Seconds, Word, record_of
from loopdeck.rhythm.anchor import Anchor

PROTOCOL = 2
#: The role of the process that says after each pass what it brought.
LISTENER = "listener"
Channel = Annotated[int, Between(0, 15)]
String = Annotated[int, Between(0, 32)]
Name = Annotated[str, AtMost(1000)]
PassIndex = Annotated[int, Between(-1, 1 << 53)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """Any message."""

    time_sec: Seconds = 0.0


# ---- both ways -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Bye(Message):
    """The sender ends in order."""


# ---- from the window -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Hello(Message):
    """The first message of a client.

    ``role`` is ``window``, ``front``, or anything else for one whose going does not matter.
    """

    protocol: Count
    role: Word = "window"
    token: Word = ""


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

    notes: Annotated[tuple["LayerNote", ...], AtMost(10_000)] = ()
    cycle_q: Quarters = 0.0
    sounds: Word = "never"


# ---- from the engine -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Welcome(Message):
    """The engine's answer to a Hello."""

    protocol: Count
    version: Word
    pid: Count


@dataclass(frozen=True, slots=True, kw_only=True)
class BriefChanged(Message):
    """The brief in force: its fields as ``Brief.to_dict`` gives them; ``brief_from_dict`` reads
    them.
    """

    fields: Mapping[str, int | float | str]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockChanged(Message):
    """Where musical time is. ``anchor`` gives the position at any moment, in quarters from the
    start of the run.

    ``pass_index`` is -1 while counting in and while stopped; ``pass_start_q`` is where the pass
    began (or will, after the count-in). ``coming``: what will change by itself, in words; "" for
    nothing. ``run_pass`` and ``first_bar``: how many passes and bars of this run came before the
    pass, on which silent bars and ramps depend.
    """

    state: Word
    coming: Annotated[str, AtMost(1000)] = ""
    running: bool
    pass_index: PassIndex
    anchor_sec: Seconds
    anchor_q: Quarters
    qpm: Annotated[float, Between(0.001, 100_000.0)]
    pass_start_q: Quarters
    cycle: Annotated[str, AtMost(2000)]
    cycle_q: Annotated[float, Between(0.0, 1e9)]

    @property
    def anchor(self) -> Anchor:
        """Where time is, to be asked for any moment."""
        return Anchor(self.anchor_sec, self.anchor_q, self.qpm)

    run_pass: Count = 0
    first_bar: Count = 0


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
    passes: Count = 1
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


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeKept(Message):
    """A take is on the shelf. ``number`` is the shelf's; ``when`` is a time of day for people."""

    number: Count
    name: Annotated[str, AtMost(1000)] = ""
    when: Word = ""
    passes: Count = 1
    rating: Count = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceRow:
    """One connection: ``role`` in, out or controls; ``state`` as ``midi.ports`` has it; ``name`` ""
    where there is none.
    """

    role: Word
    name: Annotated[str, AtMost(1000)]
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

    device: Annotated[str, AtMost(1000)] = ""
    why: Annotated[str, AtMost(2000)] = ""
    lowest: float = -60.0
    highest: float = 12.0
    parts: tuple[PartRow, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Said(Message):
    """A sentence for the player. ``wrong``: something is not as it should be.

    ``about``: what it speaks of, so that it can go when that is over: ``state`` (the looper's
    state), ``pass`` (this pass), or "".
    """

    text: str
    wrong: bool = False
    about: Word = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowAsked(Message):
    """A pedal asks something of the window itself, by the name and arguments of the command table."""

    name: Word
    args: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class CommandCall:
    """A command that answers a question."""

    name: Word
    args: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Something that waits for the player's answer; ``accept`` and ``refuse`` are the commands that
    give it. ``key`` tells questions apart.
    """

    key: Word
    text: str
    accept: CommandCall
    refuse: CommandCall


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionsPending(Message):
    """All questions that wait, oldest first."""

    questions: tuple[Question, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftMeasured(Message):
    """How the player kept time while the click was silent; the fields are those of
    ``rhythm.practice.Drift``.
    """

    start_q: Quarters
    end_q: Quarters
    onsets: Count
    before_ms: float
    return_ms: float
    drift_ms: float
    ms_per_quarter: float
    tempo_percent: float


class PassRiff(NamedTuple):
    """A riff, by its letter, stands in a pass."""

    pass_index: PassIndex
    name: Word


@dataclass(frozen=True, slots=True, kw_only=True)
class PassHeard(Message):
    """What the pass ``pass_index``, which has ended, brought: from the process that listens to the
    engine, and on to the windows.

    ``text``: a sentence on it, or ""; ``about``: whether it speaks of the ``riff`` or of the
    ``feel``. ``riff_passes``: the passes in which the riff of this one stands, oldest first;
    ``whole_passes``: those that hold all of it, so that looping one loops the riff. ``feel`` and
    ``scale``: a few words on the last passes ("16ths at 58 %", "fits E dorian"), "" for
    nothing sure. ``riffs``: all that is known of the last passes, ordered by pass.
    """

    pass_index: PassIndex
    text: str = ""
    about: Word = ""
    riff_passes: Annotated[tuple[PassIndex, ...], AtMost(10_000)] = ()
    whole_passes: Annotated[tuple[PassIndex, ...], AtMost(10_000)] = ()
    feel: Word = ""
    scale: Word = ""
    riffs: Annotated[tuple[PassRiff, ...], AtMost(10_000)] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfChanged(Message):
    """Where the shelf lies, and which of its takes is heard now: its number (0: none), and name."""

    path: Annotated[str, AtMost(5000)]
    heard: Count = 0
    name: Annotated[str, AtMost(1000)] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TempoGuessed(Message):
    """What playing without a click sounds like, from the process that listens: ``fields`` of the
    brief that would hold, and the stretch that would be looped: it begins ``after_sec`` after the
    onset of ``note``, and was played at ``qpm``. ``phrase``: the first note of the phrase that was
    listened to; ``text``: the guess in words ("q = 96 in 4/4, two bars long").
    """

    fields: Mapping[str, int | float | str]
    note: Count
    after_sec: Annotated[float, Between(-600.0, 600.0)]
    qpm: Annotated[float, Between(0.001, 100_000.0)]
    phrase: Count
    text: Annotated[str, AtMost(400)]


FROM_WINDOW: tuple[type[Message], ...] = (Hello, Bye, Command, KeyPlayed, TargetSet, PassHeard, TempoGuessed)
FROM_ENGINE: tuple[type[Message], ...] = (
    Welcome, Bye, BriefChanged, ClockChanged, NoteStarted, NoteBent, NoteEnded, LayersChanged, LayerNotes, TakeKept, DevicesChanged,
    DeviceListChanged, PedalsChanged, MixerChanged, Said, QuestionsPending, DriftMeasured, WindowAsked, PassHeard, ShelfChanged, NoteWithdrawn,
    CleanUpChanged,
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
