"""A pass judged while it is played: note by note, before the pass is over. Pure.

Conventions
    Positions are quarters from the start of the pass, a little below 0 for an early downbeat. A
    note of a target's pitch belongs to the nearest one of its pitch that is still open, no further
    off than a note of the right pitch may be (``analysis.comparison``); else, near an open target
    note, it is a wrong one; else it is one too many. A target note that nobody played is missed as
    soon as it is too late for it. What the pass comes to is judged anew when it has ended, by
    ``practising.judge``, which sees all notes at once. Of techniques only how a note is reached can
    be told while the pass goes on, and only where it is a note of its own.
"""

from collections.abc import Mapping

from loopdeck.analysis.comparison.comparing import OFF_SEC, WRONG_SEC
from loopdeck.bass.technique.reading import PLUCK, SLIDE
from loopdeck.practice.target import Target
from loopdeck.practice.techniques import HandNote

#: As near as this, in quarters, a written note is a raw one of its pitch.
NEAR_Q = 0.125
PLUCKED = "plucked"
OPEN, IN_TIME, EARLY, LATE, WRONG, MISSED = "", "in time", "early", "late", "wrong", "missed"


class LivePass:
    """The verdicts of one pass at a tempo.

    ``verdicts`` has a word for each note of the target; ``added`` the numbers of the notes that
    are too many; ``otherwise`` how a note of the target was reached by the hand, where that is told
    for sure and is not how the target asks for it: ``plucked``, ``slide``.
    """

    def __init__(self, target: Target, qpm: float, within_ms: float) -> None:
        self._rows = list(zip(target.onset_q.tolist(), target.pitch.tolist(), strict=True))
        self._quarter_sec, self._within_sec = 60.0 / qpm, within_ms / 1000.0
        self.verdicts = [OPEN] * len(self._rows)
        self.added: set[int] = set()
        self.otherwise: dict[int, str] = {}
        self._heard: set[int] = set()
        self._played: dict[int, int] = {}
        self._wanted = {row: note.reached for note in target.written if (row := self._row_of(note)) is not None}

    def hear(self, note_id: int, at_q: float, pitch: int) -> bool:
        """A note was played; whether it is news."""
        if note_id in self._heard:
            return False
        self._heard.add(note_id)
        right = self._nearest(at_q, pitch, OFF_SEC)
        if right is not None:
            off = (at_q - self._rows[right][0]) * self._quarter_sec
            self.verdicts[right] = IN_TIME if abs(off) <= self._within_sec else EARLY if off < 0 else LATE
            self._played[right] = note_id
            return True
        wrong = self._nearest(at_q, None, WRONG_SEC)
        if wrong is not None:
            self.verdicts[wrong] = WRONG
        else:
            self.added.add(note_id)
        return True

    def reach(self, at_q: float) -> bool:
        """Time has come this far; whether a note was missed by it."""
        before = self.verdicts.count(MISSED)
        for row, (onset, _) in enumerate(self._rows):
            if self.verdicts[row] == OPEN and (at_q - onset) * self._quarter_sec > OFF_SEC:
                self.verdicts[row] = MISSED
        return self.verdicts.count(MISSED) != before

    def read_hands(self, reached: Mapping[int, str]) -> bool:
        """How notes were reached so far, by their numbers (those that are told for sure); whether
        that is news. What is played later may tell more of a note, so this is said anew each time.
        """
        found = {}
        for row, wanted in self._wanted.items():
            how = reached.get(self._played.get(row, -1), wanted)
            if how != wanted and (wanted != PLUCK or how == SLIDE):
                found[row] = PLUCKED if how == PLUCK else how
        news, self.otherwise = found != self.otherwise, found
        return news

    def _row_of(self, note: HandNote) -> int | None:
        """The target's own note that a written one ends with; None for what cannot be told."""
        near = [
            (abs(onset - note.onset_q), row)
            for row, (onset, pitch) in enumerate(self._rows)
            if pitch == note.pitch and abs(onset - note.onset_q) <= NEAR_Q
        ]
        return min(near)[1] if near and not note.unsure else None

    def _nearest(self, at_q: float, pitch: int | None, within_sec: float) -> int | None:
        """The nearest open note; of any pitch where it is None."""
        near = [
            (abs(at_q - onset), row)
            for row, (onset, own) in enumerate(self._rows)
            if self.verdicts[row] in (OPEN, MISSED) and pitch in (None, own)
            and abs(at_q - onset) * self._quarter_sec <= within_sec
        ]  # fmt: skip
        return min(near)[1] if near else None
