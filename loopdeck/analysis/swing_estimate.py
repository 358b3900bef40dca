"""Swing: which ratio long to short was really played, for eighths and for sixteenths, and how sure
that is.

Conventions
    Onsets are quarters from the start of pass 0 of a cycle, as played, in any order. A pair of
    subdivisions of length L has its second one at L * share, the share running from 1/2 (straight)
    to 3/4 (3:1); ratio = share / (1 - share). Pairs start afresh at every group of the meter, and a
    last subdivision without a partner stays straight (``rhythm.swing``).

Method
    Where a written place lies in its pair, ``o`` after the pair's start, swing moves it by ``2
    min(o, L - o) (share - 1/2)``: a tent that is linear in the share. So once every onset has its
    written place, one least-squares fit of

        onset - written = constant + drift * onset + tent_8 * (share_8 - 1/2) + tent_16 * (share_16
        - 1/2) + noise

    gives both shares with the constant part (latency, habit) and a steady drift profiled out. Every
    note counts, also those whose partner is missing. The interval is Student's t at 95 %; it is
    exact for independent Gaussian noise, and too narrow where errors come in runs (a player who
    wanders). Onsets further than four robust standard deviations from the fit are left out.

    The written places come first: straight, swung eighths and swung sixteenths of every share from
    48 to 78 % are laid over the onsets, with constants of up to a tenth of a second, and the one
    with the least sum of squares (each cut off at ``CUT_SEC``) assigns the onsets. Beats that hold
    a triplet and nothing else say nothing about pairs and are left out. Where the only notes
    between the beats lie three quarters through, swung eighths of 3:1 and dotted figures are the
    same sound: they count as swing. This project's rules, no source.

    t's quantile: Abramowitz & Stegun, Handbook of Mathematical Functions (1964), 26.7.5.
"""

from fractions import Fraction
from functools import lru_cache
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.meter import Cycle
from loopdeck.rhythm.quantize import slots
from loopdeck.rhythm.swing import Swing

Floats = NDArray[np.float64]
Unit = Literal["1/8", "1/16"]
UNITS: dict[Unit, Fraction] = {"1/8": Fraction(1, 2), "1/16": Fraction(1, 4)}

LEAST_PAIRS = 4
#: The just noticeable displacement of a tone where tones follow each other faster than every 240
#: ms, and its share of the interval above that (Friberg & Sundberg, "Time discrimination in a
#: monotonic, isochronous sequence", JASA 98, 1995).
NOTICED_MS, NOTICED_SHARE, SLOW_SEC = 6.0, 0.025, 0.240
#: A note further than this from its place says as little as one at this distance.
CUT_SEC = 0.045
_SHARES = np.arange(0.48, 0.785, 0.0125)
#: Constants to start the search from.
_CONSTANTS_SEC = (0.0, -0.05, 0.05, 0.1)
#: A swing must explain this many notes more than straight does to assign the onsets.
_MARGIN = 1.5
#: What a constant of ``CUT_SEC``, or a place on an off-sixteenth, costs a note; a note that fits
#: nowhere costs 1.
_PRIOR = 0.05
#: What a nat of the entropy of places costs a note: minus the log likelihood in units of
#: ``CUT_SEC`` squared, at a spread of a third of that.
_SPLIT = 0.22
#: Notes that are looked at to choose the written places; more would say the same.
_MOST_SEARCHED = 1200
#: How near to the thirds of a beat the two notes of a triplet lie, in quarters.
_TRIPLET_Q = 0.045
_OUTLIER_SIGMAS, _OUTLIER_SEC = 4.0, 0.02
_Z = 1.959963984540054


def noticed_ms(interval_sec: float) -> float:
    """The displacement that is just noticed where tones follow each other at ``interval_sec``."""
    return NOTICED_MS if interval_sec < SLOW_SEC else NOTICED_SHARE * interval_sec * 1000.0


