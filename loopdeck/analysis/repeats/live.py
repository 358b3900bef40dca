"""What has just been played, held against the last minutes: has it come before, and how often?

Method
    That of the whole search (``grammar``), for the stretches of the last pass only: its bars, and
    where none of them goes round, what its figures make that are looked up in those of the last ten
    minutes. They are searched there, and the stretch that saves most is named if it would be in the
    report of the take. Ten minutes are searched anew after every pass, which takes some
    milliseconds (``tests/bench/bench_analysis.py``): not for the thread that plays.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from loopdeck.analysis.repeats.grammar import Chooser
from loopdeck.analysis.repeats.last_pass import best_since
from loopdeck.analysis.repeats.occurrences import FURTHEST, Searcher
from loopdeck.analysis.repeats.seeds import figures
from loopdeck.analysis.repeats.text import Floats, Ints, text_of

#: How far back a riff is looked for.
REMEMBERED_SEC = 600.0
#: Figures looked up for one stretch and notes compared after one pass: what goes round and round
#: for minutes, or climbs evenly, has a hundred times as many, and would be searched for seconds.
_MOST_LOOKED_UP, _MOST_COMPARED = 3_000, 20_000
_ORDINALS = ("", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


@dataclass(frozen=True)
class Recurrence:
    """A riff in the last pass that has come before. ``starts_sec``: when it came, the last one in
    this pass; ``lasts_sec``: where the last note of each begins; ``alike``: how alike each is, 0 to
    1; ``saved``: the worth of it in bits.
    """

    starts_sec: tuple[float, ...]
    lasts_sec: tuple[float, ...]
    alike: tuple[float, ...]
    saved: float

    @property
    def times(self) -> int:
        """How often it has come so far."""
        return len(self.starts_sec)

    def __str__(self) -> str:
        return f"That is the {ordinal(self.times)} time"


def ordinal(number: int) -> str:
    """``third``, ``tenth``, ``11th``, ``21st``."""
    if 0 < number < len(_ORDINALS):
        return _ORDINALS[number]
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


class Recurrences:
    """Remembers the last ten minutes. Feed it each pass once, in order; it answers with what came
    back in it."""

    def __init__(self, remembered_sec: float = REMEMBERED_SEC) -> None:
        self.remembered_sec = remembered_sec
        self._rows: Floats = np.zeros((0, 6))
        self._barred = True

    def heard(
        self,
        onset_sec: ArrayLike,
        duration_sec: ArrayLike,
        pitch: ArrayLike,
        onset_q: ArrayLike,
        bars: tuple[ArrayLike, ArrayLike] | None = None,
    ) -> Recurrence | None:
        """The riff of this pass that has come before and saves most; None if none has. All
        of shape (k,), in order of onset; ``bars``: each note's bar, counted through all passes, and
        its place in it in quarters. Once a pass came without, bar lines tell nothing."""
        self._barred = self._barred and bars is not None
        number, in_bar_q = bars if bars is not None else (np.zeros(np.shape(pitch)),) * 2
        columns = (onset_sec, duration_sec, pitch, onset_q, number, in_bar_q)
        new = np.column_stack([np.asarray(column, float) for column in columns])
        if not len(new):
            return None
        rows = np.concatenate((self._rows, new))
        rows = rows[np.lexsort((rows[:, 2], rows[:, 0]))]
        self._rows = rows[rows[:, 0] >= rows[-1, 0] - self.remembered_sec]
        return self._searched(float(new[:, 0].min()))

    def _searched(self, since_sec: float) -> Recurrence | None:
        rows = self._rows
        if len(rows) < 8:
            return None
        pitch: Ints = rows[:, 2].astype(np.int64)
        bars = (rows[:, 4], rows[:, 5]) if self._barred else None
        text = text_of(rows[:, 0], rows[:, 1], pitch, np.zeros(len(rows)), rows[:, 3], bars=bars)
        searcher = Searcher(text, text.pitch, figures(text, text.pitch), FURTHEST, _MOST_LOOKED_UP)
        chooser = Chooser(text, [searcher], _MOST_COMPARED, goes_on=True)
        first = int(np.searchsorted(text.onset_sec, since_sec))
        pattern = best_since(chooser, first)
        if pattern is None:
            return None
        found = pattern.found
        return Recurrence(
            starts_sec=tuple(np.round(text.onset_sec[found.first], 6).tolist()),
            lasts_sec=tuple(np.round(text.onset_sec[found.last], 6).tolist()),
            alike=tuple(np.round(found.alike, 4).tolist()),
            saved=round(pattern.saved, 2),
        )
