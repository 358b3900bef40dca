"""The target that is practised, sounding beside the looper: in every pass, in every other one, or
never.

Theory of operation
    It is not part of the looper and stands in no journal: it only listens to where the music is. As
    soon as a pass is known its notes are laid out on that pass, and each is handed over shortly
    before its moment, so that a change of tempo moves those that are still to come. When time
    stops, silence is asked for, or the target goes, what sounds of it is ended.

Conventions: seconds on the session's clock; quarters on its one axis.
"""

from collections.abc import Callable
from typing import NamedTuple

from loopdeck.looper.layers import LAYER_CHANNELS
from loopdeck.looper.state import STOPPED
from loopdeck.looper.voices import NOTE_OFF, NOTE_ON, Out
from loopdeck.protocol.messages import TargetSet
from loopdeck.session.session import Session

NEVER, ALWAYS, TURNS = "never", "always", "turns"
#: The last of the layers' channels: its level is that of the mixer's last layer.
CHANNEL = LAYER_CHANNELS[-1]
_SHORTEST_Q = 0.02
#: A note ends so much before the pass does, at the latest.
_BEFORE_END_Q = 0.005


class _Stroke(NamedTuple):
    """A note begins (``velocity`` above 0) or ends."""

    quarter: float
    velocity: int
    pitch: int


class TargetPlayer:
    """A timer of the engine's. ``put`` takes a message ahead of its moment."""

    def __init__(self, session: Session, put: Callable[[Out], None], ahead_sec: float) -> None:
        self._looper, self._put, self._ahead = session.looper, put, ahead_sec
        self._target = TargetSet()
        self._laid: tuple[int, float] | None = None
        self._due: list[_Stroke] = []
        self._sounding: set[int] = set()
        self._handed_sec = -1e12

    # ---- orders ----------------------------------------------------------------------------------

    def set(self, target: TargetSet, now: float) -> None:
        """Another target, or another way of sounding; from the pass that runs on."""
        self.hush(now)
        same = self._target.notes == target.notes
        self._target = target
        self._laid = self._laid if same and self._running() else None

    def forget(self, now: float) -> None:
        """Forget the target."""
        self.set(TargetSet(), now)

    def hush(self, now: float) -> None:
        """End what sounds, and what was to come in this pass."""
        # A note-on may have been handed over that is still to come: its note-off comes after it.
        at = max(now, self._handed_sec)
        for pitch in sorted(self._sounding):
            self._put(Out(at, bytes((NOTE_OFF | CHANNEL, pitch, 0)), "layer"))
        self._sounding.clear()
        self._due = []

    # ---- the timer -------------------------------------------------------------------------------

    def next_due(self) -> float | None:
        """When there is something to hand over; at once for a pass that is not laid out."""
        if not self._running():
            return 0.0 if self._sounding else None
        if not self._target.notes:
            return None
        if self._laid != self._here():
            return 0.0
        return self._looper.transport.sec_at(self._due[0].quarter) - self._ahead if self._due else None

    def run(self, now: float) -> None:
        """Hand over what is due."""
        if not self._running():
            if self._sounding or self._due:
                self.hush(now)
            self._laid = None
            return
        if self._target.notes and self._laid != self._here():
            self._lay_out(now)
        while self._due and (sec := self._looper.transport.sec_at(self._due[0].quarter)) - self._ahead <= now:
            self._strike(self._due.pop(0), sec)

    def _running(self) -> bool:
        return self._looper.state != STOPPED

    def _here(self) -> tuple[int, float]:
        return self._looper.pass_index, float(self._looper.pass_start_q)

    def _lay_out(self, now: float) -> None:
        # What still sounds ends before the pass does, and was handed over with it.
        self._laid = self._here()
        start_q, length_q = self._laid[1], self._target.cycle_q
        if not self._sounds(start_q):
            return
        now_q = self._looper.transport.quarter_at(now)
        strokes = []
        for note in self._target.notes:
            begin = start_q + max(note.onset_q, 0.0)
            end = min(begin + max(note.duration_q, _SHORTEST_Q), start_q + length_q - _BEFORE_END_Q)
            if begin >= now_q and end > begin:
                strokes.append(_Stroke(begin, max(note.velocity, 1), note.pitch))
                strokes.append(_Stroke(end, 0, note.pitch))
        self._due = sorted([*self._due, *strokes])

    def _sounds(self, start_q: float) -> bool:
        if self._target.sounds != TURNS:
            return self._target.sounds == ALWAYS
        cycle_q = self._target.cycle_q
        run_q = start_q - float(self._looper.run_start_q)
        return cycle_q > 0 and round(run_q / cycle_q) % 2 == 0

    def _strike(self, stroke: _Stroke, sec: float) -> None:
        kind = NOTE_ON if stroke.velocity else NOTE_OFF
        if not stroke.velocity and stroke.pitch not in self._sounding:
            return
        if stroke.velocity and stroke.pitch in self._sounding:
            self._put(Out(sec, bytes((NOTE_OFF | CHANNEL, stroke.pitch, 0)), "layer"))
        self._handed_sec = max(self._handed_sec, sec)
        (self._sounding.add if stroke.velocity else self._sounding.discard)(stroke.pitch)
        self._put(Out(sec, bytes((kind | CHANNEL, stroke.pitch, min(stroke.velocity, 127))), "layer"))