class Swung(NamedTuple):
    """One ratio with its 95 % interval, from ``pairs`` pairs of which both notes were played;
    ``share`` is the long part's, 0 to 1; ``pair_ms`` the length of a pair."""

    ratio: float
    low: float
    high: float
    pairs: int
    share: float
    share_low: float
    share_high: float
    pair_ms: float

    @property
    def is_swung(self) -> bool:
        """True when straight lies below the interval."""
        return self.low > 1.0

    @property
    def is_uneven(self) -> bool:
        """True when straight lies outside the interval and the second note is moved by more than
        the ear lets pass.
        """
        return not self.low <= 1.0 <= self.high and self.is_heard_from(0.5)

    def is_heard_from(self, share: float) -> bool:
        """True when the second note of a pair sounds elsewhere than with ``share``."""
        return abs(self.share - share) * self.pair_ms > noticed_ms(self.pair_ms / 2000.0)


class SwingFit(NamedTuple):
    """What was found for k onsets, in their order.

    ``found``: the ratio by subdivision, None with fewer than four pairs. ``constant_q``: the
    constant part in quarters (late is positive) at the middle of the playing. ``pass_index`` and
    ``slot``: the place of each onset on the 1/16 slots of the cycle, (k,). ``counted``: which
    onsets the fit rests on, (k,). ``played_q``: where the fit, without constant and drift, puts
    each written place, (k,); straight where that is as likely or sounds the same. ``thirds``: which
    onsets stand on the inner thirds of a triplet that the grid does not have, (k,).
    """

    found: dict[Unit, Swung | None]
    constant_q: float
    pass_index: NDArray[np.int64]
    slot: NDArray[np.int64]
    counted: NDArray[np.bool_]
    played_q: Floats
    thirds: NDArray[np.bool_]

    @property
    def main(self) -> Unit | None:
        """The subdivision to speak of: the one that is swung, else the one with more pairs; None
        when neither has enough.
        """
        known = {unit: one for unit, one in self.found.items() if one is not None}
        if not known:
            return None
        return max(
            known,
            key=lambda unit: (known[unit].is_swung, known[unit].ratio if known[unit].is_swung else known[unit].pairs),
        )


class _Places(NamedTuple):
    """The 1/16 slots of a cycle, n of them: written places, the two tents, and for each unit the
    number of its pair (-1: none) and
    whether the slot is the pair's first (0), second (1) or neither (-1); and where the group of
    each starts."""

    written: Floats
    tents: dict[Unit, Floats]
    pair: dict[Unit, NDArray[np.int64]]
    side: dict[Unit, NDArray[np.int64]]
    group: Floats
    cycle_q: float


