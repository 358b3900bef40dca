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

    The written places come first (``swing_search``). Beats that hold a triplet and nothing else say
    nothing about pairs and are left out. Of a player who swings some bars and not the others, the
    ratio over all is the mean, with an interval to match; ``turns`` has the bars.

    t's quantile: Abramowitz & Stegun, Handbook of Mathematical Functions (1964), 26.7.5.
"""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.analysis.swing_places import UNITS, Floats, Places, Unit, nearest, places_of
from loopdeck.analysis.swing_search import CUT_SEC, LEAST_PAIRS, Laid, search
from loopdeck.rhythm.meter import Cycle

#: The just noticeable displacement of a tone where tones follow each other faster than every 240
#: ms, and its share of the interval above that (Friberg & Sundberg, "Time discrimination in a
#: monotonic, isochronous sequence", JASA 98, 1995).
NOTICED_MS, NOTICED_SHARE, SLOW_SEC = 6.0, 0.025, 0.240
#: How near to the thirds of a beat the two notes of a triplet lie, in quarters.
_TRIPLET_Q = 0.045
_OUTLIER_SIGMAS, _OUTLIER_SEC = 4.0, 0.02
#: A swing is one if the inner quartiles of second and of first notes, of at least so many places,
#: are this share of it apart.
_OUTSIDE, _FIRSTS = 0.25, 3
#: What share of the strokes makes a playing one in eighths.
_ON_EIGHTHS = 0.9
_Z = 1.959963984540054


def noticed_ms(interval_sec: float) -> float:
    """The displacement that is just noticed where tones follow each other at ``interval_sec``."""
    return NOTICED_MS if interval_sec < SLOW_SEC else NOTICED_SHARE * interval_sec * 1000.0


class Swung(NamedTuple):
    """One ratio with its 95 % interval, from ``pairs`` pairs of which both notes were played;
    ``share`` is the long part's, 0 to 1; ``pair_ms`` the length of a pair. ``by_places``: single
    places that come early or late explain it as well."""

    ratio: float
    low: float
    high: float
    pairs: int
    share: float
    share_low: float
    share_high: float
    pair_ms: float
    by_places: bool = False

    @property
    def is_swung(self) -> bool:
        """True when straight lies below the interval."""
        return self.low > 1.0

    @property
    def is_uneven(self) -> bool:
        """True when straight lies outside the interval and the second note is moved by more than
        the ear lets pass, and no single places account for it.
        """
        return not self.low <= 1.0 <= self.high and self.is_heard_from(0.5) and not self.by_places

    def is_heard_from(self, share: float) -> bool:
        """True when the second note of a pair sounds elsewhere than with ``share``."""
        return abs(self.share - share) * self.pair_ms > noticed_ms(self.pair_ms / 2000.0)


class Turns(NamedTuple):
    """Bars that are swung and bars that are straight, each with notes that tell; ``share`` is the
    swung ones'."""

    unit: Unit
    share: float
    swung: tuple[int, ...]
    straight: tuple[int, ...]


class SwingFit(NamedTuple):
    """What was found for k onsets, in their order.

    ``found``: the ratio by subdivision, None with fewer than four pairs. ``constant_q``: the
    constant part in quarters (late is positive) at the middle of the playing. ``pass_index`` and
    ``slot``: the place of each onset on the 1/16 slots of the cycle, (k,). ``counted``: which
    onsets the fit rests on, (k,). ``played_q``: where the fit, without constant and drift, puts
    each written place, (k,); straight where that is as likely or sounds the same. ``thirds``: which
    onsets stand on the inner thirds of a triplet that the grid does not have, (k,). ``drift_q``:
    how far a drift has carried each onset, in quarters, 0 in the middle and where there is no great
    one, (k,). ``turns``: bars that are swung in turn, counted from 0, None where all are alike.
    ``clicking``: how closely the onsets keep to their places, the mean resultant length of their
    phases (Fisher, Statistical Analysis of Circular Data, 1993): 1 on the dot, about 0 for playing
    that has nothing to do with the click.
    """

    found: dict[Unit, Swung | None]
    constant_q: float
    pass_index: NDArray[np.int64]
    slot: NDArray[np.int64]
    counted: NDArray[np.bool_]
    played_q: Floats
    thirds: NDArray[np.bool_]
    drift_q: Floats
    turns: Turns | None = None
    clicking: float = 1.0

    def from_bar(self, first: int) -> "SwingFit":
        """The same with the bars counted from ``first``."""
        if self.turns is None:
            return self
        swung, straight = (tuple(bar + first for bar in bars) for bars in (self.turns.swung, self.turns.straight))
        return self._replace(turns=self.turns._replace(swung=swung, straight=straight))

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


