"""What a hand can hold and what it costs: the states of a moment, and the way from one to the next.

Model
    A state is a string for every note that sounds and the place of the hand, which is the fret
    under the index finger. Fingering is the cheapest path through the states (Sayegh, "Fingering
    for string instruments with the optimum path paradigm", Computer Music Journal 13(3), 1989). The
    cost has a part *along* the neck (shifts, weighed by the time there is for them) and one
    *across* it (changes of string), and the hand's own stretch, after Radicioni, Anselma &
    Lombardo, "A segmentation-based prototype to compute string instruments fingering", CIM 2004.
    The weights are this project's own, no source: they were set so that scales lie in one position,
    fast notes cause no shift that slow ones would not, and open strings are welcome but not sought.

Conventions
    ``fret - hand`` is 0 to 3 without a stretch, one finger a fret; up to ``STRETCH`` with one. An
    open string needs no finger and leaves the hand where it is. Costs have no unit. A wish
    (``Wish``) narrows what one note may do. Notes that are held into a moment come first in it, the
    oldest before the others, and are let go in this order: one that is let go has string and fret
    0.
"""

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

#: The furthest a finger reaches from the index finger: low frets are wide, high ones narrow.
STRETCH, WIDE_FRETS, HIGH_STRETCH = 4, 7, 5
FRETTED, PER_FRET_HIGH, PER_STRETCH, CLUSTER = 0.15, 0.05, 1.2, 1.5
SHIFT, PER_FRET_SHIFT, FREE_SHIFT, SLIDE_SHIFT = 1.0, 0.35, 0.4, 0.2
PER_STRING, SAME_FINGER = 0.1, 1.0
#: Another shape of the hand for the next grip of as many notes: to move one along is easier.
OTHER_SHAPE = 2.0
#: A held note let go, and a slide or hammer-on that leaves its string: only where there is no other
#: way.
LET_GO, LEFT_STRING = 20.0, 15.0
#: A shift with so much time costs as written; with less it costs more, with more less, within these
#: bounds.
EASY_SEC, LEAST_WEIGHT, MOST_WEIGHT = 0.3, 0.35, 3.0
#: Weights are rounded to steps of this: nobody plans a shift by the millisecond.
WEIGHT_STEP = 0.05


#: What a shift by so many frets costs where there is ``EASY_SEC`` for it.
_SHIFTS = np.where(np.arange(128) > 0, SHIFT + PER_FRET_SHIFT * np.arange(128), 0.0)


class Wish(NamedTuple):
    """What one note asks for: a string (0: any), a fret (-1: any), a place of the hand (0: any)."""

    string: int = 0
    fret: int = -1
    hand: int = 0


ANY = Wish()


class Neckboard(NamedTuple):
    """Open strings (highest first) and the number of frets."""

    strings: tuple[int, ...]
    frets: int

    def spots(self, pitch: int, wish: Wish) -> list[tuple[int, int]]:
        """(string, fret) of every place of a pitch that the wish allows."""
        places = ((string, pitch - lowest) for string, lowest in enumerate(self.strings, 1))
        return [
            (string, fret)
            for string, fret in places
            if 0 <= fret <= self.frets and wish.string in (0, string) and wish.fret in (-1, fret)
        ]


class States(NamedTuple):
    """The ``n`` states of a kind of moment with ``k`` notes: strings and frets of shape (n, k),
    hands and local costs of shape (n,). ``open``: no finger is needed, shape (n,); ``little``: the
    place of the hand where the little finger plays a note, 0 where it does not, shape (n, k).
    """

    string: NDArray[np.int64]
    fret: NDArray[np.int64]
    hand: NDArray[np.int64]
    local: NDArray[np.float64]
    open: NDArray[np.bool_]
    little: NDArray[np.int64]


Kind = tuple[tuple[int, Wish], ...]


def _reach(hand: int) -> int:
    return HIGH_STRETCH if hand >= WIDE_FRETS else STRETCH


def finger_of(fret: int, hand: int) -> int:
    """1 to 4; 0 for an open string."""
    return 0 if fret == 0 else min(fret - hand + 1, 4)


def fingers_of(frets: Sequence[int], hand: int) -> list[int]:
    """The fingers of a grip: one for each fret, so those below a stretched little finger reach up,
    too. 0 for an open string; below 1 where the fingers do not suffice.
    """
    found, above = {0: 0}, 5
    for fret in sorted({fret for fret in frets if fret}, reverse=True):
        above = found[fret] = min(finger_of(fret, hand), above - 1)
    return [found[fret] for fret in frets]


