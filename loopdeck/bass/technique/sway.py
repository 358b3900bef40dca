"""Bends and vibrato: what the pitch does around a fretted note that it does not leave.

Conventions
    Semitones above the fretted pitch; a finger on a fret can only raise a note, but a pickup wavers
    around it. ``cents`` of a vibrato are from peak to peak. A bend rises by ``LEAST_BEND`` at least
    from where it was; a release comes back by most of that.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.curve import STEP_SEC, middle

LEAST_BEND, BACK = 0.3, 0.35
#: Turns of a vibrato: how far the pitch comes back to count as one, half a wave's length, and how
#: many there must be.
TURN, HALF_SEC, LEAST_TURNS = 0.06, (0.05, 0.18), 3
LEAST_CENTS = 15.0
#: Few turns must be wider than many.
FEW_TURNS, FEW_CENTS = 4, 20.0
#: A turn differs from the usual one by no more than this factor: waves are regular, unsteadiness is
#: not.
UNEVEN = 1.9
HELD_SEC = 0.03


class Sway(NamedTuple):
    """``bend`` is the peak (0.0: none), ``released`` whether it came back, ``vibrato`` (hertz,
    cents) or None.
    """

    bend: float
    released: bool
    vibrato: tuple[float, float] | None


def sway_of(semitones: NDArray[np.float64]) -> Sway:
    """What a steady stretch does; ``semitones`` above the fretted pitch, every ``STEP_SEC``."""
    if len(semitones) < 8:
        return Sway(0.0, False, None)
    high, low = float(semitones.max()), float(semitones.min())
    if high < LEAST_BEND and high - low < LEAST_CENTS / 100:
        # Nothing that is smoother than this gets any further.
        return Sway(0.0, False, None)
    smooth = _smooth(semitones, 5)
    vibrato = _vibrato(smooth)
    bend, released = _bend(smooth, vibrato)
    return Sway(bend, released, vibrato)


def _smooth(values: NDArray[np.float64], width: int) -> NDArray[np.float64]:
    half = width // 2
    padded = np.empty(len(values) + 2 * half + 1)
    padded[0], padded[1 : half + 1] = 0.0, values[0]
    padded[half + 1 : half + 1 + len(values)], padded[half + 1 + len(values) :] = values, values[-1]
    sums = np.cumsum(padded)
    return (sums[width:] - sums[:-width]) / width


def turns_of(values: NDArray[np.float64]) -> list[tuple[int, float]]:
    """The places and values of the pitch's turns: peaks and troughs at least ``TURN`` apart."""
    turns: list[tuple[int, float]] = []
    if float(np.ptp(values)) < TURN:
        return turns
    low = high = 0
    direction = 0
    levels = values.tolist()
    for index, value in enumerate(levels):
        if value > levels[high]:
            high = index
        if value < levels[low]:
            low = index
        if direction >= 0 and levels[high] - value >= TURN:
            turns.append((high, levels[high]))
            direction, low = -1, index
        elif direction <= 0 and value - levels[low] >= TURN:
            turns.append((low, levels[low]))
            direction, high = 1, index
        if direction == 1 and value < levels[low]:
            low = index
    return turns


def _vibrato(values: NDArray[np.float64]) -> tuple[float, float] | None:
    if float(np.ptp(values)) < LEAST_CENTS / 100:
        return None
    turns = turns_of(values)
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
    gaps = np.diff([place for place, _ in best]) * STEP_SEC
    depth = np.abs(np.diff([value for _, value in best])) * 100
    usual = middle(gaps)
    even = (
        (gaps < usual * UNEVEN)
        & (gaps > usual / UNEVEN)
        & (depth < middle(depth) * 2.5)
        & (depth > middle(depth) / 2.5)
    )
    least = LEAST_CENTS if len(best) > FEW_TURNS else FEW_CENTS
    if even.sum() < LEAST_TURNS - 1 or middle(depth) < least:
        return None
    return 1 / (2 * usual), middle(depth)


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
    end = middle(values[-max(round(HELD_SEC / STEP_SEC), 1) :])
    return peak, end <= BACK * peak
