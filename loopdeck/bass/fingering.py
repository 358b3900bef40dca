"""Fingering: string, fret, hand and finger for every note, by the cheapest path over the neck.

Method
    Viterbi's search over the states and costs of ``handwork`` (Sayegh 1989; Radicioni, Anselma &
    Lombardo 2004), one step a moment. Notes that sound together never share a string. What comes
    back is fingered as it was the first time: the repeats are found, and the search runs once more
    with their places fixed.

Conventions
    Notes are a structured array in order of onset. Strings count from the highest (1), frets from
    the nut, ``hand`` is the fret under the index finger, ``finger`` 1 to 4, 0 for an open string. A
    note that cannot be played has 0 everywhere.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.handwork import (
    ANY,
    Kind,
    Neckboard,
    Ways,
    Wish,
    finger_of,
    hurries,
    states_of,
    ways_between,
)
from loopdeck.bass.moments import Moment, moments
from loopdeck.bass.repeats import classes
from loopdeck.errors import UserError
from loopdeck.theory.pitch import pitch_name
from loopdeck.theory.tuning import Tuning


@dataclass(frozen=True, order=True)
class Unplayable:
    """A note that the tuning or the hand has no place for; ``nearest`` is the nearest octave that
    can be played, None if none can.
    """

    index: int
    pitch: int
    nearest: int | None
    why: str


@dataclass(frozen=True)
class Contradiction:
    """A string that the pickup named and that does not have the pitch."""

    index: int
    pitch: int
    string: int


@dataclass(frozen=True)
class Fingering:
    """One row a note: arrays of shape (n,). ``cost`` is the cost of the path; less is easier."""

    string: NDArray[np.int64]
    fret: NDArray[np.int64]
    hand: NDArray[np.int64]
    finger: NDArray[np.int64]
    unplayable: tuple[Unplayable, ...]
    contradictions: tuple[Contradiction, ...]
    cost: float

    def as_dict(self) -> dict[str, Any]:
        """As JSON: ``notes``, ``unplayable``, ``contradictions``, ``cost``."""
        columns = (self.string, self.fret, self.hand, self.finger)
        rows = enumerate(zip(*(column.tolist() for column in columns), strict=True))
        return {
            "notes": [
                {"index": index, "string": string, "fret": fret, "hand": hand, "finger": finger}
                for index, (string, fret, hand, finger) in rows
                if string
            ],
            "unplayable": [asdict(one) for one in self.unplayable],
            "contradictions": [asdict(one) for one in self.contradictions],
            "cost": round(self.cost, 6),
        }


class _Step(NamedTuple):
    """A moment with what its notes may do and how the first new one is reached; ``only`` is the one
    state of its kind that it may take, -1 for any.
    """

    moment: Moment
    kind: Kind
    joined: str
    only: int = -1


def finger(
    notes: NDArray[np.void], tuning: Tuning, pins: Mapping[int, Wish] | None = None, joined: Sequence[str] = ()
) -> Fingering:
    """Finger ``notes`` (NOTE_DTYPE, shape (n,), in order of onset) on ``tuning``.

    ``pins``: what single notes (by index) must do. ``joined``: for each note "", "legato" (it stays
    on the string of the note before it) or "slide"; () for none. A note's own ``string``, where the
    pickup named one, wins over everything but a pin. Raises UserError for a pin that no place on
    the neck fulfils.
    """
    board = Neckboard(tuning.strings, tuning.frets)
    wishes, wrong = _wishes(notes, board, pins or {})
    can = np.array([bool(board.spots(pitch, ANY)) for pitch in range(128)])
    playable = can[notes["pitch"]] if len(notes) else np.zeros(0, bool)
    unplayable = [
        Unplayable(index, int(notes["pitch"][index]), _nearest(int(notes["pitch"][index]), board), "not on this neck")
        for index in np.flatnonzero(~playable).tolist()
    ]
    pitches = notes["pitch"].tolist()
    steps, dropped = _steps(board, moments(notes, playable), pitches, wishes, list(joined) or [""] * len(pitches))
    unplayable += [Unplayable(index, pitches[index], None, "no string or finger left") for index in dropped]
    path, cost = _search(board, steps)
    fixed = _as_the_first_time(steps, path, board, pins or {})
    if fixed != steps:
        path, cost = _search(board, fixed)
    columns = _columns(fixed, path, board, len(notes))
    ordered = tuple(sorted(unplayable))
    return Fingering(columns[0], columns[1], columns[2], columns[3], ordered, tuple(wrong), cost)


def _wishes(
    notes: NDArray[np.void], board: Neckboard, pins: Mapping[int, Wish]
) -> tuple[list[Wish], list[Contradiction]]:
    wishes, wrong = [], []
    for index, (pitch, string) in enumerate(zip(notes["pitch"].tolist(), notes["string"].tolist(), strict=True)):
        wish = Wish(string) if string else ANY
        if string and not board.spots(pitch, wish):
            if board.spots(pitch, ANY):
                wrong.append(Contradiction(index, pitch, string))
            wish = ANY
        if index in pins:
            wish = _pinned(index, pitch, pins[index], board)
        wishes.append(wish)
    beyond = [index for index in pins if not 0 <= index < len(wishes)]
    if beyond:
        raise UserError(f"There is no note {beyond[0]}; the notes are numbered from 0 to {len(wishes) - 1}.")
    return wishes, wrong


def _pinned(index: int, pitch: int, pin: Wish, board: Neckboard) -> Wish:
    if not states_of(board, ((pitch, pin),)).hand.size:
        place = f"string {pin.string}" if pin.string else f"position {pin.hand}"
        place += f", fret {pin.fret}" if pin.fret >= 0 else ""
        raise UserError(f"Note {index} ({pitch_name(pitch)}) cannot be played at {place} of this tuning.")
    return pin


def _nearest(pitch: int, board: Neckboard) -> int | None:
    octaves = [one for one in range(pitch % 12, 128, 12) if board.spots(one, ANY)]
    return min(octaves, key=lambda one: abs(one - pitch), default=None)


def _steps(
    board: Neckboard, found: list[Moment], pitches: list[int], wishes: list[Wish], joined: list[str]
) -> tuple[list[_Step], list[int]]:
    """Moments that can be held: held notes are let go first, the oldest before the others, then
    inner notes of a chord are left out.
    """
    steps: list[_Step] = []
    dropped: list[int] = []
    there: set[int] = set()
    for moment in found:
        held, new = [index for index in moment.held if index in there], list(moment.new)
        while True:
            kind = tuple((pitches[index], wishes[index]) for index in (*held, *new))
            if not new or (len(kind) <= len(board.strings) and states_of(board, kind).hand.size):
                break
            if held:
                held.pop(0)
            else:
                dropped.append(new.pop(len(new) // 2))
        if new:
            there = {*held, *new}
            steps.append(_Step(Moment(moment.at_sec, tuple(new), tuple(held)), kind, joined[new[0]]))
    return steps, sorted(dropped)


def _search(board: Neckboard, steps: Sequence[_Step]) -> tuple[list[int], float]:
    """The cheapest row of states for each step, and what the path costs."""
    if not steps:
        return [], 0.0
    numbers: dict[Kind, int] = {}
    known: dict[tuple[Any, ...], Ways] = {}
    local: list[NDArray[np.float64]] = []
    back: list[_Back] = []
    front, before, place = _Front(-1, np.zeros(0)), steps[0], -1
    for step, weight in zip(steps, hurries([step.moment.at_sec for step in steps]), strict=True):
        number = numbers.setdefault(step.kind, len(local))
        if number == len(local):
            local.append(states_of(board, step.kind).local)
        if place < 0:
            front = _Front(step.only, local[number] if step.only < 0 else local[number][step.only])
        else:
            held = _held(before, step)
            key = (place, number, held, step.joined)
            ways = known.get(key)
            if ways is None:
                ways = known[key] = ways_between(board, before.kind, step.kind, held, step.joined)
            front, came = _onward(front, ways, weight, local[number], step.only)
            back.append(came)
        before, place = step, number
    row = front.row if front.row >= 0 else int(front.cost.argmin())
    path, cost = [row], float(front.cost if front.row >= 0 else front.cost[row])
    for came in reversed(back):
        row = came if isinstance(came, int) else int(came[row])
        path.append(row)
    return path[::-1], cost


class _Front(NamedTuple):
    """What the best paths to the states of a step cost: of all of them, shape (n,), or of the one
    state ``row`` where the step has no other.
    """

    row: int
    cost: Any


#: From which state each state of a step is reached: shape (n,), or the same for all.
_Back = NDArray[np.int64] | int


def _onward(front: _Front, ways: Ways, weight: float, local: NDArray[np.float64], only: int) -> tuple[_Front, _Back]:
    """The front of the next step. Most of a take that repeats itself goes from one fixed state to
    another, so that case does without arrays.
    """
    fixed, hurried = ways
    row, cost = front
    if row >= 0 and only >= 0:
        on = cost + fixed.item(row, only) + weight * hurried.item(row, only) + local.item(only)
        return _Front(only, on), row
    if row >= 0:
        return _Front(-1, fixed[row] + weight * hurried[row] + (cost + local)), row
    if only >= 0:
        total = fixed[:, only] + weight * hurried[:, only] + cost
        came = int(total.argmin())
        return _Front(only, total.item(came) + local.item(only)), came
    total = weight * hurried
    total += fixed
    total += cost[:, None]
    return _Front(-1, np.minimum.reduce(total, 0) + local), total.argmin(0)


def _held(before: _Step, step: _Step) -> tuple[tuple[int, int], ...]:
    if not step.moment.held:
        return ()
    places = {index: place for place, index in enumerate(before.moment.sounding)}
    # A note may have been let go in between for a repeat that needed its string.
    return tuple((places[index], place) for place, index in enumerate(step.moment.held) if index in places)


def _as_the_first_time(
    steps: Sequence[_Step], path: Sequence[int], board: Neckboard, pins: Mapping[int, Wish]
) -> list[_Step]:
    """The steps with those that repeat an earlier one fixed to its strings and frets."""
    keys = [(step.joined, *((pitch, wish.string) for pitch, wish in _new(step))) for step in steps]
    same = classes(keys)
    pinned = {same[at] for at, step in enumerate(steps) if any(index in pins for index in step.moment.new)}
    first: dict[int, int] = {}
    for at in range(len(steps)):
        # A pin on any of the repeats holds for all of them.
        if same[at] in pinned and any(index in pins for index in steps[at].moment.new):
            first.setdefault(same[at], at)
    fixed = list(steps)
    for at, step in enumerate(steps):
        source = first.get(same[at], same[at])
        if source == at or any(index in pins for index in step.moment.new):
            continue
        if step.kind == steps[source].kind and not (step.moment.held or steps[source].moment.held):
            fixed[at] = step._replace(only=path[source])
            continue
        model, row = states_of(board, steps[source].kind), path[source]
        skip = len(steps[source].moment.held)
        strings, frets = model.string[row, skip:].tolist(), model.fret[row, skip:].tolist()
        wishes = [Wish(string, fret, int(model.hand[row])) for string, fret in zip(strings, frets, strict=True)]
        fixed[at] = _fixed(board, step, wishes)
    return fixed


def _new(step: _Step) -> Kind:
    return step.kind[len(step.moment.held) :]


def _fixed(board: Neckboard, step: _Step, wishes: list[Wish]) -> _Step:
    """The step with its new notes at given places; what is held is let go where it is in the way."""
    pitches = [pitch for pitch, _ in _new(step)]
    held = step.moment.held
    while True:
        kind = (
            *step.kind[len(step.moment.held) - len(held) : len(step.moment.held)],
            *zip(pitches, wishes, strict=True),
        )
        if states_of(board, kind).hand.size or not held:
            return _replaced(step, kind, held) if states_of(board, kind).hand.size else step
        held = held[1:]


def _replaced(step: _Step, kind: Kind, held: tuple[int, ...]) -> _Step:
    """The step with other wishes, and fewer notes held."""
    return step._replace(kind=kind, moment=step.moment._replace(held=held))


def _columns(steps: Sequence[_Step], path: Sequence[int], board: Neckboard, count: int) -> NDArray[np.int64]:
    """String, fret, hand and finger of ``count`` notes, shape (4, n)."""
    places: list[tuple[int, int, int, int]] = [(0, 0, 0, 0)] * count
    known: dict[tuple[Kind, int], list[tuple[int, int, int, int]]] = {}
    for step, row in zip(steps, path, strict=True):
        rows = known.get((step.kind, row))
        if rows is None:
            states = states_of(board, step.kind)
            hand = int(states.hand[row])
            found = zip(states.string[row].tolist(), states.fret[row].tolist(), strict=True)
            rows = known[step.kind, row] = [(string, fret, hand, finger_of(fret, hand)) for string, fret in found]
        for place, index in enumerate(step.moment.new, len(step.moment.held)):
            places[index] = rows[place]
    return np.array(places, np.int64).reshape(-1, 4).T
