"""The tempo and the meter of playing without a click: a guess to be offered, never more.

Method
    Grids of all tempos are laid under the last phrase (``following``), meters are held against each
    (``bars``), and what explains the onsets best is taken: their timing on the grid, their places
    in the bar, and how common a tempo is. Of two tempos that fit alike people tap the one that is
    nearer to two beats a second, as a resonator would answer (van Noorden & Moelants, "Resonance in
    the perception of musical pulse", Journal of New Music Research 28(1), 1999). How sure the guess
    is says the share of its likelihood among all others. Half and twice the tempo are the usual
    mistake: the loop is right all the same, with its bars counted otherwise.

Conventions
    Seconds of any clock that runs on; ``qpm`` counts quarters a minute. Arrays of shape (k,), one
    entry a note, in order of onset. A phrase ends where nothing is played for ``REST_SEC``.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from loopdeck.analysis.induction.bars import BarFit, Floats, Ints, OnGrid, comes_back, fit_bars, likeness
from loopdeck.analysis.induction.following import Grids, follow

#: A rest that ends a phrase, the longest phrase, and the fewest notes and the shortest time of one.
REST_SEC, MOST_SEC, LEAST_NOTES, LEAST_SEC = 4.0, 60.0, 8, 3.0
#: Notes so close together are one stroke.
_TOGETHER_SEC = 0.03
#: Gaussian timing on the grid, in seconds, and the share of notes that are off it.
_SIGMA_SEC, _STRAY = 0.017, 0.04
#: How common a tempo is: a damped resonator's frequency in hertz and damping (the paper's), and how
#: much its answer counts.
_RESONANCE_HZ, _DAMPING, _PREFERENCE = 2.0, 1.12, 2.0
#: Players often stay near the tempo of their brief, within so many octaves (one standard
#: deviation),
#: and now and then play at quite another; how much that counts.
_NEAR_OCTAVES, _ELSEWHERE, _OWN = 0.25, 0.1, 2.0
#: Swung eighths are rarer than straight ones (log).
_SWUNG = -3.5
#: So many grids are looked at closely.
_CLOSELY = 24
#: From this share of the likelihood on a guess is worth offering.
SURE = 0.75
#: How alike a riff must come back to be the loop, and the most bars of a loop without one.
_ALIKE, _MOST_BARS = 0.55, 8
#: Likelihoods of notes are not independent: the sum is taken for so much of itself.
_TEMPER = 0.5


class FreeTempo(NamedTuple):
    """A guess. ``meter`` of one bar, ``bars`` of the loop it makes; ``start_sec``: the downbeat of
    the stretch of so many bars that would be looped; ``sure``: 0 to 1; ``swing``: the long
    eighth's share of the pair."""

    qpm: float
    meter: str
    bars: int
    start_sec: float
    sure: float
    swing: float

    @property
    def cycle(self) -> str:
        """The bars, as a brief writes them."""
        return " ".join([self.meter] * self.bars)


def last_phrase(onset_sec: ArrayLike) -> int:
    """The number of the note with which the last phrase begins."""
    onsets = np.asarray(onset_sec, float)
    if not len(onsets):
        return 0
    rests = np.flatnonzero(np.diff(onsets) >= REST_SEC)
    first = int(rests[-1]) + 1 if len(rests) else 0
    return max(first, int(np.searchsorted(onsets, onsets[-1] - MOST_SEC)))


def free_tempo(
    onset_sec: ArrayLike, pitch: ArrayLike, velocity: ArrayLike, known_qpm: float | None = None
) -> FreeTempo | None:
    """The guess on the last phrase; None where it is too short to say anything. ``known_qpm``: the
    tempo of the brief the player has before them."""
    first = last_phrase(onset_sec)
    onsets, pitches, loud = _strokes(*(np.asarray(one, float)[first:] for one in (onset_sec, pitch, velocity)))
    if len(onsets) < LEAST_NOTES or onsets[-1] - onsets[0] < LEAST_SEC:
        return None
    grids = follow(onsets)
    timing = _timing(grids)
    notes = _standing_out(onsets, pitches, loud)
    fits = [
        (row, fit, timing[row] + fit.score + _prior(grids, row, known_qpm))
        for row in _promising(grids, timing)
        for fit in fit_bars(notes._replace(slot=grids.slot[row]), grids.share[row] != 0.5)
    ]
    row, fit, best = max(fits, key=lambda one: one[2])
    on = notes._replace(slot=grids.slot[row])
    qpm, zero_sec = _regressed(onsets, grids, row)
    weights = [(np.exp(_TEMPER * (score - best)), _same(grids, other, one, row, fit)) for other, one, score in fits]
    sure = sum(weight for weight, same in weights if same) / sum(weight for weight, _ in weights)
    bars, downbeat = _loop(on, fit)
    start_sec = zero_sec + downbeat * 15.0 / qpm
    return FreeTempo(
        round(qpm, 3), fit.bar.meter, bars, round(start_sec, 6), round(float(sure), 3), float(grids.share[row])
    )


