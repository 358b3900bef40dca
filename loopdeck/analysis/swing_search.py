"""Which written place each onset was meant for: the first step of ``swing_estimate``.

Method
    Straight, swung eighths and swung sixteenths of every share from 40 to 77.5 % are laid over the
    onsets, with constants of up to a tenth of a second, and the way with the least sum of squares
    (each cut off at ``CUT_SEC``) assigns the onsets. Straight time, small constants and few kinds
    of places cost less. A player who gets away from the click over minutes is followed: ways to
    drift are tried first. One who swings in some bars and not in others is read bar by bar, each
    bar as it leaves less. Where the only notes between the beats lie three quarters through, swung
    eighths of 3:1 and dotted figures are the same sound: they count as swing. This project's rules,
    no source.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.swing_places import UNITS, Floats, Ints, Places, Unit, nearest

LEAST_PAIRS = 4
#: A note further than this from its place says as little as one at this distance.
CUT_SEC = 0.045
_SHARES, _BETWEEN = np.arange(0.4, 0.78, 0.025), 0.0125
#: Short before long is rare, and costs each note ``_PRIOR``; nearer to straight than this nothing.
_SHORT_FIRST = 0.47
#: Sixteenths shorter before longer than this are some other rhythm.
_SHORTEST: dict[Unit, float] = {"1/8": 0.0, "1/16": 0.44}
#: Constants to start the search from.
_CONSTANTS_SEC = (0.0, -0.05, 0.05, 0.1)
#: Constants nearer to each other than this share of ``CUT_SEC`` are one.
_SAME = 0.05
#: A swing must explain this many notes more than straight does to assign the onsets.
_MARGIN = 1.5
#: What a constant of ``CUT_SEC``, or a place on an off-sixteenth, costs a note; a note that fits
#: nowhere costs 1. Larger constants cost their square.
_PRIOR = 0.05
#: Nobody plays only beside the eighths, or sixteenths short before long, and ahead or behind as
#: well: from this share of ``CUT_SEC`` and this share of the notes on, it costs each note so much.
#: Everything is then read a place too early or too late.
_OWN_CONSTANT, _ALL_BESIDE, _ELSEWHERE = 0.5, 0.75, 0.2
#: What a nat costs a note, of the entropy of places or of anything else: minus the log likelihood
#: in units of ``CUT_SEC`` squared, at a spread of a third of that.
_NAT = 0.22
#: What leaves no more than this a note fits: nothing else is tried.
_FITS = 0.12
#: Notes that are looked at to choose the written places, and to find a drift; more would say the
#: same.
_MOST_SEARCHED, _MOST_FOR_DRIFT = 1200, 320
#: Drifts that are tried: from the first note to the last in seconds, and at most so many a minute;
#: takes with fewer notes, or shorter ones, get by without.
_DRIFTS_SEC, _MOST_DRIFT, _LEAST_DRIFTING, _LEAST_SEC = np.arange(-0.64, 0.641, 0.04), 0.24, 32, 20.0
#: What a drift of ``CUT_SEC`` from first to last costs a note.
_DRIFTED = 0.02
_DRIFT_SHARES: tuple[tuple[Unit | None, float], ...] = (
    (None, 0.5),
    ("1/8", 0.58),
    ("1/8", 0.66),
    ("1/16", 0.58),
    ("1/16", 0.66),
)
#: Bars in turn: shares that are tried, and how many bars of either kind, and in all, there have to
#: be.
_TURN_SHARES, _LEAST_BARS, _ALL_BARS = np.arange(0.55, 0.76, 0.025), 1, 3


class Laid(NamedTuple):
    """One way to lay written places over the onsets: what it leaves, the constant, the two shares
    above 1/2, the drift in quarters a quarter from ``start_q`` on, and the bars that are swung
    (counted from 0; None: all of them)."""

    cost: float
    constant_q: float
    above: dict[Unit, float]
    drift: float = 0.0
    start_q: float = 0.0
    swung_bars: frozenset[int] | None = None

    def flat(self, onset_q: Floats) -> Floats:
        """The onsets without the drift."""
        return onset_q - self.drift * (onset_q - self.start_q)

    def assign(self, onset_q: Floats, places: Places) -> "PlacesTaken":
        """The place of each onset, (k,)."""
        bare = self.flat(onset_q) - self.constant_q
        shown = places.played(self.above)
        passes, slot, left = nearest(bare, shown, places.cycle_q)
        swung = np.ones(len(bare), bool)
        if self.swung_bars is not None:
            swung = np.isin(places.bar_of(bare), sorted(self.swung_bars))
            straight = nearest(bare, places.written, places.cycle_q)
            passes, slot = np.where(swung, passes, straight[0]), np.where(swung, slot, straight[1])
            left = np.where(swung, left, straight[2])
        return PlacesTaken(passes, slot, left, swung)


class PlacesTaken(NamedTuple):
    """For k onsets the pass, the slot, the distance in quarters, and whether the bar is swung where
    bars are swung in turn."""

    pass_index: Ints
    slot: Ints
    left: Floats
    swung: NDArray[np.bool_]


def search(onset_q: Floats, places: Places, cut_q: float, drift: float | None = None) -> Laid:
    """The way that leaves least, straight unless a swing is clearly better; ``onset_q`` (k,),
    ``cut_q`` is ``CUT_SEC`` in quarters. ``drift``: the one that is known, None to look for it.
    """
    if drift is None:
        drift = _drift(onset_q, places, cut_q)
    start_q = float(onset_q.min())
    some = _some(onset_q, _MOST_SEARCHED)
    some = some - drift * (some - start_q)
    ways = _Ways(some, places, cut_q)
    straight = ways.lay({"1/8": 0.0, "1/16": 0.0})
    best = _swung(ways) or straight
    if best.cost >= straight.cost - _MARGIN:
        best = _dotted(some, places, straight) or straight
    if ways.leaves(straight) > _FITS:
        best = _or_in_turn(onset_q - drift * (onset_q - start_q), ways, straight, best)
    return best._replace(drift=drift, start_q=start_q)


def _above(unit: Unit | None, share: float) -> dict[Unit, float]:
    return {one: share - 0.5 if one == unit else 0.0 for one in UNITS}


def _swung(ways: "_Ways") -> Laid | None:
    """The best swing of one subdivision, found in two steps."""
    units = [unit for unit in UNITS if ways.places.tents[unit].any()]
    coarse = [
        (ways.lay(_above(unit, share)), unit, share)
        for unit in units
        for share in _SHARES.tolist()
        if share > _SHORTEST[unit]
    ]
    if not coarse:
        return None
    best, unit, share = min(coarse, key=lambda one: one[0].cost)
    fine = [ways.lay(_above(unit, share + step)) for step in (-_BETWEEN, _BETWEEN)]
    return min([best, *fine], key=lambda one: one.cost)


def _some(onset_q: Floats, most: int) -> Floats:
    """At most so many of them: drawn, for every tenth one may always be the same place."""
    if len(onset_q) <= most:
        return onset_q
    return np.asarray(onset_q[np.sort(np.random.default_rng(0).choice(len(onset_q), most, replace=False))])


class _Ways:
    """Ways to lay places over the onsets, and what each leaves."""

    def __init__(self, onset_q: Floats, places: Places, cut_q: float, starts_sec: tuple[float, ...] = _CONSTANTS_SEC):
        self.onset_q, self.places, self.cut_q = onset_q, places, cut_q
        self.starts = [second * cut_q / CUT_SEC for second in starts_sec]
        self.beside = (places.tents["1/16"] > 0) & (places.side["1/8"] < 0)
        self.kind = np.round((places.written - places.group) * 4).astype(np.int64) % 4

    def lay(self, above: dict[Unit, float]) -> Laid:
        """The best constant for these shares."""
        played = self.places.played(above)
        best, seen = Laid(np.inf, 0.0, above), [np.inf]
        for start in self.starts:
            constant = self._nearer(self._nearer(start, played), played)
            if min(abs(constant - one) for one in seen) < _SAME * self.cut_q:
                continue
            seen.append(constant)
            passes, slot, left = nearest(self.onset_q - constant, played, self.places.cycle_q)
            each = self.each(slot, left)
            if above["1/16"] > 0.0:
                each = np.maximum(each, self._early(constant, passes, slot))
            cost = float(each.sum()) + self.of_all(slot, constant, above)
            if cost < best.cost:
                best = Laid(cost, constant, above)
        return best

    def _early(self, constant: float, passes: Ints, slot: Ints) -> Floats:
        """What early notes cost: those that a swing takes for the last sixteenth before a place
        that they are nearer to and that nobody else plays. For other notes 0.
        """
        count = len(self.places.written)
        key = passes * count + slot
        before, straight, left = nearest(self.onset_q - constant, self.places.written, self.places.cycle_q)
        early = (self.places.side["1/16"][slot] == 1) & (before * count + straight == key + 1)
        if not early.any():
            return np.zeros(len(slot))
        early &= ~np.isin(key + 1, key)
        return np.where(early, self.each(straight, left), 0.0)

    def _nearer(self, constant: float, played: Floats) -> float:
        """The constant that the notes near their places then ask for."""
        left = nearest(self.onset_q - constant, played, self.places.cycle_q)[2]
        near = left[np.abs(left) < self.cut_q]
        return constant + (float(np.median(near)) if len(near) else 0.0)

    def leaves(self, laid: Laid) -> float:
        """How much a note costs on average by its distance alone."""
        bare = self.onset_q - laid.constant_q
        left = nearest(bare, self.places.played(laid.above), self.places.cycle_q)[2]
        return float(np.minimum((left / self.cut_q) ** 2, 1.0).mean())

    def each(self, slot: Ints, left: Floats) -> Floats:
        """What each note costs: its distance, and to stand beside the eighths."""
        return np.minimum(left**2, self.cut_q**2) / self.cut_q**2 + _PRIOR * self.beside[slot]

    def of_all(self, slot: Ints, constant: float, above: dict[Unit, float]) -> float:
        """Of two ways that fit alike the likelier one has a smaller constant, and no more kinds of
        places than needed: splitting one place into two neighbours always fits better. A swing
        needs notes to be heard by.
        """
        far = abs(constant) / self.cut_q
        cost = _PRIOR * len(slot) * max(far, far**2)
        parts = np.bincount(self.kind[slot]) / len(slot)
        cost -= _NAT * len(slot) * float((parts[parts > 0] * np.log(parts[parts > 0])).sum())
        if far > _OWN_CONSTANT and (above["1/16"] < 0.0 or self.beside[slot].mean() > _ALL_BESIDE):
            cost += _ELSEWHERE * len(slot)
        swung = [unit for unit, value in above.items() if value != 0.0]
        cost += sum(_MARGIN for unit in swung if int((self.places.side[unit][slot] == 1).sum()) < LEAST_PAIRS)
        return cost + sum(_PRIOR * len(slot) for value in above.values() if value < _SHORT_FIRST - 0.5)


def _drift(onset_q: Floats, places: Places, cut_q: float) -> float:
    """By how much the playing gets later, quarters a quarter; 0 unless a drift explains clearly
    more.
    """
    span_q = float(np.ptp(onset_q))
    minutes = span_q * CUT_SEC / cut_q / 60.0
    if len(onset_q) < _LEAST_DRIFTING or 60.0 * minutes < _LEAST_SEC:
        return 0.0
    some, start_q = _some(onset_q, _MOST_FOR_DRIFT), float(onset_q.min())
    still = _Ways(some, places, cut_q, _CONSTANTS_SEC[:3])
    if min(still.leaves(still.lay(_above(*probe))) for probe in _DRIFT_SHARES) < _FITS:
        return 0.0
    best, found = np.inf, 0.0
    for total in sorted(_DRIFTS_SEC.tolist(), key=abs):
        if abs(total) > _MOST_DRIFT * minutes:
            continue
        drift = total * cut_q / CUT_SEC / span_q
        ways = _Ways(some - drift * (some - start_q), places, cut_q, _CONSTANTS_SEC[:3])
        cost = min(ways.lay(_above(*probe)).cost for probe in _DRIFT_SHARES)
        cost += _DRIFTED * len(some) * abs(total) / CUT_SEC
        if cost < best - (_MARGIN if found == 0.0 else 0.0):
            best, found = cost, drift
    return found


def _or_in_turn(onset_q: Floats, ways: _Ways, straight: Laid, best: Laid) -> Laid:
    """Swung in turn, where that is clearly better than ``best``; ``onset_q``: all the onsets, of
    which ``ways`` may have some.
    """
    other, against = ways, best.cost
    if len(onset_q) > len(ways.onset_q):
        # Notes drawn one by one leave too few in each bar.
        other = _Ways(_whole_bars(onset_q, ways.places, _MOST_SEARCHED), ways.places, ways.cut_q)
        straight, against = other.lay(straight.above), other.lay(best.above).cost
    found = _in_turn(other, straight)
    if found is None or found.cost >= against - _MARGIN:
        return best
    if other is ways:
        return found
    unit = next(unit for unit, value in found.above.items() if value)
    bars = _Bars(_Ways(onset_q, ways.places, ways.cut_q), found.constant_q)
    return found._replace(swung_bars=bars.named(bars.bent(unit, found.above).swung))


def _whole_bars(onset_q: Floats, places: Places, most: int) -> Floats:
    """The onsets of bars that are drawn until there are so many."""
    numbers, home, counts = np.unique(places.bar_of(onset_q), return_inverse=True, return_counts=True)
    drawn = np.random.default_rng(0).permutation(len(numbers))
    enough = int(np.searchsorted(np.cumsum(counts[drawn]), most)) + 1
    return np.asarray(onset_q[np.isin(home, drawn[:enough])], float)


class _Bent(NamedTuple):
    """With a swing: what each note costs, its slot, which bars are the better for it, and which are
    not though they have off-beats."""

    cost: Floats
    slot: Ints
    swung: NDArray[np.bool_]
    straight: NDArray[np.bool_]


class _Bars:
    """The notes bar by bar, straight at a constant, and what a swing would change."""

    def __init__(self, ways: _Ways, constant_q: float) -> None:
        self.ways, self.bare = ways, ways.onset_q - constant_q
        self.numbers, self.home = np.unique(ways.places.bar_of(self.bare), return_inverse=True)
        _, self.slot, left = nearest(self.bare, ways.places.written, ways.places.cycle_q)
        self.plain = ways.each(self.slot, left)

    def bent(self, unit: Unit, above: dict[Unit, float]) -> _Bent:
        """With the shares ``above``, those of ``unit``."""
        places = self.ways.places
        _, slot, left = nearest(self.bare, places.played(above), places.cycle_q)
        cost = self.ways.each(slot, left)
        off = np.bincount(self.home, places.side[unit][np.where(cost < self.plain, slot, self.slot)] == 1) >= 2
        swung = (np.bincount(self.home, self.plain - cost) > 0) & off
        return _Bent(cost, slot, swung, ~swung & off)

    def named(self, some: NDArray[np.bool_]) -> frozenset[int]:
        """The numbers of some of the bars."""
        return frozenset(self.numbers[some].tolist())


def _in_turn(ways: _Ways, straight: Laid) -> Laid | None:
    """Swung in some bars and straight in the others, at the constant of the straight ones."""
    best: Laid | None = None
    for constant in (straight.constant_q, 0.0):
        bars = _Bars(ways, constant)
        if len(bars.numbers) < _ALL_BARS:
            return None
        for unit, share in ((unit, share) for unit in UNITS for share in _TURN_SHARES.tolist()):
            above = _above(unit, share)
            bent = bars.bent(unit, above)
            if bent.swung.sum() < _LEAST_BARS or bent.straight.sum() < _LEAST_BARS:
                continue
            mine = bent.swung[bars.home]
            cost = float(np.where(mine, bent.cost, bars.plain).sum() + _NAT * np.log(2) * len(bars.numbers))
            cost += 2 * _MARGIN + ways.of_all(np.where(mine, bent.slot, bars.slot), constant, above)
            if best is None or cost < best.cost:
                best = Laid(cost, constant, above, swung_bars=bars.named(bent.swung))
    return best


def _dotted(onset_q: Floats, places: Places, straight: Laid) -> Laid | None:
    """Swung eighths of 3:1, where between the beats there are only notes three quarters through;
    else None.
    """
    _, slot, _ = nearest(onset_q - straight.constant_q, places.written, places.cycle_q)
    in_pair = places.pair["1/8"][slot] >= 0
    tent, off = places.tents["1/8"][slot], places.tents["1/16"][slot] > 0
    first = places.side["1/8"][slot] == 0
    before = np.roll(places.side["1/8"], 1)[slot] == 0
    last = in_pair & off & ~before
    others = in_pair & ~first & ~last & (tent > 0)
    if last.sum() >= LEAST_PAIRS and not others.any():
        return Laid(straight.cost, straight.constant_q, {"1/8": 0.25, "1/16": 0.0})
    return None
