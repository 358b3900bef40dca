"""Which played note is which note of the target, by order, where the tempo differs.

Method
    The least cost of turning one row of notes into the other by leaving out, adding and exchanging
    notes (Levenshtein, "Binary codes capable of correcting deletions, insertions, and reversals",
    Soviet Physics Doklady 10(8), 1966; for melodies with costs of their own: Mongeau & Sankoff,
    "Comparison of musical sequences", Computers and the Humanities 24, 1990), found by dynamic
    programming. The notes of equal pitch that follow in the same order show the line of tempo. With
    it the alignment is made once more, being off one's time costing too, so that of two equal notes
    the one at its time is taken; then every target note has its time in the take.
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Leaving out or adding a note costs 1; exchanging one costs less than both together.
_EXCHANGED = 1.3
#: What being off its time costs at most, and from how many seconds on.
_OFF_TIME, _FAR_SEC = 1.2, 0.4
#: Pairs on each side over which a take may drift along its line of tempo.
_DRIFT_PAIRS = 8
#: Of long rows only a band along the diagonal is looked at: so many notes to either side, or by how
#: many one row is longer.
_BAND = 256
#: Pairs through which lines of tempo are tried, notes that they are held against, and how near
#: these must lie.
_FIT_PAIRS, _FIT_NOTES, _NEAR_SEC = 60, 200, 0.05
#: Nobody practises slower than at a quarter of the tempo, or faster than at four times.
_MOST_RATIO = 4.0


def expected_times(onset_sec: Floats, pitch: Ints, target_sec: Floats, target_pitch: Ints) -> tuple[Floats, float, int]:
    """When each target note is due in the take, shape (m,); the take's length over the target's;
    and how many notes of equal pitch follow in the same order. Due is by the line of tempo through
    these and by the take's own drift along it."""
    if not len(pitch) or not len(target_pitch):
        return target_sec, 1.0, 0

    def same(times: tuple[Floats, Floats] | None) -> tuple[Floats, Floats]:
        pairs = np.array(_aligned(pitch, target_pitch, times), np.int64).reshape(-1, 2)
        pairs = pairs[pitch[pairs[:, 0]] == target_pitch[pairs[:, 1]]]
        return onset_sec[pairs[:, 0]], target_sec[pairs[:, 1]]

    played, wanted = same(None)
    if len(played) < 2:
        return target_sec, 1.0, len(played)
    ratio, start = _tempo_line((played, wanted), (onset_sec, pitch), (target_sec, target_pitch))
    played, wanted = same((onset_sec, ratio * target_sec + start))
    if len(played) < 2:
        return target_sec, 1.0, len(played)
    around = np.pad(played - (ratio * wanted + start), _DRIFT_PAIRS, mode="edge")
    drift = np.median(np.lib.stride_tricks.sliding_window_view(around, 2 * _DRIFT_PAIRS + 1), axis=1)
    return ratio * target_sec + start + np.interp(target_sec, wanted, drift), ratio, len(played)


def _tempo_line(
    pairs: tuple[Floats, Floats], played: tuple[Floats, Ints], target: tuple[Floats, Ints]
) -> tuple[float, float]:
    """Ratio and start of the line by which most notes of the target have one of their pitch at
    their time in the take. The lines tried are those through two of the pairs: random sample
    consensus (Fischler & Bolles, Communications of the ACM 24(6), 1981), with the samples spread
    evenly instead of drawn. What the order alone got wrong does not move it."""
    chosen = np.unique(np.linspace(0, len(pairs[0]) - 1, _FIT_PAIRS).astype(int))
    y, x = pairs[0][chosen], pairs[1][chosen]
    run, rise = x[None, :] - x[:, None], y[None, :] - y[:, None]
    one, other = np.nonzero((run > max(float(np.ptp(x)) / 4, 1e-6)) & (rise > 0))
    ratio = rise[one, other] / run[one, other]
    playable = (ratio >= 1 / _MOST_RATIO) & (ratio <= _MOST_RATIO)
    one, other, ratio = one[playable], other[playable], ratio[playable]
    if not len(one):
        return 1.0, float(np.median(pairs[0] - pairs[1]))
    start = y[one] - ratio * x[one]
    # All notes of the take on one line, a pitch after the other, so that one search finds each
    # note's nearest of its pitch.
    room = float(np.ptp(played[0])) + 4 * float(np.ptp(target[0])) * float(ratio.max()) + 100.0
    line = np.sort(played[1] * room + (played[0] - played[0].min()))
    some = np.unique(np.linspace(0, len(target[0]) - 1, _FIT_NOTES).astype(int))
    due = ratio[:, None] * target[0][some][None, :] + start[:, None] - played[0].min()
    due = np.where(np.abs(due) < room / 2, due, room / 2) + target[1][some][None, :] * room
    found = np.searchsorted(line, due + _NEAR_SEC) > np.searchsorted(line, due - _NEAR_SEC)
    best = int(np.argmax(found.sum(axis=1)))
    near = np.abs(pairs[0] - ratio[best] * pairs[1] - start[best]) <= 2 * _NEAR_SEC
    if near.sum() < 2 or np.ptp(pairs[1][near]) <= 0:
        return float(ratio[best]), float(start[best])
    fitted = np.polyfit(pairs[1][near], pairs[0][near], 1)
    return float(fitted[0]), float(fitted[1])


def _aligned(pitch: Ints, target: Ints, times: tuple[Floats, Floats] | None) -> list[tuple[int, int]]:
    """The cheapest alignment. Row by row: the best of coming from above and from across, then along
    the row by a running minimum."""
    n, m = len(pitch), len(target)
    band = max(_BAND, abs(n - m))
    centre = np.arange(n) * m // max(n, 1)
    lows = np.clip(centre - band, 0, m)
    highs = np.clip(centre + band + 1, 0, m)
    width = int((highs - lows).max())
    choice = np.zeros((n, width), np.int8)
    before = np.arange(m + 1, dtype=float)
    for row in range(n):
        low, high = int(lows[row]), int(highs[row])
        cost = np.where(target[low:high] == pitch[row], 0.0, _EXCHANGED)
        if times is not None:
            cost = cost + _OFF_TIME * np.minimum(np.abs(times[0][row] - times[1][low:high]) / _FAR_SEC, 1.0)
        across, above = before[low:high] + cost, before[low + 1 : high + 1] + 1.0
        steps = np.arange(low + 1, high + 1)
        least = np.minimum(across, above)
        first = row + 1.0 if low == 0 else np.inf
        along = np.minimum.accumulate(np.concatenate(([first - low], least - steps)))[1:] + steps
        choice[row, : high - low] = np.where(along < least - 1e-9, 2, np.where(across <= above, 0, 1))
        after = np.full(m + 1, np.inf)
        after[low + 1 : high + 1] = along
        after[0] = row + 1.0
        before = after
    return _back(choice, lows, highs)


def _back(choice: NDArray[np.int8], lows: Ints, highs: Ints) -> list[tuple[int, int]]:
    pairs = []
    row, column = len(choice) - 1, int(highs[-1]) - 1
    while row >= 0 and column >= 0:
        if column < lows[row]:
            row -= 1
            continue
        step = choice[row, column - lows[row]]
        if step == 0:
            pairs.append((row, column))
        row, column = row - (step != 2), column - (step != 1)
    return pairs[::-1]
