"""Which bar free playing goes by: meters and downbeats held against onsets on a grid.

Method
    The likelihood of onsets by metrical place, as in Temperley, *Music and Probability* (MIT Press,
    2007), chapter 3: the stronger a place, the likelier an onset. To this come accents, low notes
    and long notes on strong places (Lerdahl & Jackendoff, *A Generative Theory of Tonal Music*, MIT
    Press, 1983, metrical preference rules 4 to 6), and what comes back after whole bars
    (autocorrelation: Brown, "Determination of the meter of musical scores by autocorrelation",
    Journal of the Acoustical Society of America 94(4), 1993). The weights are our own choice, made
    on seeds of simulated players that no figure in the docs is taken from.

Conventions
    Slots are sixteenths. ``downbeat`` is a slot at which a bar begins, ``strength`` the weight of a
    place in its bar, from 0 (between eighths) to 1 (the downbeat).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class MeterModel(NamedTuple):
    """A meter as it is written, how long its bar is in sixteenths, the chance of an onset and the
    strength at each of them, and how common it is (log)."""

    meter: str
    length: int
    chance: Floats
    strength: Floats
    common: float


class BarFit(NamedTuple):
    """How well a meter fits: the log likelihood with the best downbeat, and that downbeat."""

    score: float
    bar: MeterModel
    downbeat: int


_CHANCE = {1.0: 0.8, 0.6: 0.62, 0.4: 0.62, 0.2: 0.28, 0.0: 0.13}


def _bar(meter: str, length: int, halves: tuple[int, ...], beats: tuple[int, ...], common: float) -> MeterModel:
    strength = np.where(np.arange(length) % 2 == 0, 0.2, 0.0)
    strength[list(beats)] = 0.4
    strength[list(halves)] = 0.6
    strength[0] = 1.0
    return MeterModel(meter, length, np.array([_CHANCE[round(float(one), 1)] for one in strength]), strength, common)


BARS = (
    _bar("4/4", 16, (8,), (4, 12), 0.0),
    _bar("3/4", 12, (), (4, 8), -0.7),
    _bar("7/8", 14, (8,), (4,), -1.2),
    _bar("5/4", 20, (12,), (4, 8, 16), -3.0),
)
#: Weights of what makes a place strong, and of what comes back.
_LOUD, _LOW, _LONG, _AGAIN = 0.5, 0.8, 0.3, 1.25
#: A likeness after whole bars that chance would bring, and the most bars of a riff.
_CHANCE_ALIKE, MOST_BARS = 0.2, 8
#: Between swung eighths a sixteenth is rare.
_BETWEEN = 0.05
#: Log chance of a first note on the downbeat, on another beat, off the beat.
_FIRST = (0.0, -2.5, -3.2)


class OnGrid(NamedTuple):
    """Onsets on one grid, shape (k,): slots in order, pitches, and what stands out (standardised
    loudness, lowness, length)."""

    slot: Ints
    pitch: Ints
    loud: Floats
    low: Floats
    long: Floats


def fit_bars(on: OnGrid, swung: bool) -> list[BarFit]:
    """The fit of each meter, best first."""
    found = [_fit(on, bar, swung) for bar in BARS if not (swung and bar.length % 4)]
    return sorted(found, key=lambda one: -one.score)


def _fit(on: OnGrid, bar: MeterModel, swung: bool) -> BarFit:
    """The best downbeat of a meter."""
    length = bar.length
    # Rows: downbeats; columns: places in the bar.
    downbeats = np.arange(0, length, 4 if swung else 2)
    turned = (np.arange(length)[None, :] - downbeats[:, None]) % length
    hit = np.bincount(on.slot % length, minlength=length)
    first, last = int(on.slot[0]), int(on.slot[-1])
    there = np.bincount(np.arange(first, last + 1) % length, minlength=length)
    chance = np.where(bar.strength > 0.0, bar.chance, _BETWEEN if swung else bar.chance)[turned]
    onsets = hit @ np.log(chance).T + (there - hit).clip(min=0) @ np.log1p(-chance).T
    weight = _LOUD * on.loud + _LOW * on.low + _LONG * on.long
    standing = np.bincount(on.slot % length, weights=weight, minlength=length)
    strong = (bar.strength - bar.strength.mean())[turned] @ standing
    begins = np.where(
        downbeats == first % length, _FIRST[0], np.where((downbeats - first) % 4 == 0, _FIRST[1], _FIRST[2])
    )
    total = onsets + strong + begins
    best = int(total.argmax())
    score = float(total[best]) + _AGAIN * comes_back(on, length)[1] + bar.common
    return BarFit(score, bar, int(downbeats[best]))


def comes_back(on: OnGrid, length: int) -> tuple[int, float]:
    """After how many bars of this length the playing comes back best, and by how many notes more
    than chance would bring; (0, 0.0) where it does not."""
    best = (0, 0.0)
    for bars in range(1, MOST_BARS + 1):
        alike, compared = likeness(on, bars * length)
        gained = (alike - _CHANCE_ALIKE) * compared
        if gained > best[1]:
            best = (bars, gained)
    return best


def likeness(on: OnGrid, lag: int) -> tuple[float, int]:
    """The share of notes that come again ``lag`` slots later (or stood as much earlier), and how
    many were compared."""
    key = on.slot * 128 + on.pitch
    later = on.slot + lag <= on.slot[-1]
    earlier = on.slot - lag >= on.slot[0]
    again = np.isin(key + 128 * lag, key) & later
    before = np.isin(key - 128 * lag, key) & earlier
    compared = int(later.sum() + earlier.sum())
    return (float(again.sum() + before.sum()) / compared, compared // 2) if compared else (0.0, 0)
