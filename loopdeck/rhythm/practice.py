"""Practice of time: tapping a tempo, ramps, which clicks sound, and how far the player drifted
while they did not.

Conventions
    Seconds rise; tempi are quarters a minute; positions are quarters, from the start of the cycle
    where a place is exact and from the start of pass 0 where it was played. Passes count from 0; a
    count-in is pass -1. Offsets are played minus due: negative is early.

Written forms, each read back by its ``parse_`` function
    Ramp: ``+4 every 2 to 120``: 4 quarters a minute more every 2 passes until 120; ``-5 every 1 to
    60``. Clicks: up to three parts, separated by semicolons: which (``all``, ``bar``, ``group``, or
    counts such as ``2 4``), bars with and without (``2 on, 2 off``), and the speed (``half``,
    ``double``): ``2 4; 2 on, 2 off; double``.
"""

import re
from bisect import bisect_left
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.errors import UserError
from loopdeck.rhythm.errors import quoted
from loopdeck.rhythm.meter import MAX_NUMERATOR, ClickPlace, Cycle
from loopdeck.rhythm.quantize import Slots, locate
from loopdeck.rhythm.tempo import FASTEST_QPM, SLOWEST_QPM

# ---- tapping -------------------------------------------------------------------------------------

#: After so long without a tap, or so many of the beats tapped last where that is longer, the next
#: one begins a new row; after a single tap so many beats of the slowest tempo.
FORGET_SEC, FORGET_BEATS, FORGET_SLOWEST = 2.0, 2.4, 1.2
#: Taps needed, and taps that count: people steady up within a few beats, and change their minds.
LEAST_TAPS, MOST_TAPS = 3, 8
#: How far from its place a tap may lie, as a share of the beat, to be one of the row.
_FITS = 0.2


class TapTempo:
    """A tempo from taps. ``beat_q``: the length of the tapped beat in quarters.

    One missed or one extra tap in a row of five and more changes nothing; fewer cannot tell which
    of them is wrong.
    """

    def __init__(self, beat_q: Fraction | float = 1) -> None:
        self.beat_q = float(beat_q)
        self._taps: deque[float] = deque(maxlen=MOST_TAPS)

    def tap(self, sec: float) -> float | None:
        """A tap; the tempo so far, or None with too few taps or a tempo that is out of range. One
        that goes back in time is passed over.
        """
        if self._taps and sec - self._taps[-1] > self._patience():
            self._taps.clear()
        if len(self._taps) == 2 and 0.0 < 2.0 * (sec - self._taps[1]) < self._taps[1] - self._taps[0]:
            # The first one stood alone; the row begins with the second.
            self._taps.popleft()
        if not self._taps or sec > self._taps[-1]:
            self._taps.append(sec)
        return self.qpm

    def _patience(self) -> float:
        """For how long the next tap is waited for."""
        if len(self._taps) < 2:
            return max(FORGET_SEC, FORGET_SLOWEST * 60.0 / float(SLOWEST_QPM) * self.beat_q)
        return max(FORGET_SEC, FORGET_BEATS * (self._taps[-1] - self._taps[-2]))

    @property
    def taps(self) -> int:
        """Taps in the row."""
        return len(self._taps)

    @property
    def qpm(self) -> float | None:
        """Quarters a minute; None with too few taps or out of the range of tempi."""
        if len(self._taps) < LEAST_TAPS:
            return None
        qpm = 60.0 / _beat(np.array(self._taps)) * self.beat_q
        return qpm if SLOWEST_QPM <= qpm <= FASTEST_QPM else None


def _beat(taps: NDArray[np.float64]) -> float:
    """The beat with the fewest faults, missing taps and extra ones, laid through them by least
    squares.
    """
    gaps = np.diff(taps)
    best, best_score = float(np.median(gaps)), (-np.inf, 0.0)
    for beat in np.unique(np.concatenate([gaps, taps[2:] - taps[:-2]])):
        for anchor in taps:
            place = (taps - anchor) / beat
            index = np.round(place)
            off = np.abs(place - index)
            # Of two taps at one place the nearer one counts.
            order = np.lexsort((off, index))
            first = np.ones(len(order), bool)
            first[1:] = index[order][1:] != index[order][:-1]
            chosen = np.sort(order[first & (off[order] <= _FITS)])
            if len(chosen) < LEAST_TAPS - 1:
                continue
            missing = index[chosen[-1]] - index[chosen[0]] + 1 - len(chosen)
            # The slope of the least-squares line is the beat in steps of the guess.
            centred = index[chosen] - index[chosen].mean()
            score = (len(chosen) - len(taps) - missing, -float(off[chosen].sum()))
            if score > best_score:
                best_score, best = score, float((centred * taps[chosen]).sum() / (centred**2).sum())
    return best