def _strokes(onset_sec: Floats, pitch: Floats, velocity: Floats) -> tuple[Floats, Ints, Floats]:
    """Notes struck together as one: the first onset, the lowest pitch, the loudest velocity."""
    if not len(onset_sec):
        return onset_sec, pitch.astype(np.int64), velocity
    begins = np.concatenate(([0], np.flatnonzero(np.diff(onset_sec) > _TOGETHER_SEC) + 1))
    low, loud = np.minimum.reduceat(pitch, begins), np.maximum.reduceat(velocity, begins)
    return onset_sec[begins], low.astype(np.int64), loud


def _standing_out(onset_sec: Floats, pitch: Ints, velocity: Floats) -> OnGrid:
    length = np.log(np.diff(onset_sec, append=onset_sec[-1] + np.median(np.diff(onset_sec))))
    loud, low, long = (_standard(one, least) for one, least in ((velocity, 4.0), (-pitch, 1.0), (length, 0.05)))
    return OnGrid(np.zeros(len(pitch), np.int64), pitch, loud, low, long)


def _standard(values: Floats | Ints, least: float) -> Floats:
    """Standardised, at most 2 either way; what hardly varies says little."""
    spread = max(float(np.std(values)), least)
    return np.clip((values - np.mean(values)) / spread, -2.0, 2.0)


def _timing(grids: Grids) -> Floats:
    """The log likelihood of the onsets' being off each grid as they are, in units of seconds."""
    density = np.exp(-0.5 * (grids.off_sec / _SIGMA_SEC) ** 2) / (_SIGMA_SEC * np.sqrt(2 * np.pi))
    even = 4.0 / grids.period_sec[:, None]
    found: Floats = np.log((1 - _STRAY) * density + _STRAY * even).sum(axis=1)
    return found


def _prior(grids: Grids, row: int, known_qpm: float | None) -> float:
    squared, own = grids.period_sec[row] ** -2.0, _RESONANCE_HZ**2
    answer = ((own - squared) ** 2 + _DAMPING * squared) ** -0.5 - (own**2 + squared**2) ** -0.5
    common = _PREFERENCE * np.log(max(answer, 1e-3)) + (_SWUNG if grids.share[row] != 0.5 else 0.0)
    if known_qpm is None:
        return float(common)
    octaves = np.log2(60.0 / grids.period_sec[row] / known_qpm)
    near = (1 - _ELSEWHERE) * np.exp(-0.5 * (octaves / _NEAR_OCTAVES) ** 2) + _ELSEWHERE
    return float(common + _OWN * np.log(near))


def _promising(grids: Grids, timing: Floats) -> list[int]:
    """The rows worth a closer look: the best by timing and by how few places they leave empty,
    neighbours of the same kind once."""
    spans = grids.slot[:, -1] - grids.slot[:, 0] + 1
    notes = grids.slot.shape[1]
    share = np.clip(notes / np.maximum(spans, 1), 1e-6, 1 - 1e-6)
    rough = timing + notes * np.log(share) + (spans - notes).clip(min=0) * np.log1p(-share)
    chosen: list[int] = []
    for row in np.argsort(-rough):
        near = any(
            grids.share[row] == grids.share[other] and (grids.slot[row] == grids.slot[other]).mean() > 0.95
            for other in chosen
        )
        if not near:
            chosen.append(int(row))
        if len(chosen) >= _CLOSELY:
            break
    return chosen


def _regressed(onset_sec: Floats, grids: Grids, row: int) -> tuple[float, float]:
    """The steady tempo nearest to the onsets on their places, and the second of slot 0."""
    share = grids.share[row]
    beat, place = np.divmod(grids.slot[row], 4)
    at_q = beat + np.array([0.0, share / 2, share, (1 + share) / 2])[place]
    sec_per_q, zero_sec = np.polyfit(at_q, onset_sec, 1)
    return 60.0 / float(sec_per_q), float(zero_sec)


def _same(grids: Grids, other: int, fit: BarFit, row: int, best: BarFit) -> bool:
    """Two guesses that say the same: meter, and tempo within three in a hundred."""
    return fit.bar is best.bar and abs(np.log(grids.period_sec[other] / grids.period_sec[row])) < 0.03


def _loop(on: OnGrid, fit: BarFit) -> tuple[int, int]:
    """How many bars make the loop, and the slot at which the newest whole one begins."""
    length, first, last = fit.bar.length, int(on.slot[0]), int(on.slot[-1])
    begin = first + (fit.downbeat - first) % length
    # A downbeat that ends the phrase belongs to a bar that was not played.
    whole = max((last - begin + length // 2) // length, 1)
    bars = _repeats(on, length) or min(whole, _MOST_BARS)
    bars = min(bars, whole)
    # Counted from the first downbeat, so that the loop begins where the playing did.
    return bars, begin + (whole // bars - 1) * bars * length


def _repeats(on: OnGrid, length: int) -> int:
    """The fewest bars after which the playing comes back; 0 where it does not."""
    most, _ = comes_back(on, length)
    for bars in range(1, most + 1):
        alike, compared = likeness(on, bars * length)
        if compared >= 4 and alike >= _ALIKE:
            return bars
    return 0
