"""A take at the target's tempo that loses its place: something is left out, or a pause or a bar too
many comes in between, and from there on everything lies earlier or later.

Method
    The times between notes of equal pitch gather at the shifts at which the take lies for a while
    (``shifted``). Which of them holds for which note of the target is found by dynamic programming
    (Viterbi, IEEE Transactions on Information Theory 13(2), 1967): a note that is there at its
    shift counts for, one that is not and every change of shift count against. What is due never
    goes back in time, so no note of the take stands for two of the target; notes of the target
    between two stretches may be left out.
"""

import itertools
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.comparison.matching import match
from loopdeck.analysis.comparison.shifted import Notes, shifts_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Shifts that are tried, and steps of work that are spent on them (the square of the shifts for
#: every note).
_MOST_SHIFTS, _MOST_STEPS = 32, 400_000
#: What a missing note and a change of shift cost, against 1 for a note that is there; beginning
#: elsewhere costs as much as a missing note.
_MISSING, _CHANGE = 0.5, 4.5
#: Fewer notes of a target have no stretches; no stretch is shorter, or has a smaller share of its
#: notes there.
_FEWEST, _SHORTEST, _THERE = 10, 4, 0.6
#: In a target of more notes than this a shift has to hold so many of so many notes in a row: of
#: other music none does by chance.
_LONG, _IN_WINDOW, _WINDOW = 400, 10, 12
#: Where a line through all stretches holds such a share of their notes, it is a tempo.
_ON_A_LINE = 0.9
#: Nearer shifts are one.
_APART_SEC = 0.1
#: No take is due then: a note that was left out.
_NEVER = -1.0e9


class Break(NamedTuple):
    """The first note of the target after a break, by how many seconds the rest lies later (below 0:
    earlier) than what came before, and when the take leaves its place and is back, in seconds.
    """

    at: int
    moved_sec: float
    left_sec: float
    back_sec: float


class Broken(NamedTuple):
    """When each note of the target is due in the take, (m,), far away for those that were left out;
    and the breaks, one at least.
    """

    sec: Floats
    breaks: tuple[Break, ...]


def broken(played: Notes, target: Notes, tolerance_sec: float) -> Broken | None:
    """The stretches of the take; None if there is but one, or none.

    Notes are (onsets in seconds, pitches), shapes (n,) and (m,), by onset.
    """
    size = len(target[0])
    if size < _FEWEST or len(played[0]) < _FEWEST:
        return None
    most = min(_MOST_SHIFTS, int((_MOST_STEPS / size) ** 0.5))
    shifts = shifts_of(played, target, (tolerance_sec, _SHORTEST, most))
    if len(shifts) < 2:
        return None
    there = _there(played, target, shifts, tolerance_sec)
    if size > _LONG:
        held = _held(there)
        if held.sum() < 2:
            return None
        shifts, there = shifts[held], there[:, held]
    state = _path(there, target[0], shifts)
    return _of_stretches(played, target, _stretches(state), tolerance_sec, shifts)


def _there(played: Notes, target: Notes, shifts: Floats, tolerance_sec: float) -> NDArray[np.bool_]:
    """Which notes of the target are there at which shift, (m, shifts)."""
    due = target[0][:, None] + shifts[None, :]
    first = min(float(played[0].min()), float(due.min()))
    room = max(float(played[0].max()), float(due.max())) - first + 1.0
    line = np.sort(played[1] * room + played[0] - first)
    at = target[1][:, None] * room + due - first
    found = np.searchsorted(line, at + tolerance_sec, "right") > np.searchsorted(line, at - tolerance_sec, "left")
    return np.asarray(found, bool)


def _held(there: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which shifts hold nearly all notes of some window, (shifts,)."""
    sums: Ints = np.zeros((len(there) + 1, there.shape[1]), np.int64)
    sums[1:] = np.cumsum(there, axis=0)
    return np.asarray((sums[_WINDOW:] - sums[:-_WINDOW]).max(axis=0) >= _IN_WINDOW, bool)


def _path(there: NDArray[np.bool_], target_sec: Floats, shifts: Floats) -> Ints:
    """The best row of shifts: the number of one for each note, -1 for those left out; (m,)."""
    size, count = there.shape
    gain = np.where(there, 1.0, -_MISSING)
    # Of equally good ones the nearest.
    gain = gain - 1e-4 * np.abs(shifts) / (1.0 + np.abs(shifts).max())
    own = np.arange(count)
    value = np.zeros((size, count))
    came = np.zeros((size, count, 2), np.int64)
    value[0] = gain[0] - _MISSING * (np.abs(shifts) > _APART_SEC)
    came[0] = -1
    # Left by shift a (a row), gone on by shift b (a column), at the note n: the last note that was
    # due before.
    latest = target_sec[:, None, None] + (shifts[None, :] - shifts[:, None])[None] - 1e-6
    before = np.minimum(np.searchsorted(target_sec, latest) - 1, (np.arange(size) - 1)[:, None, None])
    for note in range(1, size):
        last = before[note]
        left_out = note - 1 - last
        through = value[np.maximum(last, 0), own[:, None]] - _MISSING * left_out
        change = np.where((last >= 0) & (own[:, None] != own[None, :]), through - _CHANGE, -np.inf)
        best = change.argmax(axis=0)
        changed = change[best, own]
        stay = value[note - 1]
        value[note] = gain[note] + np.maximum(stay, changed)
        stays = stay >= changed
        came[note, :, 0] = np.where(stays, note - 1, last[best, own])
        came[note, :, 1] = np.where(stays, own, best)
    return _back(came, int(value[-1].argmax()))


def _back(came: Ints, state: int) -> Ints:
    found = np.full(len(came), -1, np.int64)
    note = len(came) - 1
    while note >= 0:
        found[note] = state
        note, state = came[note, state].tolist()
    return found


def _stretches(state: Ints) -> list[tuple[int, Ints]]:
    """The number of a shift and the notes of the target for each stretch."""
    kept = np.flatnonzero(state >= 0)
    cuts = np.flatnonzero(np.diff(state[kept])) + 1
    return [(int(state[part[0]]), part) for part in np.split(kept, cuts)]


def _of_stretches(
    played: Notes, target: Notes, parts: list[tuple[int, Ints]], tolerance_sec: float, shifts: Floats
) -> Broken | None:
    due = np.full(len(target[0]), _NEVER) + target[0]
    placed: list[tuple[float, Ints]] = []
    for number, notes in parts:
        offsets = _offsets(played, (target[0][notes] + shifts[number], target[1][notes]), tolerance_sec)
        if len(offsets) < max(_SHORTEST, _THERE * len(notes)):
            return None
        shift = float(shifts[number] + np.median(offsets))
        due[notes] = target[0][notes] + shift
        placed.append((shift, notes))
    breaks = tuple(
        Break(int(notes[0]), shift - earlier, float(due[before[-1]]), float(due[notes[0]]))
        for (earlier, before), (shift, notes) in itertools.pairwise(placed)
        if abs(shift - earlier) >= _APART_SEC
    )
    return Broken(due, breaks) if breaks and not _one_tempo(played, target, due, tolerance_sec) else None


def _one_tempo(played: Notes, target: Notes, due: Floats, tolerance_sec: float) -> bool:
    """Whether one line of time holds nearly all that the stretches hold: a tempo that is a little
    off.
    """
    pairs = np.array(match(*played, due, target[1], tolerance_sec), np.int64).reshape(-1, 2)
    mine, theirs = played[0][pairs[:, 0]], target[0][pairs[:, 1]]
    if len(theirs) < 2 or np.ptp(theirs) <= 0:
        return True
    slope, start = np.polyfit(theirs, mine, 1)
    return bool((np.abs(mine - slope * theirs - start) <= tolerance_sec).mean() >= _ON_A_LINE)


def _offsets(played: Notes, due: Notes, tolerance_sec: float) -> Floats:
    """How far the notes that are there lie from where they are due, in seconds."""
    pairs = np.array(match(*played, *due, tolerance_sec), np.int64).reshape(-1, 2)
    return np.asarray(played[0][pairs[:, 0]] - due[0][pairs[:, 1]], float)
