"""The passes that have ended, put together again from what the engine tells a window. Pure.

Conventions: those of ``protocol.messages``. A note belongs to the pass it was told for, an early
downbeat to the one that follows.
"""

from dataclasses import replace

import numpy as np

from loopdeck.analysis.live_passes import PassNotes
from loopdeck.brief.brief import Brief, brief_from_dict
from loopdeck.protocol.messages import BriefChanged, ClockChanged, Message, NoteEnded, NoteStarted, NoteWithdrawn
from loopdeck.rhythm.meter import parse_cycle


class PassCollector:
    """``brief`` is the one in force, as far as it was told."""

    def __init__(self) -> None:
        self.brief = Brief.default()
        self._clock: ClockChanged | None = None
        self._notes: dict[int, NoteStarted] = {}

    def receive(self, message: Message) -> PassNotes | None:
        """Take in one message; returns the pass that has ended by it, if one has."""
        match message:
            case BriefChanged():
                self.brief = brief_from_dict(message.fields)
            case NoteStarted() if message.pass_index >= 0:
                self._notes[message.id] = message
            case NoteStarted():
                # Of no pass; or of none any more, since that pass never began.
                self._notes.pop(message.id, None)
            case NoteEnded() if message.id in self._notes:
                self._notes[message.id] = replace(self._notes[message.id], length_q=message.length_q)
            case NoteWithdrawn():
                self._notes.pop(message.id, None)
            case ClockChanged():
                was, self._clock = self._clock, message
                if was is not None and was.pass_index >= 0 and was.pass_index != message.pass_index:
                    return self._ended(was)
        return None

    def _ended(self, clock: ClockChanged) -> PassNotes:
        index = clock.pass_index
        notes = [one for one in self._notes.values() if one.pass_index == index]
        notes.sort(key=lambda one: (one.at_q, one.pitch))
        self._notes = {number: one for number, one in self._notes.items() if one.pass_index > index}
        at_q = np.array([one.at_q for one in notes], float)
        # A note that is still held sounds to the end of the pass at least.
        held = [clock.cycle_q - one.at_q if one.length_q is None else one.length_q for one in notes]
        return PassNotes(
            pass_index=index,
            cycle=parse_cycle(clock.cycle),
            qpm=clock.qpm,
            onset_sec=np.array([one.stamp_sec for one in notes], float),
            at_q=at_q,
            length_q=np.array(held, float),
            pitch=np.array([one.pitch for one in notes], np.int64),
            velocity=np.array([one.velocity for one in notes], float),
        )
