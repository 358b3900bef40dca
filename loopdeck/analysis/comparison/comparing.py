"""A take held against a target: what was matched, missed, added, wrong, early and late.

Conventions
    ``matched``, ``wrong``, ``early`` and ``late`` are rows (note, target note, offset in ms); late
    is positive. In time, ``matched`` are the pairs that precision, recall and F1 count: equal
    pitch, onsets within 50 ms, nothing taken off first. ``early`` and ``late`` are notes of the
    right pitch that lie more than 25 ms from their place, whether matched or, up to 250 ms, not.
    ``wrong`` are notes of another pitch at a place where nothing else was played; each stands in
    ``missed`` and ``added`` as well. By order, where the tempo differs, all of this is held against
    the times at which the target's notes are due at the take's own tempo; the three figures stay
    those of the notes as they lie. A take that is the target at another pitch stays what it is,
    its notes wrong; ``transposed`` says by how many semitones it lies above, and ``moved`` are the
    pairs (note, target note) that are there at that pitch. ``rounds``: how many times the target
    was played; the notes of all but one are ``added``. ``breaks``: where the take loses its place
    and goes on earlier or later; by order, what comes after is held against its new place.
"""

from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.analysis.comparison.breaks import Break, Broken, broken
from loopdeck.analysis.comparison.matching import Pairs, f_measure, match
from loopdeck.analysis.comparison.ordering import expected_times
from loopdeck.analysis.comparison.shifted import Notes, rounds, shift_of
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
#: A take that lies this far behind its target, or ahead of it, began elsewhere, if so many times as
#: many notes are then there; before another tempo is believed, it must find so many times as many.
_ELSEWHERE_SEC, _ELSEWHERE_FROM, _TEMPO_FROM = 0.15, 1.5, 1.1
#: A tempo that is off by so much, and at which so many notes of the target are there, is another
#: one.
_OTHER_TEMPO, _CLEAR = 0.04, 0.85
#: Where so many of the notes are there in time, the take keeps its place.
_CLEAR_IN_TIME = 0.97
#: Other music finds so many of its notes by order, by chance.
_COMMON = 0.35
#: A take falls into stretches if these find so many notes more, for each break, than one tempo
#: does; beside a tempo of its own, so many times as many.
_FOR_A_BREAK, _STRETCHES_FROM = 2, 1.15
#: Which share of the target has to come again to be another round of it.
_ROUND = 0.8
#: A take with so many times as many notes as the target is looked at from its beginning, too.
_LONGER = 1.25
#: By how much a note may be off to be heard at another pitch, and which share of them must be
#: there.
_AT_HEIGHT = ((TOLERANCE_SEC, _IN_TIME), (WRONG_SEC, 0.85))


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
    rounds: int = 1
    breaks: tuple[Break, ...] = ()

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
    place, ratio, by, shift, reach = target[0], 1.0, "time", 0, TOLERANCE_SEC
    breaks: tuple[Break, ...] = ()
    apart = len(hits) + len(off) < _IN_TIME * min(sizes)
    for tolerance, share in _AT_HEIGHT if apart else ():
        if not shift:
            shift, reach = transposition(played, target, tolerance, share), tolerance
    if not shift and (due := _due(played, target, len(hits), len(off))) is not None:
        place, ratio, by, breaks = due.sec, due.ratio, "order", due.breaks
        hits = match(*played, place, target[1], TOLERANCE_SEC)
        off = _rest(played, (place, target[1]), hits, OFF_SEC)
    if by == "time" and not shift and (len(hits) >= _IN_TIME * min(sizes) or len(hits) + len(off) == max(sizes)):
        near = sum(abs(played[0][one] - target[0][other]) <= WRONG_SEC for one, other in off)
        breaks = _breaks_in_time(played, target, len(hits) + near)
    moved, clear = [], []
    if shift:
        # A note of the right pitch beside its place is there by chance.
        off = []
        moved = match(*played, place, target[1] + shift, reach)
        # Inside a chord only the height tells which note stands for which.
        clear = _rest(played, (place, target[1] + shift), hits, reach)
    beside = _rest((played[0], played[1] * 0), (place, target[1] * 0), hits + off + clear, WRONG_SEC)
    wrong = clear + [(one, other) for one, other in beside if played[1][one] != target[1][other]]
    matched, far = _rows(hits, played[0], place), _rows(off, played[0], place)
    timed = sorted([row for row in matched if abs(row[2]) > STRICT_SEC * 1000.0] + far)
    there, wanted = {one for one, _ in hits + off}, {other for _, other in hits + off}
    added = [one for one in range(sizes[0]) if one not in there]
    others = played[0][added], played[1][added]
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
        added=added,
        transposed=shift,
        moved=moved,
        rounds=1 if shift else 1 + rounds(others, place, target[1], (2 * TOLERANCE_SEC, _ROUND)),
        breaks=breaks,
    )