def _triplets(onset_q: Floats, places: Places) -> NDArray[np.bool_]:
    """Which onsets stand in a pair of eighths that holds a note on each of its inner thirds and
    none elsewhere inside.
    """
    passes, slot, _ = nearest(onset_q, places.written, places.cycle_q)
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
    quarters. Some 10 ms, and 20 ms more for every thousand onsets up to 1,200; 40 ms more where the
    onsets lie far from all places and a drift is looked for.
    """
    places, onsets = places_of(cycle), np.atleast_1d(np.asarray(onset_q, float))
    if not len(onsets):
        none = np.zeros(0, np.int64)
        return SwingFit(
            {"1/8": None, "1/16": None}, 0.0, none, none, np.zeros(0, bool), np.zeros(0), np.zeros(0, bool), np.zeros(0)
        )
    quarter_ms = 60_000.0 / quarters_per_minute
    cut_q = CUT_SEC * quarters_per_minute / 60.0
    laid = search(onsets, places, cut_q)
    thirds = _triplets(laid.flat(onsets) - laid.constant_q, places)
    if thirds.any() and not thirds.all():
        # A triplet looks like a hard swing, and is none.
        laid = search(onsets[~thirds], places, cut_q, laid.drift)
        thirds = _triplets(laid.flat(onsets) - laid.constant_q, places)
    passes, slot, left, swung = laid.assign(onsets, places)
    target = onsets - passes * places.cycle_q - places.written[slot]
    usable = ~thirds & (np.abs(left) < 2 * cut_q)
    pairs = {
        unit: _pairs((passes * len(places.written) + places.pair[unit][slot])[usable], places.side[unit][slot][usable])
        for unit in UNITS
    }
    columns, target, usable = _columns(onsets, target, usable, pairs, (laid, places, slot, swung))
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
    for unit, one in found.items():
        if one is not None and one.is_uneven:
            behind = fitted.left + columns[unit] * fitted.value[unit]
            due = fitted.value[unit] * float(places.tents[unit].max())
            found[unit] = one._replace(by_places=_by_places(behind[used], slot[used], places.side[unit], due))
    above = {unit: _above(found[unit], laid.above[unit]) for unit in UNITS}
    turns = _turns(laid, columns, target, used, swung, places.bar_of(laid.flat(onsets) - laid.constant_q))
    if turns is not None:
        above = {unit: turns.share - 0.5 if unit == turns.unit else 0.0 for unit in UNITS}
    inside_q = np.where(swung, places.played(above)[slot], places.written[slot])
    shown_q = np.asarray(passes * places.cycle_q + inside_q, np.float64)
    drift_q = fitted.value["drift"] * columns["drift"] if laid.drift and "drift" in columns else np.zeros(len(onsets))
    constant_q = fitted.value["constant"]
    clicking = _clicking((onsets - constant_q - drift_q - shown_q)[~thirds], places.tents["1/8"][slot[~thirds]])
    return SwingFit(found, constant_q, passes, slot, used, shown_q, thirds, drift_q, turns, clicking)


def _columns(
    onsets: Floats,
    target: Floats,
    usable: NDArray[np.bool_],
    pairs: dict[Unit, int],
    chosen: tuple[Laid, Places, NDArray[np.int64], NDArray[np.bool_]],
) -> tuple[dict[str, Floats], Floats, NDArray[np.bool_]]:
    """What is fitted to what, and with which onsets."""
    laid, places, slot, swung = chosen
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
            target = target - tent * laid.above[unit] * swung
            if unit == "1/16" and laid.above[unit] == 0.0 and "1/8" in columns:
                usable = usable & (tent == 0.0)
    return columns, target, usable


def _clicking(left_q: Floats, tent: Floats) -> float:
    """The mean resultant length of the strokes' phases: from one eighth to the next where nearly
    all stand on eighths, else between sixteenths. ``tent``: the eighths' at each.
    """
    if len(left_q) < 2:
        return 1.0
    eighth = tent % 1.0 < 1e-9
    period = 0.5 if eighth.mean() > _ON_EIGHTHS else 0.25
    return float(abs(np.exp(2j * np.pi * left_q[eighth | (period < 0.5)] / period).mean()))


def _by_places(behind_q: Floats, slot: NDArray[np.int64], side: NDArray[np.int64], due_q: float) -> bool:
    """True where many of the second notes of the pairs stand no further out than many of the first
    ones, or most of them by less than half of ``due_q``, what the swing found would move them by:
    some places are early or late then, and nothing is swung.
    """
    first, second = (
        [float(np.median(behind_q[slot == one])) for one in np.unique(slot[side[slot] == which])] for which in (0, 1)
    )
    if len(first) < _FIRSTS or not second:
        return False
    moved = float(np.median(second)) - float(np.median(first))
    apart = (25, 75) if moved > 0 else (75, 25)
    beyond = float(np.percentile(second, apart[0])) - float(np.percentile(first, apart[1]))
    return bool(beyond * np.sign(moved) < abs(moved) * _OUTSIDE or moved * np.sign(due_q) < abs(due_q) / 2)


def _turns(
    laid: Laid,
    columns: dict[str, Floats],
    target: Floats,
    used: NDArray[np.bool_],
    swung: NDArray[np.bool_],
    bars: NDArray[np.int64],
) -> Turns | None:
    """The share of the swung bars alone, where bars are swung in turn."""
    unit = next((unit for unit in UNITS if unit in columns and laid.above[unit] != 0.0), None)
    if laid.swung_bars is None or unit is None:
        return None
    apart = {**columns, unit: columns[unit] * swung, "straight": columns[unit] * ~swung}
    share = float(np.clip(0.5 + _least_squares(apart, target, used).value[unit], 0.5, 0.95))
    told = used & (columns[unit] > 0.0)
    kinds = [tuple(np.unique(bars[told & chosen]).tolist()) for chosen in (swung, ~swung)]
    return Turns(unit, share, kinds[0], kinds[1]) if all(kinds) else None


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
    """The fit without what lies far off it: four robust standard deviations, at least
    ``least_q``.
    """
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
