"""Clean-up while it is played: the rules of ``cleaning`` with short hindsight.

Conventions
    Seconds as the notes are stamped. A note that looks right is in view the moment it begins, so
    nothing is delayed. One that may be an error (softer than a ghost may be, an octave off what
    sounds on its string, the same key once more within hundredths of a second) is held back until
    it has lasted longer than an error does. What turns out to be an error after all goes out of
    view again, at most ``HINDSIGHT_SEC`` after its end. The usual level is the median of the notes
    in view before it; with fewer than ``LEAST`` of them no note is too soft. Pure: the same calls
    give the same verdicts.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from loopdeck.bass.pickup.cleaning import OCTAVES, reasons
from loopdeck.bass.pickup.profile import Cleaning
from loopdeck.capture.notes import NOTE_DTYPE

#: How long after its end a note may still be found to be an error, and how soon it is looked at.
HINDSIGHT_SEC, SOON_SEC = 0.15, 0.015
#: Notes that ended longer ago are not neighbours of what is played now.
_PAST_SEC = 0.5
LEVELS, LEAST = 64, 6
_NEAR_SEC = 0.09


class Verdict(NamedTuple):
    """The note ``id`` is out of view, and ``why``; or, with "", it is in view from now on."""

    id: int
    why: str


@dataclass
class Recent:
    """A note of the last moments. ``end_sec`` is None while it sounds."""

    id: int
    onset_sec: float
    pitch: int
    velocity: int
    channel: int
    string: int
    end_sec: float | None = None
    held: bool = False
    settled: bool = False
    why: str = ""


class LiveCleaning:
    """The clean-up of one input."""

    def __init__(self, cleaning: Cleaning) -> None:
        self.cleaning = cleaning
        self._recent: list[Recent] = []
        self._levels: list[int] = []
        self._checked_sec = float("-inf")

    # ---- what is played --------------------------------------------------------------------------

    def begin(self, note: Recent) -> bool:
        """A note begins; True where it is to be held back."""
        self._recent = [
            one
            for one in self._recent
            if not one.settled or one.end_sec is None or one.end_sec > note.onset_sec - _PAST_SEC
        ]
        note.held = self._holds(note) > 0
        self._recent.append(note)
        if not note.held:
            self._level(note)
        return note.held

    def end(self, note_id: int, end_sec: float) -> None:
        """A note ends."""
        note = next((one for one in self._recent if one.id == note_id), None)
        if note is None or note.end_sec is not None:
            return
        note.end_sec = end_sec
        length_ms = 1000 * (end_sec - note.onset_sec)
        if not note.held and not note.why and length_ms >= max(self._limits()) and not self._faint(note):
            note.settled = True

    def forget(self, note_id: int) -> None:
        """A note is no matter of the clean-up any more: the player has brought it back, or it goes
        on from another one.
        """
        self._recent = [one for one in self._recent if one.id != note_id]

    # ---- verdicts --------------------------------------------------------------------------------

    def due_sec(self) -> float | None:
        """When to look next; None when nothing waits."""
        found = [sec for note in self._recent if not note.settled for sec in self._moments(note)]
        return min((sec for sec in found if sec > self._checked_sec), default=None)

    def _moments(self, note: Recent) -> tuple[float, ...]:
        if note.end_sec is None:
            return (note.onset_sec + self._holds(note),) if note.held and not self._faint(note) else ()
        length = note.end_sec - note.onset_sec
        return (note.end_sec + SOON_SEC, note.end_sec + length + SOON_SEC, note.end_sec + HINDSIGHT_SEC)

    def check(self, now_sec: float) -> list[Verdict]:
        """What is known at a moment, not before the last one that was asked for."""
        self._checked_sec = max(now_sec, self._checked_sec)
        waiting = [note for note in self._recent if not note.settled]
        if not waiting:
            return []
        found: list[Verdict] = []
        ended = [note for note in waiting if note.end_sec is not None and note.end_sec + SOON_SEC <= now_sec]
        why = self._reasons(now_sec) if ended else {}
        for note in waiting:
            verdict = self._verdict(note, why.get(note.id, ""), now_sec)
            if verdict is not None:
                found.append(verdict)
        return found

    def _verdict(self, note: Recent, why: str, now_sec: float) -> Verdict | None:
        if note.end_sec is None:
            if note.held and not self._faint(note) and now_sec >= note.onset_sec + self._holds(note):
                return self._show(note)
            return None
        if note.end_sec + SOON_SEC > now_sec:
            return None
        if why:
            note.settled, note.held, note.why = True, False, why
            return Verdict(note.id, why)
        note.settled = now_sec >= note.end_sec + HINDSIGHT_SEC
        return self._show(note) if note.held else None

    def _show(self, note: Recent) -> Verdict:
        note.held = False
        self._level(note)
        return Verdict(note.id, "")

    def _reasons(self, now_sec: float) -> dict[int, str]:
        rows = np.zeros(len(self._recent), NOTE_DTYPE)
        for place, note in enumerate(self._recent):
            end = now_sec if note.end_sec is None else note.end_sec
            rows[place] = (
                note.onset_sec,
                max(end - note.onset_sec, 0.0),
                note.pitch,
                note.velocity,
                note.channel,
                note.string,
            )
        order = np.argsort(rows["onset_sec"], kind="stable")
        found = reasons(rows[order], self.cleaning, self._usual())
        return {self._recent[order[row]].id: why for row, why in found.items()}

    # ---- what may be wrong -----------------------------------------------------------------------

    def _limits(self) -> tuple[float, float, float]:
        return self.cleaning.ghost_ms, self.cleaning.octave_ms, self.cleaning.double_ms

    def _usual(self) -> float:
        return float(np.median(self._levels)) if len(self._levels) >= LEAST else 0.0

    def _level(self, note: Recent) -> None:
        self._levels = [*self._levels[-(LEVELS - 1) :], note.velocity]

    def _faint(self, note: Recent) -> bool:
        return self.cleaning.ghosts and note.velocity < self.cleaning.faint_level * self._usual()

    def _holds(self, note: Recent) -> float:
        """How long a note has to last to be none of the errors it may be, in seconds; 0 where it
        looks right.
        """
        rules, longest = self.cleaning, 0.0
        if (rules.ghosts or rules.noise) and note.velocity < rules.ghost_level * self._usual():
            longest = rules.ghost_ms
        for other in self._recent:
            lane = (other.channel, other.string) == (note.channel, note.string)
            if other is note or not lane or (other.end_sec is not None and other.end_sec < note.onset_sec - 0.012):
                continue
            since = note.onset_sec - other.onset_sec
            if rules.octaves and 0 <= since < _NEAR_SEC and note.pitch - other.pitch in OCTAVES:
                longest = max(longest, rules.octave_ms)
            if rules.doubles and other.pitch == note.pitch and 0 <= since < rules.double_ms / 1000:
                longest = max(longest, rules.double_ms)
        return longest / 1000