def _breaks_in_time(played: Notes, target: Notes, there: int) -> tuple[Break, ...]:
    """Where a take that keeps to its target with ``there`` notes, most of them, loses its place."""
    if there >= _CLEAR_IN_TIME * min(len(played[0]), len(target[0])):
        return ()
    found = broken(played, target, TOLERANCE_SEC)
    if found is None:
        return ()
    more = _holds(found, played, target) - there
    return found.breaks if more > _FOR_A_BREAK * len(found.breaks) else ()


class _Due(NamedTuple):
    """When each note of the target is due in the take, (m,), the take's length over the target's,
    and where it loses its place.
    """

    sec: NDArray[np.float64]
    ratio: float
    breaks: tuple[Break, ...] = ()


def _due(played: Notes, target: Notes, hits: int, off: int) -> _Due | None:
    """Where the target lies if the take begins elsewhere, or has another tempo; None where neither
    finds clearly more than time alone, which has ``hits``, and ``off`` too far away.
    """
    wanted = _IN_TIME * min(len(played[0]), len(target[0]))
    if hits >= wanted:
        return None
    shift = shift_of(played, target, TOLERANCE_SEC)
    moved = target[0] + shift
    there = len(match(*played, moved, target[1], TOLERANCE_SEC))
    elsewhere = abs(shift) > _ELSEWHERE_SEC and there >= max(_ELSEWHERE_FROM * hits, _FEWEST_IN_ORDER)
    if elsewhere and there == len(target[0]):
        return _Due(moved, 1.0)
    in_stretches = broken(played, target, TOLERANCE_SEC)
    if in_stretches is not None and hits + off == max(len(played[0]), len(target[0])):
        # Nothing was left out or added: what lies so near its place is late or early there.
        return None
    # In a take of many rounds stretches could be picked from each of them.
    if in_stretches is not None and len(played[0]) <= _LONGER * len(target[0]):
        fewer = min(len(played[0]), len(target[0]))
        if _holds(in_stretches, played, target) >= _CLEAR_IN_TIME * fewer:
            return _Due(in_stretches.sec, 1.0, in_stretches.breaks)
    best, at_tempo = None, _COMMON * min(len(played[0]), len(target[0]))
    for part in _parts(played, len(target[0])):
        due, tempo, right = expected_times(*part, *target)
        count = len(match(*played, due, target[1], TOLERANCE_SEC))
        clear = count >= max(_ELSEWHERE_FROM * hits, _CLEAR * len(target[0])) and abs(tempo - 1.0) > _OTHER_TEMPO
        found = clear or (hits + off < wanted and right > _ORDER_FROM * (hits + off))
        if right >= _FEWEST_IN_ORDER and found and count > at_tempo:
            best, at_tempo = _Due(due, tempo), count
    if elsewhere and at_tempo <= _TEMPO_FROM * there:
        best, at_tempo = _Due(moved, 1.0), there
    if best is not None and abs(best.ratio - 1.0) > _OTHER_TEMPO and at_tempo >= _CLEAR * len(target[0]):
        return best
    if in_stretches is not None and _better(in_stretches, played, target, (best, max(at_tempo, hits))):
        return _Due(in_stretches.sec, 1.0, in_stretches.breaks)
    return best


def _holds(found: Broken, played: Notes, target: Notes) -> int:
    """How many notes are there in their stretch."""
    return len(match(*played, found.sec, target[1], TOLERANCE_SEC))


def _better(found: Broken, played: Notes, target: Notes, other: tuple[_Due | None, float]) -> bool:
    """Whether stretches explain a take better than one line of time, which has so many notes."""
    line, at_line = other
    count = _holds(found, played, target)
    if line is None or (line.ratio == 1.0 and not line.breaks):
        return count >= max(at_line + _FOR_A_BREAK * len(found.breaks), _COMMON * min(len(played[0]), len(target[0])))
    # A line that bends to follow the take finds as many, and says less.
    least = at_line - len(found.breaks) if abs(line.ratio - 1.0) <= _OTHER_TEMPO else _STRETCHES_FROM * at_line
    return count >= least


def _parts(played: Notes, targets: int) -> list[Notes]:
    """All of the take; and, if it is much longer than the target, its beginning alone: the target
    may come round several times, and order would pick its notes from all of them.
    """
    few = int(targets * _LONGER)
    return [played, (played[0][:few], played[1][:few])] if few < len(played[0]) else [played]


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