@lru_cache(maxsize=4096)
def states_of(board: Neckboard, kind: Kind, held: int = 0) -> States:
    """Every way to hold the notes of a kind of moment, whose first ``held`` ones may be let go;
    none when it cannot be held.
    """
    rows: list[tuple[tuple[int, ...], tuple[int, ...], int, float]] = []
    wished = {wish.hand for _, wish in kind if wish.hand}

    def choose(at: int, strings: tuple[int, ...], frets: tuple[int, ...]) -> None:
        if at == len(kind):
            rows.extend((strings, frets, hand, _local(frets, hand)) for hand in _hands(board, frets, wished))
            return
        pitch, wish = kind[at]
        if at < held and not any(strings):
            choose(at + 1, (*strings, 0), (*frets, 0))
        for string, fret in board.spots(pitch, wish):
            if string not in strings:
                choose(at + 1, (*strings, string), (*frets, fret))

    choose(0, (), ())
    count = len(kind)
    string = np.array([row[0] for row in rows], np.int64).reshape(-1, count)
    fret = np.array([row[1] for row in rows], np.int64).reshape(-1, count)
    hand = np.array([row[2] for row in rows], np.int64)
    local = np.array([row[3] for row in rows], float)
    little = np.where((fret > 0) & (fret - hand[:, None] >= 3), hand[:, None], 0)
    return States(string, fret, hand, local, (fret == 0).all(1), little)


def _hands(board: Neckboard, frets: tuple[int, ...], wished: set[int]) -> list[int]:
    """The places of the hand from which all the frets are reached."""
    fretted = [fret for fret in frets if fret]
    low, high = (min(fretted), max(fretted)) if fretted else (max(board.frets, 1), 1)
    hands = [hand for hand in range(1, low + 1) if high - hand <= _reach(hand)]
    if len(fretted) > 3:
        hands = [hand for hand in hands if min(fingers_of(fretted, hand)) > 0]
    return [hand for hand in hands if not wished or hand in wished] if len(wished) < 2 else []


def _local(frets: tuple[int, ...], hand: int) -> float:
    cost = 0.0
    fretted = sorted({fret for fret in frets if fret})
    for fret in frets:
        if fret:
            cost += FRETTED + PER_FRET_HIGH * hand + PER_STRETCH * max(fret - hand - 3, 0)
    # Two frets under one finger, in one grip.
    cost += CLUSTER * sum(finger_of(one, hand) == finger_of(other, hand) for one, other in pairwise(fretted))
    return cost


class Ways(NamedTuple):
    """The cost of every way from a state of one kind to a state of the next, shape (n, m): what it
    costs whenever it is, and what is weighed by the time there is (``hurries``).
    """

    fixed: NDArray[np.float64]
    hurried: NDArray[np.float64]


def ways_between(one: States, other: States, held: tuple[tuple[int, int], ...], new: int, joined: str) -> Ways:
    """The ways from the states of one kind to those of the next.

    ``new``: the first new note of the one after. ``held``: pairs (note of the one before, note of
    the one after) that are the same sounding note and stay on their string. ``joined``: "" or how
    the first new note is reached, "legato" or "slide": on the string of the last note before it.
    """
    distance = np.abs(one.hand[:, None] - other.hand)
    hurried = _SHIFTS[distance]
    if one.open.any() or other.open.any():
        hurried *= np.where(one.open[:, None] | other.open, FREE_SHIFT, 1.0)
    if new == 0 and one.string.shape[1] == other.string.shape[1] > 1:
        hurried += OTHER_SHAPE * (_shapes(one)[:, None] != _shapes(other)).any(2)
    # One finger cannot play two frets in one place of the hand: only the little one would have to.
    little = one.little[:, -1:]
    if little.any():
        same = (little == other.little[:, new]) & (little > 0) & (one.fret[:, -1:] != other.fret[:, new])
        hurried += SAME_FINGER * same
    across = np.abs(one.string[:, -1:] - other.string[:, new])
    fixed = PER_STRING * across
    if joined:
        fixed += LEFT_STRING * (across > 0)
        if joined == "slide":
            hurried *= SLIDE_SHIFT
    for early, late in held:
        fixed += LET_GO * (one.string[:, early : early + 1] != other.string[:, late])
    return Ways(fixed, hurried)


def _shapes(states: States) -> NDArray[np.int64]:
    """The shape of the hand wherever it is on the neck: strings from the first one, frets from the
    lowest, shape (n, 2 k).
    """
    strings = states.string - states.string[:, :1]
    return np.hstack([strings, states.fret - states.fret.min(1, keepdims=True)])


def hurries(at_sec: Sequence[float]) -> list[float]:
    """The weights of shifts to moments at these seconds from the moments before them; one each, the
    first without a meaning.
    """
    gaps = np.diff(np.asarray(at_sec, float), prepend=0.0)
    weights = np.clip(EASY_SEC / np.maximum(gaps, 1e-3), LEAST_WEIGHT, MOST_WEIGHT)
    return [float(weight) for weight in np.round(weights / WEIGHT_STEP) * WEIGHT_STEP]
