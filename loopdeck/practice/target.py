"""What is practised: a stretch of whole bars of a take, by quarters from the start of the stretch.

Conventions
    ``onset_q`` and ``duration_q`` have the shape (n,), quarters; an early downbeat is below 0.
    ``string`` is 1 for the highest, 0 where it is not known. ``bends`` has a curve for each note,
    shape (k, 2): quarters after its onset, semitones. ``written``: the same notes as a player
    would write them.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loopdeck.capture.notes import NOTE_DTYPE
from loopdeck.errors import UserError
from loopdeck.practice.techniques import HandNote, in_bars, written_notes
from loopdeck.rhythm.meter import MAX_BARS, Cycle, parse_cycle
from loopdeck.shelf.material import Material

#: Two points where a note is not bent: a flat curve.
FLAT = np.zeros((1, 2))


@dataclass(frozen=True, eq=False)
class Target:
    """A stretch to practise: its bars are those of ``cycle``, the first of them ``first_bar``."""

    name: str
    first_bar: int
    cycle: Cycle
    onset_q: NDArray[np.float64]
    duration_q: NDArray[np.float64]
    pitch: NDArray[np.int64]
    velocity: NDArray[np.int64]
    bar: NDArray[np.int64]
    string: NDArray[np.int64]
    bends: tuple[NDArray[np.float64], ...]
    #: The tempo it was played at.
    qpm: float

    def __len__(self) -> int:
        return len(self.onset_q)

    @property
    def last_bar(self) -> int:
        """The last bar, counted as the first is."""
        return self.first_bar + len(self.cycle.meters) - 1

    @property
    def length_q(self) -> float:
        """The length of the stretch in quarters."""
        return float(self.cycle.quarters)

    @property
    def clicks(self) -> tuple[tuple[float, str], ...]:
        """(quarter, kind) of the stretch's own meters."""
        return tuple((float(click.position), click.kind) for click in self.cycle.clicks)

    @property
    def lead(self) -> Cycle:
        """The bar that leads into it."""
        return Cycle((self.cycle.meters[0],))

    @cached_property
    def written(self) -> tuple[HandNote, ...]:
        """The notes as a player would write them, with their bars."""
        notes = written_notes(*self.as_played(), 60.0 / self.qpm)
        return tuple(in_bars(notes, [float(start) for start in self.cycle.bar_starts], self.first_bar))

    def as_played(self) -> tuple[NDArray[np.void], tuple[NDArray[np.float64], ...]]:
        """The notes in seconds at the tempo they were played at (NOTE_DTYPE), with their bends."""
        quarter_sec = 60.0 / self.qpm
        array = np.zeros(len(self), NOTE_DTYPE)
        array["onset_sec"], array["duration_sec"] = self.onset_q * quarter_sec, self.duration_q * quarter_sec
        array["pitch"], array["velocity"], array["string"] = self.pitch, self.velocity, self.string
        return array, tuple(curve * [quarter_sec, 1.0] for curve in self.bends)

    @property
    def mark(self) -> str:
        """What tells this riff from others, whatever it is called and however fast it was
        played.
        """
        rows = [
            f"{quarter:.2f} {pitch}" for quarter, pitch in zip(self.onset_q.tolist(), self.pitch.tolist(), strict=True)
        ]
        return hashlib.sha256(f"{self.length_q:.3f}; {'; '.join(rows)}".encode()).hexdigest()[:16]

    def to_dict(self) -> dict[str, Any]:
        """As JSON, for another process; ``target_from_dict`` reads it."""
        columns = ("onset_q", "duration_q", "pitch", "velocity", "bar", "string")
        return {
            "name": self.name,
            "first_bar": self.first_bar,
            "cycle": str(self.cycle),
            "qpm": self.qpm,
            "bends": [curve.tolist() for curve in self.bends],
            **{name: getattr(self, name).tolist() for name in columns},
        }


def target_from_dict(values: Mapping[str, Any]) -> Target:
    """A target from ``Target.to_dict``."""
    return Target(
        name=values["name"],
        first_bar=values["first_bar"],
        cycle=parse_cycle(values["cycle"]),
        onset_q=np.array(values["onset_q"], float),
        duration_q=np.array(values["duration_q"], float),
        pitch=np.array(values["pitch"], np.int64),
        velocity=np.array(values["velocity"], np.int64),
        bar=np.array(values["bar"], np.int64),
        string=np.array(values["string"], np.int64),
        bends=tuple(np.array(curve, float).reshape(-1, 2) for curve in values["bends"]),
        qpm=float(values["qpm"]),
    )