@lru_cache(maxsize=32)
def _places(cycle: Cycle) -> _Places:
    exact = slots(cycle, Grid("1/16"), Swing()).written
    tents: dict[Unit, Floats] = {}
    pairs: dict[Unit, NDArray[np.int64]] = {}
    sides: dict[Unit, NDArray[np.int64]] = {}
    for unit, length in UNITS.items():
        tent, pair, side = np.zeros(len(exact)), np.full(len(exact), -1), np.full(len(exact), -1)
        number = {place: index for index, place in enumerate(exact)}
        count = 0
        for group in cycle.groups:
            for start in (group.start + index * 2 * length for index in range(int(group.length // (2 * length)))):
                for place in exact:
                    if start <= place < start + 2 * length:
                        inside = place - start
                        tent[number[place]] = float(2 * min(inside, 2 * length - inside))
                        pair[number[place]] = count
                side[number[start]] = 0
                if start + length in number:
                    side[number[start + length]] = 1
                count += 1
        tents[unit], pairs[unit], sides[unit] = tent, pair, side
    starts = np.array([float(group.start) for group in cycle.groups])
    written = np.array(exact, float)
    home = starts[np.searchsorted(starts, written, side="right") - 1]
    return _Places(written, tents, pairs, sides, home, float(cycle.quarters))


def tent_of(cycle: Cycle, unit: Unit) -> tuple[Floats, Floats]:
    """The written places of the 1/16 slots of a cycle, and how far the share of ``unit`` moves
    each; both (n,), quarters.
    """
    places = _places(cycle)
    return places.written, places.tents[unit]


def _nearest(onset_q: Floats, played: Floats, cycle_q: float) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats]:
    """For each onset the pass and slot whose played place is nearest, and the distance to it."""
    edges = (played[1:] + played[:-1]) / 2
    passes = np.floor((onset_q + (cycle_q - played[-1]) / 2) / cycle_q)
    inside = onset_q - passes * cycle_q
    slot = np.searchsorted(edges, inside, side="right")
    return passes.astype(np.int64), slot, inside - played[slot]


class _Laid(NamedTuple):
    """One way to lay written places over the onsets: what it leaves, the constant and the two
    shares above 1/2.
    """

    cost: float
    constant_q: float
    above: dict[Unit, float]


def _search(onset_q: Floats, places: _Places, cut_q: float) -> _Laid:
    """The way that leaves least, straight unless a swing is clearly better."""
    some = onset_q[:: max(len(onset_q) // _MOST_SEARCHED, 1)]
    starts = [second * cut_q / CUT_SEC for second in _CONSTANTS_SEC]

    beside = (places.tents["1/16"] > 0) & (places.side["1/8"] < 0)
    kind = np.round((places.written - places.group) * 4).astype(np.int64) % 4

    def lay(above: dict[Unit, float]) -> _Laid:
        played = places.written + sum(places.tents[unit] * value for unit, value in above.items())
        best = _Laid(np.inf, 0.0, above)
        for start in starts:
            constant = start
            for _ in range(2):
                left = _nearest(some - constant, played, places.cycle_q)[2]
                near = np.abs(left) < cut_q
                constant += float(np.median(left[near])) if near.any() else 0.0
            _, slot, left = _nearest(some - constant, played, places.cycle_q)
            # Of two ways that fit alike the likelier one has a smaller constant, and fewer notes
            # beside the eighths.
            cost = float(np.minimum(left**2, cut_q**2).sum()) / cut_q**2
            cost += _PRIOR * (len(some) * abs(constant) / cut_q + float(beside[slot].sum()))
            # Nor are there more kinds of places than needed: splitting one place into two
            # neighbours always fits better.
            parts = np.bincount(kind[slot]) / len(slot)
            cost -= _SPLIT * len(slot) * float((parts[parts > 0] * np.log(parts[parts > 0])).sum())
            # A swing needs notes to be heard by.
            swung = [unit for unit, value in above.items() if value != 0.0]
            cost += sum(_MARGIN for unit in swung if int((places.side[unit][slot] == 1).sum()) < LEAST_PAIRS)
            if cost < best.cost:
                best = _Laid(cost, constant, above)
        return best

    straight = lay({"1/8": 0.0, "1/16": 0.0})
    swung = [
        lay({"1/8": share - 0.5, "1/16": 0.0} if unit == "1/8" else {"1/8": 0.0, "1/16": share - 0.5})
        for unit in UNITS
        for share in _SHARES.tolist()
        if places.tents[unit].any()
    ]
    best = min(swung, key=lambda one: one.cost, default=straight)
    if best.cost < straight.cost - _MARGIN:
        return best
    return _dotted(some, places, straight) or straight


def _dotted(onset_q: Floats, places: _Places, straight: _Laid) -> _Laid | None:
    """Swung eighths of 3:1, where between the beats there are only notes three quarters through;
    else None.
    """
    _, slot, _ = _nearest(onset_q - straight.constant_q, places.written, places.cycle_q)
    in_pair = places.pair["1/8"][slot] >= 0
    tent, off = places.tents["1/8"][slot], places.tents["1/16"][slot] > 0
    first = places.side["1/8"][slot] == 0
    before = np.roll(places.side["1/8"], 1)[slot] == 0
    last = in_pair & off & ~before
    others = in_pair & ~first & ~last & (tent > 0)
    if last.sum() >= LEAST_PAIRS and not others.any():
        return _Laid(straight.cost, straight.constant_q, {"1/8": 0.25, "1/16": 0.0})
    return None


def _triplets(onset_q: Floats, places: _Places) -> NDArray[np.bool_]:
    """Which onsets stand in a pair of eighths that holds a note on each of its inner thirds and
    none elsewhere inside.
    """
    passes, slot, _ = _nearest(onset_q, places.written, places.cycle_q)
    pair = places.pair["1/8"][slot]
    firsts = np.flatnonzero(places.side["1/8"] == 0)
    if not len(firsts):
        return np.zeros(len(onset_q), bool)
    inside = onset_q - passes * places.cycle_q - places.written[firsts[np.maximum(pair, 0)]]
    inner = (pair >= 0) & (inside > 0.125) & (inside < 0.875)
    key = passes * (len(firsts) + 1) + pair
    thirds = [inner & (np.abs(inside - third) < _TRIPLET_Q) for third in (1 / 3, 2 / 3)]
    marked = [np.unique(key[third]) for third in thirds]
    other = np.unique(key[inner & ~thirds[0] & ~thirds[1]])
    cells = np.setdiff1d(np.intersect1d(marked[0], marked[1]), other)
    return inner & np.isin(key, cells)


def _pairs(key: NDArray[np.int64], side: NDArray[np.int64]) -> int:
    """In how many pairs both notes were played; ``key`` numbers the pair of each note in its pass,
    ``side`` 0 or 1 within it.
    """
    return len(np.intersect1d(key[side == 0], key[side == 1]))


def quantile(freedom: int) -> float:
    """The 97.5 % point of Student's t; good to 0.02 from 3 degrees of freedom on."""
    z, n = _Z, float(max(freedom, 1))
    return (
        z
        + (z**3 + z) / (4 * n)
        + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * n**2)
        + (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * n**3)
    )


def _swung(share: float, half: float, pairs: int, pair_ms: float) -> Swung:
    low, mid, high = (float(np.clip(value, 0.05, 0.95)) for value in (share - half, share, share + half))
    return Swung(mid / (1 - mid), low / (1 - low), high / (1 - high), pairs, mid, low, high, pair_ms)


class _Fitted(NamedTuple):
    value: dict[str, float]
    error: dict[str, float]
    freedom: int
    left: Floats


def _least_squares(columns: dict[str, Floats], target: Floats, used: NDArray[np.bool_]) -> _Fitted:
    names = list(columns)
    matrix = np.stack([columns[name] for name in names], axis=1)
    inverse = np.linalg.pinv(matrix[used].T @ matrix[used])
    answer = inverse @ (matrix[used].T @ target[used])
    left = target - matrix @ answer
    freedom = max(int(used.sum()) - len(names), 1)
    variance = float((left[used] ** 2).sum()) / freedom
    error = np.sqrt(np.maximum(np.diag(inverse) * variance, 0.0))
    return _Fitted(
        dict(zip(names, answer.tolist(), strict=True)), dict(zip(names, error.tolist(), strict=True)), freedom, left
    )


def estimate(onset_q: ArrayLike, cycle: Cycle, quarters_per_minute: float) -> SwingFit:
    """The swing of the playing, by the method at the top.

    ``onset_q``: shape (k,), quarters from the start of pass 0, chords as one onset.
    ``quarters_per_minute``: the usual tempo, which turns the limits of hearing and playing into
    quarters. Some 4 ms and 20 ms more for every thousand onsets, up to 1,200.
    """
    places, onsets = _places(cycle), np.atleast_1d(np.asarray(onset_q, float))
    if not len(onsets):
        none = np.zeros(0, np.int64)
        return SwingFit({"1/8": None, "1/16": None}, 0.0, none, none, np.zeros(0, bool), np.zeros(0), np.zeros(0, bool))
    quarter_ms = 60_000.0 / quarters_per_minute
    cut_q = CUT_SEC * quarters_per_minute / 60.0
    laid = _search(onsets, places, cut_q)
    thirds = _triplets(onsets - laid.constant_q, places)
    if thirds.any() and not thirds.all():
        # A triplet looks like a hard swing, and is none.
        laid = _search(onsets[~thirds], places, cut_q)
        thirds = _triplets(onsets - laid.constant_q, places)
    shown = places.written + sum(places.tents[unit] * laid.above[unit] for unit in UNITS)
    passes, slot, _ = _nearest(onsets - laid.constant_q, shown, places.cycle_q)
    usable = ~thirds
    target = onsets - passes * places.cycle_q - places.written[slot]
    near = np.abs(onsets - laid.constant_q - passes * places.cycle_q - shown[slot]) < 2 * cut_q
    usable &= near
    pairs = {
        unit: _pairs((passes * len(shown) + places.pair[unit][slot])[usable], places.side[unit][slot][usable])
        for unit in UNITS
    }
    columns: dict[str, Floats] = {"constant": np.ones(len(onsets))}
    if usable.sum() >= 8 and np.ptp(onsets[usable]) > 0:
        columns["drift"] = onsets - float(onsets[usable].mean())
    for unit in UNITS:
        tent = places.tents[unit][slot]
        if pairs[unit] >= LEAST_PAIRS:
            columns[unit] = tent
        else:
            # Too few to say: their places are taken as they were laid, and where even that is a
            # guess the notes do not count.
            target = target - tent * laid.above[unit]
            if unit == "1/16" and laid.above[unit] == 0.0 and "1/8" in columns:
                usable &= tent == 0.0
    fitted, used = _robust(columns, target, usable, _OUTLIER_SEC * quarters_per_minute / 60.0)
    found: dict[Unit, Swung | None] = {
        unit: _swung(
            0.5 + fitted.value[unit],
            quantile(fitted.freedom) * fitted.error[unit],
            pairs[unit],
            float(2 * UNITS[unit]) * quarter_ms,
        )
        if unit in columns
        else None
        for unit in UNITS
    }
    above = {unit: _above(found[unit], laid.above[unit]) for unit in UNITS}
    played = places.written + sum(places.tents[unit] * above[unit] for unit in UNITS)
    shown_q = passes * places.cycle_q + played[slot]
    return SwingFit(found, fitted.value["constant"], passes, slot, used, shown_q, thirds)


def _above(one: Swung | None, laid: float) -> float:
    """How far the share lies above straight: nothing where straight is as likely, or sounds the
    same.
    """
    if one is None:
        return laid
    return one.share - 0.5 if one.is_uneven else 0.0


def _robust(
    columns: dict[str, Floats], target: Floats, usable: NDArray[np.bool_], least_q: float
) -> tuple[_Fitted, NDArray[np.bool_]]:
    """The fit without what lies far off it: four robust standard deviations, at least ``least_q``."""
    used = usable if usable.any() else np.ones(len(target), bool)
    fitted = _least_squares(columns, target, used)
    for _ in range(2):
        sigma = float(np.median(np.abs(fitted.left[used]))) * 1.4826
        kept = usable & (np.abs(fitted.left) <= max(_OUTLIER_SIGMAS * sigma, least_q))
        if kept.sum() <= len(columns) + 2 or (kept == used).all():
            break
        used = kept
        fitted = _least_squares(columns, target, used)
    return fitted, used


def report_of(one: Swung | None) -> dict[str, Any] | None:
    """A ratio as it is printed."""
    if one is None:
        return None
    return {
        "ratio": round(one.ratio, 4),
        "low": round(one.low, 4),
        "high": round(one.high, 4),
        "pairs": one.pairs,
        "percent": round(100 * one.share, 2),
        "percent_low": round(100 * one.share_low, 2),
        "percent_high": round(100 * one.share_high, 2),
    }
