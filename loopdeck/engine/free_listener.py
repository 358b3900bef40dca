"""Playing before the start, put together from what the engine tells a window, and what it sounds
like. Pure.

Conventions: ``now`` is any clock that runs on, in seconds; the notes have the session's. A guess is
made in a pause, or after every sixteenth note of playing that goes on, and told when it is sure
enough and says something new.
"""

from collections import deque

import numpy as np

from loopdeck.analysis.induction.bars import Floats
from loopdeck.analysis.induction.free_tempo import LEAST_NOTES, SURE, FreeTempo, free_tempo, last_phrase
from loopdeck.protocol.messages import ClockChanged, Message, NoteStarted, TempoGuessed

#: A pause after which a guess is made, and after so many notes without one.
PAUSE_SEC, EVERY = 1.0, 16
MOST_NOTES = 600
_WORDS = {1: "one bar", 2: "two bars", 3: "three bars", 4: "four bars"}


class FreeListener:
    """``receive`` every message; ask ``guess`` now and then."""

    def __init__(self) -> None:
        self._notes: deque[NoteStarted] = deque(maxlen=MOST_NOTES)
        self._running = False
        self._brief_qpm: float | None = None
        self._new = 0
        self._came_sec = 0.0
        self._told: TempoGuessed | None = None

    def receive(self, message: Message, now: float) -> None:
        """Take in one message."""
        match message:
            # One that is told with its length was played before this process listened.
            case NoteStarted(length_q=None) if message.pass_index < 0 and not self._running:
                self._notes.append(message)
                self._new += 1
                self._came_sec = now
            case ClockChanged():
                self._running, self._brief_qpm = message.running, message.qpm
                if message.running:
                    self._notes.clear()
                    self._new, self._told = 0, None

    def guess(self, now: float) -> TempoGuessed | None:
        """What the last phrase sounds like, if it is time to say so."""
        if not self._new or (self._new < EVERY and now - self._came_sec < PAUSE_SEC):
            return None
        self._new = 0
        if len(self._notes) < LEAST_NOTES:
            return None
        notes = sorted(self._notes, key=lambda one: one.stamp_sec)
        onset = np.array([one.stamp_sec for one in notes])
        pitch, velocity = [one.pitch for one in notes], [one.velocity for one in notes]
        found = free_tempo(onset, pitch, velocity, self._brief_qpm)
        if found is None or found.sure < SURE:
            return None
        said = _message(found, notes, onset)
        if said == self._told:
            return None
        self._told = said
        return said


def _message(found: FreeTempo, notes: list[NoteStarted], onset: Floats) -> TempoGuessed:
    nearest = int(np.abs(onset - found.start_sec).argmin())
    fields = {"tempo": f"{round(found.qpm)}", "cycle": found.cycle}
    swung = ""
    if found.swing > 0.5:
        fields["swing"] = f"{100 * found.swing:.0f}%"
        swung = ", swung"
    bars = _WORDS.get(found.bars, f"{found.bars} bars")
    return TempoGuessed(
        fields=fields,
        note=notes[nearest].id,
        after_sec=round(found.start_sec - float(onset[nearest]), 6),
        qpm=found.qpm,
        phrase=notes[last_phrase(onset)].id,
        text=f"♩ = {fields['tempo']} in {found.meter}{swung}, {bars} long",
    )
