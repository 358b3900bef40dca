"""Practising as a pure state machine: a plan, passes that are judged, and a tempo that follows.

Theory of operation
    A run is a row of parts, each with its tempo: a lead-in of one bar, then pass after pass. With
    call and answer every pass of the player's follows one in which the riff sounds. After
    ``passes`` clean passes in a row the tempo rises by ``step``, after two in a row that went wrong
    it falls by ``step``, not below the first one; a change begins with a lead-in. ``passes`` clean
    ones at the last tempo end the run. A pass in which nothing was played counts for nothing; after
    ``MOST_SILENT`` of these in a row the run ends. Two, one bar and the limits are our own choice.
    The machine knows no clock: whoever drives it asks for the next part, lets it sound, and hands
    in what was played.

Conventions
    A pass is clean when every note is there, none is added or wrong, and none is further off than
    ``within_ms``. Notes are matched as ``analysis.comparison`` does. Played onsets are quarters
    from the start of the pass. Techniques are remarked on and, unless ``technique`` asks for it,
    make no pass unclean. One hammer-on is one note more on some pickups and a bend on others: where
    the written notes of both sides agree better than the raw ones do, those are judged.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.analysis.comparison.comparing import compare
from loopdeck.analysis.comparison.transposed import height_words
from loopdeck.errors import UserError
from loopdeck.practice.target import Target
from loopdeck.practice.techniques import HandNote, technique_remarks
from loopdeck.rhythm.tempo import FASTEST_QPM, SLOWEST_QPM

MOST_SILENT = 4
WRONG_IN_A_ROW = 2
LEAD_IN, CALL, PASS = "lead-in", "call", "pass"
#: A note so shortly before a pass belongs to it: half a sixteenth, in quarters.
EARLY_Q = 0.125


@dataclass(frozen=True)
class Plan:
    """From ``from_qpm`` up to ``to_qpm`` quarters a minute. Raises UserError."""

    from_qpm: float
    to_qpm: float
    step: float = 4.0
    passes: int = 2
    within_ms: float = 50.0
    call: bool = False
    technique: bool = False

    def __post_init__(self) -> None:
        for qpm in (self.from_qpm, self.to_qpm):
            if not SLOWEST_QPM <= qpm <= FASTEST_QPM:
                raise UserError(
                    f"A tempo of {qpm:g} is out of range; it must lie between {SLOWEST_QPM} and {FASTEST_QPM} "
                    "quarters a minute."
                )
        if self.to_qpm < self.from_qpm:
            raise UserError(
                f"The tempo cannot rise from {self.from_qpm:g} to {self.to_qpm:g}; begin with the slower one."
            )
        if not 0 < self.step <= 100:
            raise UserError(
                f"A step of {self.step:g} is out of range; above 0 and up to 100 quarters a minute would be right."
            )
        if not 1 <= self.passes <= 100:
            raise UserError(f"{self.passes} clean passes are out of range; 1 to 100 would be right.")
        if not 10 <= self.within_ms <= 50:
            raise UserError(f"{self.within_ms:g} ms is out of range; 10 to 50 would be right.")


class Part(NamedTuple):
    """What comes next: a lead-in, a call or a pass of the player's; at what tempo, how long in
    quarters.
    """

    kind: str
    qpm: float
    length_q: float


class Judged(NamedTuple):
    """One pass: how many notes were missed, added, wrong, early, late; ``bars`` are those of the
    target where something was.
    """

    qpm: float
    clean: bool
    played: int
    missed: int
    added: int
    wrong: int
    early: int
    late: int
    bars: tuple[int, ...]
    #: What the hand did otherwise than the target, a sentence each.
    remarks: tuple[str, ...] = ()

    def sentence(self) -> str:
        """The pass in a line."""
        if not self.played:
            return f"{self.qpm:g}: nothing played."
        more = "".join(f" {one}" for one in self.remarks)
        said = [f"{count} {what}" for what, count in self.counts().items() if count]
        return f"{self.qpm:g}: {', '.join(said) or 'clean'}.{more}"

    def counts(self) -> dict[str, int]:
        """What went wrong, by name."""
        return {name: getattr(self, name) for name in ("missed", "added", "wrong", "early", "late")}


@dataclass
class PracticeRun:
    """A run of practising. Ask for ``next``, hand what was played in a pass to ``judge``."""

    target: Target
    plan: Plan
    qpm: float = 0.0
    judged: list[Judged] = field(default_factory=list)
    done: bool = False
    over: bool = False
    _clean: int = 0
    _wrong: int = 0
    _silent: int = 0
    _due: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.qpm = self.plan.from_qpm
        self._due = [LEAD_IN]

    def next(self) -> Part | None:
        """The next part; None when the run is over."""
        if self.over:
            return None
        if not self._due:
            self._due = [CALL, PASS] if self.plan.call else [PASS]
        kind = self._due.pop(0)
        return Part(kind, self.qpm, float(self.target.lead.quarters) if kind == LEAD_IN else self.target.length_q)

    def judge(self, onset_q: ArrayLike, pitch: ArrayLike, written: Sequence[HandNote] = ()) -> Judged:
        """Judge a pass by the notes that were played in it, shapes (k,), and move the tempo.

        ``written``: the same as a player would write them, for the techniques.
        """
        found = judge(self.target, self.qpm, onset_q, pitch, self.plan.within_ms, written)
        if self.plan.technique and found.remarks:
            found = found._replace(clean=False)
        self.judged.append(found)
        if not found.played:
            self._silent += 1
            self.over = self._silent >= MOST_SILENT
            return found
        self._silent = 0
        self._clean, self._wrong = (self._clean + 1, 0) if found.clean else (0, self._wrong + 1)
        if self._clean >= self.plan.passes:
            self._rise()
        elif self._wrong >= WRONG_IN_A_ROW:
            self._move(max(self.qpm - self.plan.step, self.plan.from_qpm))
        return found

    def _rise(self) -> None:
        if self.qpm >= self.plan.to_qpm:
            self.done = self.over = True
            return
        self._move(min(self.qpm + self.plan.step, self.plan.to_qpm))

    def _move(self, qpm: float) -> None:
        self._clean = self._wrong = 0
        if qpm != self.qpm:
            self.qpm, self._due = qpm, [LEAD_IN]

    @property
    def clean_in_a_row(self) -> int:
        """Clean passes at this tempo since the last one that was none."""
        return self._clean

    @property
    def reached_qpm(self) -> float:
        """The fastest tempo that a clean pass was played at; 0 where there was none."""
        return max((one.qpm for one in self.judged if one.clean), default=0.0)

    def summary(self) -> str:
        """The run in a sentence."""
        count = len(self.judged)
        if not any(one.played for one in self.judged):
            return "No whole pass was played."
        passes = f"{count} pass{'' if count == 1 else 'es'}"
        clean = sum(one.clean for one in self.judged)
        return f"{clean} of {passes} clean, up to {self.reached_qpm:g}." if clean else f"None of {passes} clean yet."

    def work_on(self) -> str:
        """What to work on, in a sentence."""
        played = [one for one in self.judged if one.played]
        if not played:
            return "Nothing was played."
        sums = {name: sum(one.counts()[name] for one in played) for name in played[0].counts()}
        bars = [bar for one in played for bar in one.bars]
        remarks = [one for judged in played for one in judged.remarks]
        told = f" {max(set(remarks), key=remarks.count)}" if remarks else ""
        if not bars and not any(sums.values()):
            return f"Every pass was clean, up to {self.reached_qpm:g}.{told}"
        what = max(sums, key=lambda name: sums[name])
        counted = f"{len(played)} pass{'' if len(played) == 1 else 'es'}"
        where = f" Work on bar {max(set(bars), key=bars.count)}." if bars else ""
        words = {
            "missed": "notes left out",
            "added": "notes too many",
            "wrong": "wrong notes",
            "early": "early notes",
            "late": "late notes",
        }
        return f"Mostly {words[what]}: {sums[what]} in {counted}.{where}{told}"

    def to_dict(self) -> dict[str, Any]:
        """The run as JSON has it."""
        return {
            "target": self.target.name,
            "mark": self.target.mark,
            "bars": [self.target.first_bar, self.target.last_bar],
            "from_qpm": self.plan.from_qpm,
            "to_qpm": self.plan.to_qpm,
            "reached_qpm": self.reached_qpm,
            "done": self.done,
            "passes": [{**one._asdict(), "bars": list(one.bars), "remarks": list(one.remarks)} for one in self.judged],
            "work_on": self.work_on(),
        }


def judge(
    target: Target,
    qpm: float,
    onset_q: ArrayLike,
    pitch: ArrayLike,
    within_ms: float = 50.0,
    written: Sequence[HandNote] = (),
) -> Judged:
    """Hold one pass against the target at a tempo."""
    quarter_sec = 60.0 / qpm
    raw = _Side(target.onset_q, target.pitch, target.bar)
    found = _judge(raw, qpm, onset_q, pitch, within_ms)
    if not written:
        return found
    own = target.written
    columns = ([one.onset_q for one in own], [one.pitch for one in own], [one.bar for one in own])
    side = _Side(np.array(columns[0], float), np.array(columns[1], np.int64), np.array(columns[2], np.int64))
    other = _judge(side, qpm, [one.onset_q for one in written], [one.pitch for one in written], within_ms)
    best = min((found, other), key=lambda one: sum(one.counts().values()))
    remarks = (*best.remarks, *technique_remarks(own, written, quarter_sec))
    return best._replace(played=found.played, remarks=remarks)


class _Side(NamedTuple):
    """The notes of the target, shapes (n,)."""

    onset_q: NDArray[np.float64]
    pitch: NDArray[np.int64]
    bar: NDArray[np.int64]


def _judge(side: _Side, qpm: float, onset_q: ArrayLike, pitch: ArrayLike, within_ms: float) -> Judged:
    quarter_sec = 60.0 / qpm
    played = np.asarray(onset_q, float).ravel()
    order = np.lexsort((np.asarray(pitch, np.int64).ravel(), played))
    pitches = np.asarray(pitch, np.int64).ravel()[order]
    made = compare(played[order] * quarter_sec, pitches, side.onset_q * quarter_sec, side.pitch)
    if made.by == "order":
        # So far from its time that only the order tells the notes apart: no pass at this tempo.
        bars = tuple(sorted(set(side.bar.tolist())))
        late = int(np.median(played) > np.median(side.onset_q))
        count = len(side.onset_q)
        sums = (len(made.missed), len(made.added), 0, count * (1 - late), count * late)
        return Judged(qpm, False, made.notes, *sums, bars)
    early = [row for row in made.early if abs(row[2]) > within_ms]
    late_rows = [row for row in made.late if abs(row[2]) > within_ms]
    wrong_mine, wrong_theirs = {row[0] for row in made.wrong}, {row[1] for row in made.wrong}
    missed = [other for other in made.missed if other not in wrong_theirs]
    added = [one for one in made.added if one not in wrong_mine]
    touched = [*made.missed, *(row[1] for row in (*early, *late_rows))]
    counts = (len(missed), len(added), len(made.wrong), len(early), len(late_rows))
    moved = (f"Played {height_words(made.transposed)} than the target.",) if made.transposed else ()
    bars = tuple(sorted({int(side.bar[one]) for one in touched}))
    return Judged(qpm, not any(counts), made.notes, *counts, bars, moved)
