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
    LET_GO,
    Kind,
    Neckboard,
    States,
    Ways,
    Wish,
    fingers_of,
    hurries,
    states_of,
    ways_between,
)
from loopdeck.bass.moments import Moment, moments
from loopdeck.bass.repeats import classes
from loopdeck.errors import UserError
from loopdeck.theory.pitch import pitch_name
from loopdeck.theory.tuning import Tuning

#: So many moments on either side count where it is asked whether to let go of a held note.
AROUND = 1
#: Moments of a phrase; and in a longer take, that it is tried in one of so many moments at most.
PHRASE, ONE_OF = 64, 8
#: Of more notes than sound at a time on six strings, the oldest are forgotten.
MOST_SOUNDING = 6


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
    state of its kind that it may take, -1 for any; ``letting``: held notes may be let go.
    """

    moment: Moment
    kind: Kind
    joined: str
    letting: bool
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
    unplayable += dropped
    known = _Known(board)
    path, costs = _search(known, steps)
    loose = _letting_go(steps, costs)
    if loose != steps:
        steps = loose
        path, costs = _search(known, steps)
    fixed = _gone_for_good(_as_the_first_time(steps, path, board, pins or {}))
    if fixed != steps:
        path, costs = _search(known, fixed)
    cost = costs[-1] if costs else 0.0
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
        raise no_place(index, pitch, pin)
    return pin


def no_place(index: int, pitch: int, pin: Wish) -> UserError:
    """What is said where no place on the neck fulfils a pin."""
    place = f"string {pin.string}" if pin.string else f"position {pin.hand}"
    place += f", fret {pin.fret}" if pin.fret >= 0 else ""
    return UserError(f"Note {index} ({pitch_name(pitch)}) cannot be played at {place} of this tuning.")


def _nearest(pitch: int, board: Neckboard) -> int | None:
    octaves = [one for one in range(pitch % 12, 128, 12) if board.spots(one, ANY)]
    return min(octaves, key=lambda one: abs(one - pitch), default=None)


def _steps(
    board: Neckboard, found: list[Moment], pitches: list[int], wishes: list[Wish], joined: list[str]
) -> tuple[list[_Step], list[Unplayable]]:
    """Moments that can be held, and the notes of chords that are left out; of more held notes than
    there are strings the oldest are let go.
    """
    steps: list[_Step] = []
    dropped: list[Unplayable] = []
    there: set[int] = set()
    for moment in found:
        new, out = _holdable(board, list(moment.new), pitches, wishes)
        dropped += [_left_out(board, index, new, pitches, wishes) for index in out]
        if new:
            room = max(min(len(board.strings), MOST_SOUNDING) - len(new), 0)
            held = [index for index in moment.held if index in there][-room:] if room else []
            kind = tuple((pitches[index], wishes[index]) for index in (*held, *new))
            there = {*held, *new}
            letting = bool(held) and not states_of(board, kind).hand.size
            steps.append(_Step(Moment(moment.at_sec, tuple(new), tuple(held)), kind, joined[new[0]], letting))
    return steps, dropped


def _letting_go(steps: list[_Step], costs: list[float]) -> list[_Step]:
    """The steps, with held notes free to be let go where the path around them costs more than
    that; elsewhere it could not be worth it. In a long take that rings on throughout, they are let
    go only where the new ones cannot be held otherwise: to try it everywhere would take twice as
    long.
    """
    before = [0.0, *costs]
    dear = {
        at
        for at, step in enumerate(steps)
        if step.moment.held
        and not step.letting
        and before[min(at + 1 + AROUND, len(steps))] - before[max(at - AROUND, 0)] >= LET_GO
    }
    if len(dear) > max(PHRASE, len(steps) // ONE_OF):
        dear = set()
    return _gone_for_good([step._replace(letting=True) if at in dear else step for at, step in enumerate(steps)])


def _gone_for_good(steps: list[_Step]) -> list[_Step]:
    """The steps, with notes that may be let go at one of them free to stay so as long as they would
    be held.
    """
    gone: set[int] = set()
    found = []
    for step in steps:
        gone = gone.intersection(step.moment.held) if not step.letting else set(step.moment.held)
        found.append(step._replace(letting=True) if gone else step)
    return found


def _holdable(board: Neckboard, new: list[int], pitches: list[int], wishes: list[Wish]) -> tuple[list[int], list[int]]:
    """The notes of a chord that can be held, and those left out: inner ones first; where one finds
    a string after all with the others gone, it stays, low notes before high ones.
    """
    out: list[int] = []
    while new and not _can_hold(board, new, pitches, wishes):
        out.append(new.pop(len(new) // 2))
    for index in sorted(out, key=lambda one: pitches[one]) if new else ():
        more = sorted([*new, index], key=lambda one: (pitches[one], one))
        if _can_hold(board, more, pitches, wishes):
            new = more
            out.remove(index)
    return new, out


def _can_hold(board: Neckboard, notes: list[int], pitches: list[int], wishes: list[Wish]) -> bool:
    kind = tuple((pitches[index], wishes[index]) for index in notes)
    return len(notes) <= len(board.strings) and bool(states_of(board, kind).hand.size)


def _left_out(board: Neckboard, index: int, kept: list[int], pitches: list[int], wishes: list[Wish]) -> Unplayable:
    """A note of a chord that the hand has no string or finger for, and the nearest octave of it
    that goes with the rest.
    """
    pitch = pitches[index]
    rest = tuple((pitches[one], wishes[one]) for one in kept)
    octaves = [
        one
        for one in range(pitch % 12, 128, 12)
        if len(rest) < len(board.strings) and one != pitch and states_of(board, (*rest, (one, ANY))).hand.size
    ]
    return Unplayable(
        index, pitch, min(octaves, key=lambda one: abs(one - pitch), default=None), "no string or finger left"
    )


class _Known:
    """The states and ways that were looked up, each once for all searches of a take."""

    def __init__(self, board: Neckboard) -> None:
        self._board = board
        self._numbers: dict[tuple[Kind, int, bool], int] = {}
        self._ways: dict[tuple[Any, ...], Ways] = {}
        self.states: list[States] = []

    def number(self, step: _Step) -> int:
        """The place of a step's states in ``states``."""
        number = self._numbers.setdefault((step.kind, len(step.moment.held), step.letting), len(self.states))
        if number == len(self.states):
            self.states.append(_states(self._board, step))
        return number

    def ways(self, before: int, after: int, held: tuple[tuple[int, int], ...], step: _Step) -> Ways:
        """The ways between the states of these numbers, to ``step``."""
        key = (before, after, held, step.joined)
        found = self._ways.get(key)
        if found is None:
            new = len(step.moment.held)
            found = self._ways[key] = ways_between(self.states[before], self.states[after], held, new, step.joined)
        return found