def target_of(material: Material, first: int = 1, last: int | None = None) -> Target:
    """Bars ``first`` to ``last`` (the last with a note by default) of a take, drums left out.

    Raises UserError.
    """
    rows = np.flatnonzero(material.pitched)
    bars = material.bars[rows]
    if not len(rows):
        raise UserError(f"{material.take.said} has no notes to practise.")
    final = int(bars.max())
    last = final if last is None else last
    _check_bars(first, last, final)
    if last - first >= MAX_BARS:
        raise UserError(
            f"{material.take.said} has {last - first + 1} bars to practise; "
            f"{MAX_BARS} at a time are the most: name some."
        )
    kept = rows[(bars >= first) & (bars <= last)]
    _check_notes(kept, first, last)
    start_q = sum(float(material.meter_of(bar).quarters) for bar in range(1, first))
    array = material.notes.array[kept]
    onset_sec, onset_q = array["onset_sec"], material.onset_q[kept]
    bends = []
    for row, at_sec, at_q in zip(kept.tolist(), onset_sec.tolist(), onset_q.tolist(), strict=True):
        curve = material.notes.bends[row]
        bends.append(np.column_stack([material.tempo.quarters(at_sec + curve[:, 0]) - at_q, curve[:, 1]]))
    return Target(
        name=material.title,
        first_bar=first,
        cycle=Cycle(tuple(material.meter_of(bar) for bar in range(first, last + 1))),
        onset_q=onset_q - start_q,
        duration_q=material.duration_q[kept],
        pitch=array["pitch"].astype(np.int64),
        velocity=array["velocity"].astype(np.int64),
        bar=material.bars[kept],
        string=array["string"].astype(np.int64),
        bends=tuple(bends),
        qpm=float(material.tempo.points[0][2]),
    )


def target_of_notes(name: str, notes: Sequence[tuple[Any, ...]], cycle: Cycle, qpm: float) -> Target:
    """A cycle that was just played, or a layer, as a target.

    ``notes``: rows of onset and duration in quarters, pitch, velocity, string, and a bend curve of
    (quarters after the onset, semitones). Raises UserError where there is none.
    """
    inside = sorted((row for row in notes if row[0] < float(cycle.quarters)), key=lambda row: (row[0], row[2]))
    if not inside:
        raise UserError(f"{name!r} has no notes to practise.")
    starts = np.array([float(start) for start in cycle.bar_starts])
    onset_q = np.array([row[0] for row in inside], float)
    wholes = np.array([row[2:5] for row in inside], np.int64)
    bends = tuple(np.array(row[5], float).reshape(-1, 2) if len(row[5]) else FLAT for row in inside)
    return Target(
        name=name,
        first_bar=1,
        cycle=cycle,
        onset_q=onset_q,
        duration_q=np.array([row[1] for row in inside], float),
        pitch=wholes[:, 0],
        velocity=wholes[:, 1],
        bar=np.maximum(np.searchsorted(starts, onset_q + 1e-9, "right"), 1),
        string=wholes[:, 2],
        bends=bends,
        qpm=qpm,
    )


def part_of(target: Target, first: int, last: int) -> Target:
    """Some bars of a target, as a target. Raises UserError."""
    _check_bars(first, last, target.last_bar, target.first_bar)
    rows = np.flatnonzero((target.bar >= first) & (target.bar <= last))
    _check_notes(rows, first, last)
    index = first - target.first_bar
    return replace(
        target,
        first_bar=first,
        cycle=Cycle(target.cycle.meters[index : last - target.first_bar + 1]),
        onset_q=target.onset_q[rows] - float(target.cycle.bar_starts[index]),
        bends=tuple(target.bends[row] for row in rows.tolist()),
        **{name: getattr(target, name)[rows] for name in ("duration_q", "pitch", "velocity", "bar", "string")},
    )


def _check_bars(first: int, last: int, final: int, begin: int = 1) -> None:
    if not begin <= first <= last <= final:
        if not begin <= first <= final:
            which = f"is no bar {first}"
        elif last > final:
            which = f"is no bar {last}"
        else:
            which = f"are no bars from {first} to {last}"
        raise UserError(f"There {which} to practise: {_notes_in(begin, final)}.")


def _notes_in(begin: int, final: int) -> str:
    return f"the take has notes in {_bars_named(begin, final)}"


def _bars_named(first: int, last: int) -> str:
    return f"bar {first}" if first == last else f"bars {first} to {last}"


def _check_notes(rows: NDArray[np.int64], first: int, last: int) -> None:
    if not len(rows):
        raise UserError(f"There are no notes in {_bars_named(first, last)} to practise.")