# ---- ramps ---------------------------------------------------------------------------------------

_RAMP = re.compile(
    r"([+-]?[0-9]{1,3}(?:\.[0-9]{1,3})?)\s+every\s+([0-9]{1,4})\s+to\s+([0-9]{1,4}(?:\.[0-9]{1,3})?)", re.ASCII
)
MAX_EVERY = 1000


@dataclass(frozen=True)
class Ramp:
    """``step_qpm`` quarters a minute more (or, below 0, less) every ``every`` passes, up (or down)
    to ``target_qpm``. Raises UserError.
    """

    step_qpm: Fraction
    every: int
    target_qpm: Fraction

    def __post_init__(self) -> None:
        if self.step_qpm == 0:
            raise UserError("A ramp with a step of 0 goes nowhere; write one like '+4 every 2 to 120'.")
        if not 1 <= self.every <= MAX_EVERY:
            raise UserError(f"A ramp steps every 1 to {MAX_EVERY} passes, not every {self.every}.")
        if not SLOWEST_QPM <= self.target_qpm <= FASTEST_QPM:
            raise UserError(
                f"The ramp's target {_decimal(self.target_qpm)} is out of range; "
                f"it must lie between {SLOWEST_QPM} and {FASTEST_QPM} quarters a minute."
            )

    def qpm(self, start_qpm: float, pass_index: int) -> float:
        """The tempo of a pass, when pass 0 (and a count-in) had ``start_qpm``.

        Where the target lies the other way, nothing changes.
        """
        way = float(self.target_qpm) - start_qpm
        if way * float(self.step_qpm) <= 0:
            return start_qpm
        reached = start_qpm + max(pass_index, 0) // self.every * float(self.step_qpm)
        return min(reached, float(self.target_qpm)) if way > 0 else max(reached, float(self.target_qpm))

    def passes(self, start_qpm: float) -> int:
        """The first pass that has the target's tempo; 0 where nothing changes."""
        way = (float(self.target_qpm) - start_qpm) / float(self.step_qpm)
        return int(np.ceil(way - 1e-9)) * self.every if way > 0 else 0

    def __str__(self) -> str:
        sign = "+" if self.step_qpm > 0 else "-"
        return f"{sign}{_decimal(abs(self.step_qpm))} every {self.every} to {_decimal(self.target_qpm)}"


def parse_ramp(text: str) -> Ramp:
    """``+4 every 2 to 120`` or ``-5 every 1 to 60``. Raises UserError."""
    found = _RAMP.fullmatch(" ".join(text.lower().split()))
    if found is None:
        raise UserError(f"{quoted(text)} is not a ramp; write one like '+4 every 2 to 120' or '-5 every 1 to 60'.")
    return Ramp(Fraction(found.group(1)), int(found.group(2)), Fraction(found.group(3)))


def _decimal(number: Fraction) -> str:
    return str(number.numerator) if number.denominator == 1 else f"{float(number):.3f}".rstrip("0").rstrip(".")


# ---- which clicks sound --------------------------------------------------------------------------

_ON_OFF = re.compile(r"([0-9]{1,2})\s*on\s*,?\s*([0-9]{1,2})\s*off", re.ASCII)
_COUNTS = re.compile(r"[0-9]{1,2}(?:[\s,]+[0-9]{1,2})*", re.ASCII)
_WHICH = ("all", "bar", "group")
_SPEEDS = ("normal", "half", "double")
MAX_DROPOUT_BARS = 64


