"""Bends and vibrato: what the pitch does around a fretted note that it does not leave.

Conventions
    Semitones above the fretted pitch; a finger on a fret can only raise a note, but a pickup wavers
    around it. ``cents`` of a vibrato are from peak to peak. A bend rises by ``LEAST_BEND`` at least
    from where it was; a release comes back by most of that.
"""

from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.curve import STEP_SEC, Samples, middle

LEAST_BEND, BACK = 0.3, 0.35
#: Turns of a vibrato: how far the pitch comes back to count as one, half a wave's length, and how
#: many there must be.
TURN, HALF_SEC, LEAST_TURNS = 0.06, (0.05, 0.18), 3
LEAST_CENTS = 15.0
#: Turns and waves that a noisy sensor makes by itself are up to so many times its noise.
NOISE_TURN, NOISE_CENTS, SLOW_SEC = 1.7, 300.0, 0.012
#: Few turns must be wider than many.
FEW_TURNS, FEW_CENTS = 4, 20.0
#: A turn differs from the usual one by no more than this factor: waves are regular, unsteadiness is
#: not.
UNEVEN, UNEVEN_CENTS = 1.9, 2.5
HELD_SEC = 0.03
#: A shorter stretch tells nothing; the pitch is smoothed over so many samples.
LEAST_SAMPLES, SMOOTH = 8, 5


class Sway(NamedTuple):
    """``bend`` is the peak (0.0: none), ``released`` whether it came back, ``vibrato`` (hertz,
    cents) or None.
    """

    bend: float
    released: bool
    vibrato: tuple[float, float] | None


NOTHING = Sway(0.0, False, None)


def sways_of(
    semitones: NDArray[np.float64], first: NDArray[np.int64], last: NDArray[np.int64], noise: float = 0.0
) -> list[Sway]:
    """What steady stretches do, each from sample ``first[i]`` to ``last[i]`` (exclusive) of
    ``semitones``, which stand above the fretted pitch and come every ``STEP_SEC``. ``noise``: what
    the sensor's unsteadiness leaves of itself after smoothing (semitones, standard deviation).
    """
    found = [NOTHING] * len(first)
    long = np.flatnonzero(last - first >= LEAST_SAMPLES)
    if not len(long):
        return found
    high, low = _extent(semitones, first[long], last[long])
    # Nothing that is smoother than what stands out no further gets any further.
    chosen = long[(high >= LEAST_BEND) | (high - low >= LEAST_CENTS / 100)]
    if not len(chosen):
        return found
    smooth, begin = _smoothed(semitones, first[chosen], last[chosen])
    high, low = _extent(smooth, begin[:-1], begin[1:])
    turns = turns_of(smooth, begin, np.flatnonzero(high - low >= LEAST_CENTS / 100), max(TURN, NOISE_TURN * noise))
    may_bend = (high >= LEAST_BEND).tolist()
    for row, place in enumerate(chosen.tolist()):
        vibrato = _vibrato(turns.get(row, []), NOISE_CENTS * noise)
        if vibrato is not None or may_bend[row]:
            bend, released = _bend(smooth[begin[row] : begin[row + 1]], vibrato)
            found[place] = Sway(bend, released, vibrato)
    return found


def smoothed_noise(samples: Samples) -> float:
    """What is left of the noise of a sensor in the mean over ``SMOOTH`` samples; 0 for a sensor so
    slow that its noise cannot be told from a vibrato.
    """
    if samples.spacing > SLOW_SEC:
        return 0.0
    return float(samples.noise * min(samples.spacing / (SMOOTH * STEP_SEC), 1.0) ** 0.5)


