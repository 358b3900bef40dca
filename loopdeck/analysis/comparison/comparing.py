"""A take held against a target: what was matched, missed, added, wrong, early and late.

Conventions
    ``matched``, ``wrong``, ``early`` and ``late`` are rows (note, target note, offset in ms); late
    is positive. In time, ``matched`` are the pairs that precision, recall and F1 count: equal
    pitch, onsets within 50 ms, nothing taken off first. ``early`` and ``late`` are notes of the
    right pitch that lie more than 25 ms from their place, whether matched or, up to 250 ms, not.
    ``wrong`` are notes of another pitch at a place where nothing else was played; each stands in
    ``missed`` and ``added`` as well. By order, where the tempo differs, all of this is held against
    the times at which the target's notes are due at the take's own tempo; the three figures stay
    those of the notes as they lie. A take that is the target at another height stays what it is,
    its notes wrong; ``transposed`` says by how many semitones it lies above, and ``moved`` are the
    pairs (note, target note) that are there at that height.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.analysis.comparison.matching import Pairs, f_measure, match
from loopdeck.analysis.comparison.ordering import expected_times
from loopdeck.analysis.comparison.transposed import transposition

Row = tuple[int, int, float]

#: The tolerances of the trade's measure (MIREX note tracking, and half of it).
TOLERANCE_SEC, STRICT_SEC = 0.05, 0.025
#: A note of the right pitch this far off is late and not missing; one of another pitch this near is
#: wrong and not added.
OFF_SEC, WRONG_SEC = 0.25, 0.12
#: In time when so many of the notes are there in time. Else by order, when so many more, and not
#: fewer than this, are found by it.
_IN_TIME, _ORDER_FROM, _FEWEST_IN_ORDER = 0.7, 1.25, 3


@dataclass(frozen=True)
class Comparison:
    """What came of it; see the conventions above. ``by`` is ``time`` or ``order``, ``ratio`` the
    take's length over the target's."""

    by: str
    ratio: float
    notes: int
    targets: int
    scores: dict[str, Any]
    matched: list[Row]
    wrong: list[Row]
    early: list[Row]
    late: list[Row]
    missed: list[int]
    added: list[int]
    transposed: int = 0
    moved: Pairs = field(default_factory=list)

    @property
    def offsets_ms(self) -> NDArray[np.float64]:
        """The offsets of the matched notes, shape (matched,)."""
        return np.array([offset for _, _, offset in self.matched])


def compare(onset_sec: ArrayLike, pitch: ArrayLike, target_sec: ArrayLike, target_pitch: ArrayLike) -> Comparison:
    """Hold a take's notes, shapes (n,), against a target's, (m,); both by onset, then pitch."""
    played = np.asarray(onset_sec, float), np.asarray(pitch, np.int64)
    target = np.asarray(target_sec, float), np.asarray(target_pitch, np.int64)
    hits = match(*played, *target, TOLERANCE_SEC)
    strict = match(*played, *target, STRICT_SEC)
    sizes = len(played[0]), len(target[0])
    scores = {**f_measure(len(hits), *sizes), "strict": f_measure(len(strict), *sizes)}
    off = _rest(played, target, hits, OFF_SEC)
    place, ratio, by, shift = target[0], 1.0, "time", 0
    apart = len(hits) + len(off) < _IN_TIME * min(sizes)
    if apart:
        shift = transposition(played, target, TOLERANCE_SEC, _IN_TIME)
    if apart and not shift:
        due, tempo, right = expected_times(*played, *target)
        if right >= _FEWEST_IN_ORDER and right > _ORDER_FROM * (len(hits) + len(off)):
            place, ratio, by = due, tempo, "order"
            hits = match(*played, place, target[1], TOLERANCE_SEC)
            off = _rest(played, (place, target[1]), hits, OFF_SEC)
    moved, clear = [], []
    if shift:
        # A note of the right pitch beside its place is there by chance.
        off = []
        moved = match(*played, place, target[1] + shift, TOLERANCE_SEC)
        # Inside a chord only the height tells which note stands for which.
        clear = _rest(played, (place, target[1] + shift), hits, TOLERANCE_SEC)
    wrong = clear + _rest((played[0], played[1] * 0), (place, target[1] * 0), hits + off + clear, WRONG_SEC)
    matched, far = _rows(hits, played[0], place), _rows(off, played[0], place)
    timed = sorted([row for row in matched if abs(row[2]) > STRICT_SEC * 1000.0] + far)
    there, wanted = {one for one, _ in hits + off}, {other for _, other in hits + off}
    return Comparison(
        by=by,
        ratio=ratio,
        notes=sizes[0],
        targets=sizes[1],
        scores=scores,
        matched=matched,
        wrong=_rows(sorted(wrong), played[0], place),
        early=[row for row in timed if row[2] < 0],
        late=[row for row in timed if row[2] > 0],
        missed=[other for other in range(sizes[1]) if other not in wanted],
        added=[one for one in range(sizes[0]) if one not in there],
        transposed=shift,
        moved=moved,
    )


def _rest(
    played: tuple[NDArray[np.float64], NDArray[np.int64]],
    target: tuple[NDArray[np.float64], NDArray[np.int64]],
    taken: Pairs,
    tolerance_sec: float,
) -> Pairs:
    """Pairs among the notes that no pair has yet."""
    mine = np.setdiff1d(np.arange(len(played[0])), [one for one, _ in taken])
    theirs = np.setdiff1d(np.arange(len(target[0])), [other for _, other in taken])
    found = match(played[0][mine], played[1][mine], target[0][theirs], target[1][theirs], tolerance_sec)
    return [(int(mine[one]), int(theirs[other])) for one, other in found]


def _rows(pairs: Pairs, onset_sec: NDArray[np.float64], place_sec: NDArray[np.float64]) -> list[Row]:
    return [(one, other, round(float(onset_sec[one] - place_sec[other]) * 1000.0, 3)) for one, other in pairs]
