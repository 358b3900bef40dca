"""What was told so far, boiled down to what still matters: for a window that comes later.

Conventions: the messages of ``protocol.messages``. The notes of all passes that the looper can
still loop are remembered, each as one ``NoteStarted`` with its ``length_q`` once it has ended; of
free playing (pass -1) the newest ``FREE_NOTES``.
"""

from collections import OrderedDict
from dataclasses import replace

from loopdeck.brief.brief import Brief
from loopdeck.looper.recorder import FREE, REMEMBERED
from loopdeck.looper.state import STOPPED
from loopdeck.protocol.messages import (
    BriefChanged,
    CleanUpChanged,
    ClockChanged,
    DeviceListChanged,
    DevicesChanged,
    LayerNotes,
    LayersChanged,
    Message,
    MixerChanged,
    NoteEnded,
    NoteStarted,
    NoteWithdrawn,
    PassHeard,
    PedalsChanged,
    QuestionsPending,
    ShelfChanged,
    TakeKept,
)

FREE_NOTES = 64
#: The most notes of passes; what is older is left out.
PASS_NOTES = 2000
KEPTS = 8


class Snapshot:
    """Takes in every message, and can tell the present state again."""

    def __init__(self, brief: Brief, start_sec: float) -> None:
        clock = ClockChanged(
            time_sec=start_sec,
            state=STOPPED,
            running=False,
            pass_index=FREE,
            anchor_sec=start_sec,
            anchor_q=0.0,
            qpm=brief.tempo.quarters_per_minute,
            pass_start_q=0.0,
            cycle=str(brief.cycle),
            cycle_q=float(brief.cycle.quarters),
        )
        #: The newest message of each type that tells the whole state of its subject, in an order
        #: that can be followed.
        self._latest: dict[type[Message], Message] = {
            BriefChanged: BriefChanged(time_sec=start_sec, fields=brief.to_dict()),
            ClockChanged: clock,
            LayersChanged: LayersChanged(time_sec=start_sec, layers=()),
        }
        self._layers: dict[int, LayerNotes] = {}
        self._free: OrderedDict[int, NoteStarted] = OrderedDict()
        self._played: OrderedDict[int, NoteStarted] = OrderedDict()
        self._kept: list[TakeKept] = []

    def receive(self, one: Message) -> None:
        """Take in one message."""
        if isinstance(one, BriefChanged):
            self._forget_scale(one)
        match one:
            case (
                BriefChanged()
                | ClockChanged()
                | LayersChanged()
                | DevicesChanged()
                | DeviceListChanged()
                | PedalsChanged()
                | MixerChanged()
                | QuestionsPending()
                | PassHeard()
                | ShelfChanged()
                | CleanUpChanged()
            ):
                self._latest[type(one)] = one
                self._forget(one)
            case LayerNotes():
                self._layers[one.number] = one
            case NoteStarted():
                notes, most = (self._free, FREE_NOTES) if one.pass_index == FREE else (self._played, PASS_NOTES)
                # It may have been told before, as one of another pass or of none.
                self._free.pop(one.id, None)
                self._played.pop(one.id, None)
                notes[one.id] = one
                if len(notes) > most:
                    notes.popitem(last=False)
            case NoteEnded():
                for notes in (self._free, self._played):
                    if one.id in notes:
                        notes[one.id] = replace(notes[one.id], length_q=one.length_q, bend=one.bend)
            case NoteWithdrawn():
                self._free.pop(one.id, None)
                self._played.pop(one.id, None)
            case TakeKept():
                self._kept = [*self._kept, one][-KEPTS:]

    def _forget_scale(self, one: BriefChanged) -> None:
        """What was heard of the scale of before no longer matters."""
        before, heard = self._latest[BriefChanged], self._latest.get(PassHeard)
        if (
            isinstance(heard, PassHeard)
            and isinstance(before, BriefChanged)
            and (before.fields.get("scale") != one.fields.get("scale"))
        ):
            self._latest[PassHeard] = heard.in_another_scale()

    def _forget(self, one: Message) -> None:
        """What no longer exists after this message."""
        if isinstance(one, ClockChanged):
            oldest = one.pass_index - REMEMBERED + 1
            for key in [key for key, note in self._played.items() if note.pass_index < oldest]:
                del self._played[key]
        elif isinstance(one, LayersChanged):
            active = {row.number for row in one.layers}
            self._layers = {number: layer for number, layer in self._layers.items() if number in active}

    def messages(self) -> list[Message]:
        """The messages that tell the present state, in an order that can be followed."""
        first, then = (
            (BriefChanged, ClockChanged, LayersChanged),
            (
                DevicesChanged,
                DeviceListChanged,
                PedalsChanged,
                MixerChanged,
                QuestionsPending,
                PassHeard,
                ShelfChanged,
                CleanUpChanged,
            ),
        )
        notes = sorted((*self._free.values(), *self._played.values()), key=lambda note: note.id)
        return [
            *(self._latest[kind] for kind in first),
            *self._layers.values(),
            *notes,
            *self._kept,
            *(self._latest[kind] for kind in then if kind in self._latest),
        ]