def _search(known: _Known, steps: Sequence[_Step]) -> tuple[list[int], list[float]]:
    """The cheapest row of states for each step, and what the path costs up to each."""
    if not steps:
        return [], []
    back: list[_Back] = []
    fronts: list[_Front] = []
    front, before, place = _Front(-1, np.zeros(0)), steps[0], -1
    for step, weight in zip(steps, hurries([step.moment.at_sec for step in steps]), strict=True):
        number = known.number(step)
        local = known.states[number].local
        if place < 0:
            front = _Front(step.only, local if step.only < 0 else local[step.only])
        else:
            ways = known.ways(place, number, _held(before, step), step)
            front, came = _onward(front, ways, weight, local, step.only)
            back.append(came)
        before, place = step, number
        fronts.append(front)
    row = front.row if front.row >= 0 else int(front.cost.argmin())
    path = [row]
    for came in reversed(back):
        row = came if isinstance(came, int) else int(came[row])
        path.append(row)
    path.reverse()
    return path, [float(one.cost if one.row >= 0 else one.cost[row]) for one, row in zip(fronts, path, strict=True)]


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
    # A note may have been let go in between where there were more than strings.
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
        if (step.kind, step.letting) == (steps[source].kind, steps[source].letting) and not (
            step.moment.held or steps[source].moment.held
        ):
            fixed[at] = step._replace(only=path[source])
            continue
        model, row = _states(board, steps[source]), path[source]
        skip = len(steps[source].moment.held)
        strings, frets = model.string[row, skip:].tolist(), model.fret[row, skip:].tolist()
        wishes = [Wish(string, fret, int(model.hand[row])) for string, fret in zip(strings, frets, strict=True)]
        fixed[at] = _fixed(board, step, wishes)
    return fixed


def _new(step: _Step) -> Kind:
    return step.kind[len(step.moment.held) :]


def _fixed(board: Neckboard, step: _Step, wishes: list[Wish]) -> _Step:
    """The step with its new notes at given places; as it was where they cannot be held."""
    new = tuple((pitch, wish) for (pitch, _), wish in zip(_new(step), wishes, strict=True))
    if not states_of(board, new).hand.size:
        return step
    kind = (*step.kind[: len(step.moment.held)], *new)
    letting = bool(step.moment.held) and (step.letting or not states_of(board, kind).hand.size)
    return step._replace(kind=kind, letting=letting)


def _states(board: Neckboard, step: _Step) -> States:
    """All that the hand can do at a step."""
    return states_of(board, step.kind, len(step.moment.held) if step.letting else 0)


def _columns(steps: Sequence[_Step], path: Sequence[int], board: Neckboard, count: int) -> NDArray[np.int64]:
    """String, fret, hand and finger of ``count`` notes, shape (4, n)."""
    places: list[tuple[int, int, int, int]] = [(0, 0, 0, 0)] * count
    known: dict[tuple[Kind, int, bool, int], list[tuple[int, int, int, int]]] = {}
    for step, row in zip(steps, path, strict=True):
        key = (step.kind, len(step.moment.held), step.letting, row)
        rows = known.get(key)
        if rows is None:
            states = _states(board, step)
            hand, frets = int(states.hand[row]), states.fret[row].tolist()
            found = zip(states.string[row].tolist(), frets, fingers_of(frets, hand), strict=True)
            rows = known[key] = [(string, fret, hand, finger) for string, fret, finger in found]
        for place, index in enumerate(step.moment.new, len(step.moment.held)):
            places[index] = rows[place]
    return np.array(places, np.int64).reshape(-1, 4).T