@dataclass(frozen=True)
class ClickMask:
    """Which of a cycle's clicks sound.

    ``which``: all, bar (bar starts), group (starts of bars and groups), or counts within the bar
    from 1, rising. ``on_bars``, ``off_bars``: bars that sound and bars that are silent, in turn
    from the first bar of pass 0; 0 and 0 for no dropout. ``speed``: half sounds every other of the
    chosen clicks, counted on from bar to bar and pass to pass, and afresh where the unit changes
    (so 7/8 alternates, and 4/4 always has 1 and 3); double adds a click half a unit after each
    chosen one. Raises UserError.
    """

    which: str | tuple[int, ...] = "all"
    on_bars: int = 0
    off_bars: int = 0
    speed: str = "normal"

    def __post_init__(self) -> None:
        if isinstance(self.which, str):
            if self.which not in _WHICH:
                raise UserError(
                    f"There are no clicks {quoted(self.which)}; there are all, bar, group and counts such as 2 4."
                )
        elif (
            not self.which
            or list(self.which) != sorted({*self.which})
            or not 1 <= self.which[0] <= self.which[-1] <= MAX_NUMERATOR
        ):
            raise UserError(
                f"The counts of a click lie between 1 and {MAX_NUMERATOR}, each once and in order, as in 2 4."
            )
        if (self.on_bars, self.off_bars) != (0, 0) and not (
            1 <= self.on_bars <= MAX_DROPOUT_BARS and 1 <= self.off_bars <= MAX_DROPOUT_BARS
        ):
            raise UserError(
                f"The click can be on and off for 1 to {MAX_DROPOUT_BARS} bars, as in '2 on, 2 off', "
                f"not {self.on_bars} on and {self.off_bars} off."
            )
        if self.speed not in _SPEEDS:
            raise UserError(f"There is no click speed {quoted(self.speed)}; there are normal, half and double.")

    def clicks(self, cycle: Cycle, pass_index: int, first_bar: int | None = None) -> tuple[ClickPlace, ...]:
        """The clicks that sound in a pass, in order.

        A count-in (a pass below 0) always has all of its own: every click of the cycle.
        """
        if pass_index < 0:
            return cycle.clicks
        first_bar = pass_index * len(cycle.meters) if first_bar is None else first_bar
        found = []
        for click in self._at_speed(cycle, pass_index):
            if not self.silent(first_bar + click.bar):
                found.append(click)
        return tuple(found)

    def silent(self, bar: int) -> bool:
        """Whether the click drops out in a bar, counted from the first bar of pass 0."""
        return self.off_bars > 0 and bar >= 0 and bar % (self.on_bars + self.off_bars) >= self.on_bars

    def silences(self, cycle: Cycle, passes: int) -> tuple[tuple[Fraction, Fraction], ...]:
        """The stretches of silent bars in so many passes: start and end, in quarters from the start
        of pass 0.

        One that is still silent at the end of the last pass is left out: the click has not come
        back.
        """
        spans: list[tuple[Fraction, Fraction]] = []
        since = None
        for bar in range(passes * len(cycle.meters)):
            turn, index = divmod(bar, len(cycle.meters))
            start = turn * cycle.quarters + cycle.bar_starts[index]
            if self.silent(bar) and since is None:
                since = start
            elif not self.silent(bar) and since is not None:
                spans.append((since, start))
                since = None
        return tuple(spans)

    def _at_speed(self, cycle: Cycle, pass_index: int) -> Iterable[ClickPlace]:
        chosen = [click for click in cycle.clicks if self._chosen(click)]
        if self.speed == "half":
            return _every_other(cycle, chosen, pass_index)
        if self.speed == "double":
            units = [meter.unit_quarters for meter in cycle.meters]
            halves = [ClickPlace(one.position + units[one.bar] / 2, "between", one.bar, one.beat) for one in chosen]
            return [click for pair in zip(chosen, halves, strict=True) for click in pair]
        return chosen

    def _chosen(self, click: ClickPlace) -> bool:
        if isinstance(self.which, tuple):
            return click.beat in self.which
        return self.which == "all" or click.kind == "bar" or (self.which == "group" and click.kind == "group")

    def __str__(self) -> str:
        which = self.which if isinstance(self.which, str) else " ".join(map(str, self.which))
        parts = [which]
        if self.off_bars:
            parts.append(f"{self.on_bars} on, {self.off_bars} off")
        if self.speed != "normal":
            parts.append(self.speed)
        return "; ".join(parts)


def _every_other(cycle: Cycle, chosen: list[ClickPlace], pass_index: int) -> list[ClickPlace]:
    """The first, third and so on of each row of clicks in bars of one unit; rows run on from the
    pass before.
    """
    units = [meter.unit for meter in cycle.meters]
    changes = [bar for bar, (one, other) in enumerate(pairwise(units), 1) if one != other]
    if not changes:
        carried = pass_index * len(chosen)
    elif units[0] == units[-1] and pass_index > 0:
        carried = sum(click.bar >= changes[-1] for click in chosen)
    else:
        carried = 0
    found, count = [], carried
    row = 0
    for click in chosen:
        if (now := bisect_left(changes, click.bar + 1)) != row:
            row, count = now, 0
        if count % 2 == 0:
            found.append(click)
        count += 1
    return found