def _extent(
    values: NDArray[np.float64], first: NDArray[np.int64], last: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The highest and the lowest value of each stretch; none of them is empty, and each begins
    where another ended or later.
    """
    ends = np.stack([first, last], 1).ravel()
    padded = np.append(values, values[-1])
    return np.maximum.reduceat(padded, ends)[::2], np.minimum.reduceat(padded, ends)[::2]


def _smoothed(
    values: NDArray[np.float64], first: NDArray[np.int64], last: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The stretches as means over ``SMOOTH`` samples, end to end, and where each begins; shape (n
    + 1,). At its ends a stretch goes on as it is there.
    """
    length, half = last - first, SMOOTH // 2
    begin = np.concatenate([[0], np.cumsum(length)])
    wide = length + 2 * half
    ends = np.cumsum(wide)
    at = np.arange(ends[-1]) + np.repeat(first - half - (ends - wide), wide)
    padded = values[np.clip(at, np.repeat(first, wide), np.repeat(last - 1, wide))]
    sums = padded[: -2 * half].copy()
    for step in range(1, SMOOTH):
        sums += padded[step : len(padded) - 2 * half + step]
    inside = np.arange(begin[-1]) + np.repeat(2 * half * np.arange(len(length)), length)
    return sums[inside] / SMOOTH, begin


def _smooth(values: NDArray[np.float64], width: int) -> NDArray[np.float64]:
    half = width // 2
    padded = np.empty(len(values) + 2 * half + 1)
    padded[0], padded[1 : half + 1] = 0.0, values[0]
    padded[half + 1 : half + 1 + len(values)], padded[half + 1 + len(values) :] = values, values[-1]
    sums = np.cumsum(padded)
    return (sums[width:] - sums[:-width]) / width


def turns_of(
    values: NDArray[np.float64], begin: NDArray[np.int64], rows: NDArray[np.int64], turn: float = TURN
) -> dict[int, list[tuple[int, float]]]:
    """The places and values of the pitch's turns, peaks and troughs at least ``turn`` apart, of
    each of the stretches ``rows``; a stretch lies from ``begin[i]`` to ``begin[i + 1]``.
    """
    if not len(rows):
        return {}
    # Only where the pitch turns at all, and at the ends of a stretch, can one of them be.
    rise = np.sign(np.diff(values))
    corner = np.ones(len(values), bool)
    corner[1:-1] = rise[1:] != rise[:-1]
    corner[begin[:-1]] = True
    corner[begin[1:] - 1] = True
    places = np.flatnonzero(corner)
    levels = values[places].tolist()
    starts = np.searchsorted(places, begin[rows]).tolist()
    ends = np.searchsorted(places, begin[rows + 1]).tolist()
    at = places.tolist()
    found = {}
    for row, zero, start, end in zip(rows.tolist(), begin[rows].tolist(), starts, ends, strict=True):
        found[row] = [(at[place] - zero, levels[place]) for place in _turning(levels, start, end, turn)]
    return found


def _turning(levels: list[float], start: int, end: int, least: float) -> list[int]:
    """The places from ``start`` to ``end`` (exclusive) where the levels turn by ``least``."""
    turns: list[int] = []
    far, best, up = start, levels[start], 0
    low, lowest = start, levels[start]
    for index in range(start + 1, end):
        value = levels[index]
        if up > 0:
            if value > best:
                far, best = index, value
            elif best - value >= least:
                turns.append(far)
                far, best, up = index, value, -1
        elif up < 0:
            if value < best:
                far, best = index, value
            elif value - best >= least:
                turns.append(far)
                far, best, up = index, value, 1
        # Until the first turn it may be either.
        elif best - value >= least:
            turns.append(far)
            far, best, up = index, value, -1
        elif value - lowest >= least:
            turns.append(low)
            far, best, up = index, value, 1
        elif value > best:
            far, best = index, value
        elif value < lowest:
            low, lowest = index, value
    return turns


def _vibrato(turns: list[tuple[int, float]], noise_cents: float) -> tuple[float, float] | None:
    best: list[tuple[int, float]] = []
    run: list[tuple[int, float]] = []
    for turn in turns:
        if run and not HALF_SEC[0] <= (turn[0] - run[-1][0]) * STEP_SEC <= HALF_SEC[1]:
            run = []
        run.append(turn)
        if len(run) > len(best):
            best = list(run)
    # The first turn may be where a bend or the attack ended, and the last one where the note did.
    if len(best) < LEAST_TURNS:
        return None
    gaps = [(later[0] - one[0]) * STEP_SEC for one, later in pairwise(best)]
    depth = [abs(later[1] - one[1]) * 100 for one, later in pairwise(best)]
    usual, wide = middle(gaps), middle(depth)
    even = sum(
        usual / UNEVEN < gap < usual * UNEVEN and wide / UNEVEN_CENTS < cents < wide * UNEVEN_CENTS
        for gap, cents in zip(gaps, depth, strict=True)
    )
    least = max(LEAST_CENTS if len(best) > FEW_TURNS else FEW_CENTS, noise_cents)
    if even < LEAST_TURNS - 1 or wide < least:
        return None
    # The waves between the first turn and the last together are more exact than the middle one of
    # them; and a vibrato is as wide as it gets, not as where it begins and dies away.
    inner = gaps[1:-1]
    half = sum(inner) / len(inner) if even == len(gaps) and len(inner) >= 2 else usual
    fully = sorted(depth)[len(depth) // 2 :]
    return 1 / (2 * half), sum(fully) / len(fully)


def _bend(values: NDArray[np.float64], vibrato: tuple[float, float] | None) -> tuple[float, bool]:
    if vibrato is not None:
        # A bend under a vibrato: what the slow part of the pitch does.
        values = _smooth(values, max(round(1 / vibrato[0] / STEP_SEC), 3))
        values = values - min(vibrato[1] / 200, LEAST_BEND)
    peak_at = int(values.argmax())
    peak = float(values[peak_at])
    start = float(values[: peak_at + 1].min())
    if peak < LEAST_BEND or peak - max(start, 0.0) < LEAST_BEND:
        return 0.0, False
    if (values >= peak - 0.15 * peak).sum() * STEP_SEC < HELD_SEC:
        return 0.0, False
    end = middle(values[-max(round(HELD_SEC / STEP_SEC), 1) :].tolist())
    return peak, end <= BACK * peak