def parse_clicks(text: str) -> ClickMask:
    """``all``, ``2 4``, ``group; 2 on, 2 off``, ``bar; double``: the parts in any order, each once
    at most. Raises UserError.
    """
    which: str | tuple[int, ...] | None = None
    bars: tuple[int, int] | None = None
    speed: str | None = None
    for part in (" ".join(part.lower().split()) for part in text.split(";")):
        if found := _ON_OFF.fullmatch(part):
            twice, bars = bars is not None, (int(found.group(1)), int(found.group(2)))
        elif part in _SPEEDS:
            twice, speed = speed is not None, part
        elif part in _WHICH or _COUNTS.fullmatch(part):
            twice = which is not None
            which = part if part in _WHICH else tuple(sorted({int(word) for word in re.split(r"[\s,]+", part)}))
        else:
            raise UserError(
                f"{quoted(part or text)} does not say which clicks sound; write all, bar, group, counts such as 2 4, "
                f"'2 on, 2 off', half or double, with semicolons between."
            )
        if twice:
            raise UserError(f"The clicks {quoted(text)} say one thing twice, {quoted(part)}; each can be said once.")
    on, off = bars or (0, 0)
    if bars is not None and (on, off) == (0, 0):
        raise UserError(
            f"The click can be on and off for 1 to {MAX_DROPOUT_BARS} bars, as in '2 on, 2 off', not 0 on and 0 off."
        )
    return ClickMask("all" if which is None else which, on, off, speed or "normal")


# ---- drift ---------------------------------------------------------------------------------------

#: The onsets that say where the player was when the click came back: those of the last two quarters
#: before and the first half after.
_BEFORE_RETURN_Q, _AFTER_RETURN_Q = 2.0, 0.5
#: The onsets whose median offset and slope say where the next one is expected, so that one wild
#: note leads nowhere.
_FOLLOWED = 5


class Drift(NamedTuple):
    """How the player kept time while the click was silent, from ``start_q`` to ``end_q``, over
    ``onsets`` onsets.

    ``before_ms``: the median offset in the bar's worth of sound before. ``return_ms``: the median
    offset when the click came back. ``drift_ms``: the one minus the other, negative for having run
    ahead. ``ms_per_quarter``: how steadily it grew. ``tempo_percent``: the tempo kept against the
    tempo set: +1.0 played one per cent too fast.
    """

    start_q: float
    end_q: float
    onsets: int
    before_ms: float
    return_ms: float
    drift_ms: float
    ms_per_quarter: float
    tempo_percent: float


def drift_report(
    onset_q: ArrayLike, table: Slots, qpm: float, silences: Sequence[tuple[Fraction | float, Fraction | float]]
) -> tuple[Drift, ...]:
    """One Drift for each silence with at least three onsets in it.

    ``onset_q``: shape (k,), quarters from the start of pass 0 at a steady ``qpm``, in any order.
    ``table``: the slots that judge them. ``silences``: as ``ClickMask.silences`` gives them. A
    player may drift by more than half a slot, so each onset is judged against the slots moved by
    what the five before it lead one to expect (median and slope), and the trend is the median of
    the slopes between all pairs (H. Theil, "A rank-invariant method of linear and polynomial
    regression analysis", 1950): one wrong note in four does no harm.
    """
    onsets = np.sort(np.asarray(onset_q, dtype=np.float64).ravel())
    ms = 60_000.0 / qpm
    found = []
    for start, end in ((float(start), float(end)) for start, end in silences):
        before = onsets[(onsets >= start - max(end - start, 4.0)) & (onsets < start)]
        early = before - locate(before, table).target_q
        base = float(np.median(early)) if len(early) else 0.0
        # A player who is behind plays the last notes of the silence after its end.
        played = onsets[(onsets >= start + min(base, 0.0)) & (onsets <= end + _AFTER_RETURN_Q)]
        due, off = _followed(played, table, base)
        inside = (due >= start) & (due < end)
        if inside.sum() < 3:
            continue
        back = (due >= end - _BEFORE_RETURN_Q) & (due <= end)
        last = off[back] if back.any() else off[inside][-1:]
        slope = _slope(due[inside], off[inside])
        found.append(
            Drift(
                start_q=start,
                end_q=end,
                onsets=int(inside.sum()),
                before_ms=base * ms,
                return_ms=float(np.median(last)) * ms,
                drift_ms=(float(np.median(last)) - base) * ms,
                ms_per_quarter=slope * ms,
                tempo_percent=(1.0 / (1.0 + slope) - 1.0) * 100.0,
            )
        )
    return tuple(found)


def _followed(
    onsets: NDArray[np.float64], table: Slots, base: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """For each onset in order, where it was due and how far it was off, both in quarters."""
    due, off = np.zeros(len(onsets)), np.zeros(len(onsets))
    for index, onset in enumerate(onsets.tolist()):
        near = slice(max(index - _FOLLOWED, 0), index)
        expected = base
        if index >= 3:
            ahead = onset - float(np.median(onsets[near]))
            expected = float(np.median(off[near])) + _slope(due[near], off[near]) * ahead
        due[index] = locate([onset - expected], table).target_q[0]
        off[index] = onset - due[index]
    return due, off


def _slope(x: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    left, right = np.triu_indices(len(x), 1)
    apart = x[right] - x[left]
    far = apart > 1e-9
    return float(np.median((y[right] - y[left])[far] / apart[far])) if far.any() else 0.0
