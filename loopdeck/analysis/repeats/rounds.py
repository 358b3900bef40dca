"""Where a take goes round and round, and which of the stretches found there say the same.

Method
    A loop comes back at its period and at every multiple of it, entered at each of its notes, so it
    is found in as many ways as it was played. For each distance in time at which a stretch runs
    into its own return, every note is looked for at its pitch that much sooner and later. Where
    nearly all are there the take goes round; of the distances that explain a place about as well
    the shortest is the period. Stretches that begin and end at the same notes of the round are one
    candidate, and those longer than a round are the round itself.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.repeats.segments import Segments
from loopdeck.analysis.repeats.text import FEWEST_NOTES, Floats, Ints, Text

#: Distances that are tried: those at which most comes back.
_DISTANCES = 24
#: The share of the notes that have their like a period away; a shorter period than the best is
#: taken when it explains nearly as many.
_LEAST_SHARE, _NEARLY = 0.7, 0.05
#: A stretch goes round when it holds so many rounds at least.
_FEWEST_ROUNDS = 3
#: Of shorter stretches nothing is dropped: an hour of noodling has hundreds of a note played
#: thrice.
_FEWEST_HEARD = 16
#: Of each round so many entrances and so many shorter stretches are weighed.
_ENTRANCES, _PARTS = 4, 12


class Round(NamedTuple):
    """The notes ``first..last`` go round every ``period_q`` quarters; ``slot``: which note of the
    round each of them is, shape (last - first + 1,)."""

    first: int
    last: int
    period_q: float
    slot: Ints


def rounds(text: Text, found: Segments) -> list[Round]:
    """The stretches of a text that go round, none overlapping another."""
    distances = _distances(text, found)
    if not len(distances):
        return []
    there = np.stack([_there(text, one) for one in distances.tolist()])
    round_ = np.stack([_share(text, *one) >= _LEAST_SHARE for one in zip(there, distances.tolist(), strict=True)])
    free = np.ones(len(text), bool)
    result: list[Round] = []
    for _ in range(len(distances)):
        number = int(np.argmax((there & round_ & free).sum(axis=1)))
        runs = _runs(text, round_[number] & free, (_FEWEST_ROUNDS - 1) * float(distances[number]))
        for start, stop in runs:
            # Of the distances, in rising order, the first that explains this stretch nearly as
            # well.
            share = there[:, start:stop].mean(axis=1)
            period = float(distances[int(np.argmax(share >= share[number] - _NEARLY))])
            result.append(Round(start, stop - 1, period, _slots(text, start, stop, period)))
            free[start:stop] = False
        round_[number] = False
    return sorted(result, key=lambda one: one.first)


def _runs(text: Text, mask: NDArray[np.bool_], least_q: float) -> list[tuple[int, int]]:
    """The runs ``start..stop - 1`` of a mask that last so many quarters at least."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], mask.astype(np.int8), [0]))))
    runs = zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
    return [(start, stop) for start, stop in runs if text.place_q[stop - 1] - text.place_q[start] >= least_q]


def once_each(text: Text, found: list[Round], first: Ints, last: Ints) -> tuple[Ints, Ints]:
    """Candidates ``first[k]..last[k]``, best first, without those that say what one before has
    said; what is longer than a round gives way to one round."""
    keep = np.ones(len(first), bool)
    news: list[tuple[int, int]] = []
    for one in found:
        if one.last - one.first + 1 < _FEWEST_HEARD:
            continue
        inside = np.flatnonzero((first >= one.first) & (last <= one.last))
        keep[inside] = False
        news += _of_a_round(text, one, first[inside], last[inside])
    firsts = np.concatenate((np.array([begin for begin, _ in news], np.int64), first[keep]))
    lasts = np.concatenate((np.array([end for _, end in news], np.int64), last[keep]))
    return firsts, lasts


def _distances(text: Text, found: Segments) -> Floats:
    """The distances in quarters at which stretches run into their own return, those at which most
    comes back, in rising order."""
    into = (found.other_first <= found.last) & (found.other_first > found.first)
    later = text.place_q[found.other_first[into]] - text.place_q[found.first[into]]
    told = found.told[into][later > text.tolerance_q]
    later = later[later > text.tolerance_q]
    if not len(later):
        return later
    order = np.argsort(later, kind="stable")
    later, told = later[order], told[order]
    starts = np.flatnonzero(np.concatenate(([True], np.diff(later) > text.tolerance_q / 2)))
    weight = np.add.reduceat(told, starts)
    mean = np.add.reduceat(told * later, starts) / weight
    return np.sort(mean[np.argsort(-weight, kind="stable")[:_DISTANCES]])


def _there(text: Text, distance_q: float) -> NDArray[np.bool_]:
    """Which notes are there again a round sooner or later."""
    room = float(text.place_q[-1] + 4 * distance_q + 100.0)
    by_pitch = np.lexsort((text.place_q, text.pitch))
    line = text.pitch[by_pitch] * room + text.place_q[by_pitch]
    there = np.zeros(len(text), bool)
    for away in (-distance_q, distance_q):
        low = np.searchsorted(line, line + away - text.tolerance_q, side="left")
        high = np.searchsorted(line, line + away + text.tolerance_q, side="right")
        there[by_pitch] |= high > low
    return there


def _share(text: Text, there: NDArray[np.bool_], distance_q: float) -> Floats:
    """The share of such notes around each note, over one round."""
    running = np.concatenate(([0], np.cumsum(there)))
    low = np.searchsorted(text.place_q, text.place_q - distance_q / 2, side="left")
    high = np.searchsorted(text.place_q, text.place_q + distance_q / 2, side="right")
    return np.asarray((running[high] - running[low]) / (high - low))


def _slots(text: Text, start: int, stop: int, period_q: float) -> Ints:
    """Which note of the round each of the notes ``start..stop - 1`` is: those at one pitch and at
    one place of it."""
    pitch = text.pitch[start:stop]
    at = (text.place_q[start:stop] - text.place_q[start]) % period_q
    order = np.argsort(at)
    gaps = np.diff(at[order], append=at[order][0] + period_q)
    widest = int(np.argmax(gaps))
    at = (at - at[order][widest] - gaps[widest] / 2) % period_q
    order = np.lexsort((at, pitch))
    split = (np.diff(pitch[order]) != 0) | (np.diff(at[order]) > text.tolerance_q / 2)
    slot = np.empty(len(at), np.int64)
    slot[order] = np.concatenate(([0], np.cumsum(split)))
    return slot


def _of_a_round(text: Text, one: Round, first: Ints, last: Ints) -> list[tuple[int, int]]:
    """The few candidates that are worth weighing of those inside of a stretch that goes round."""
    long: NDArray[np.bool_] = text.place_q[last] - text.place_q[first] >= one.period_q - text.tolerance_q
    parts: dict[tuple[int, int], tuple[int, int]] = {}
    for begin, end in zip(first[~long].tolist(), last[~long].tolist(), strict=True):
        parts.setdefault((int(one.slot[begin - one.first]), int(one.slot[end - one.first])), (begin, end))
    often = np.bincount(one.slot)
    usual = often[one.slot] >= often.max() / 2
    own = [slot for slot in one.slot[:_ENTRANCES].tolist() if often[slot] >= often.max() / 2]
    entrances = [*own[:1], *_on_lines(text, one, usual), *one.slot[first - one.first].tolist()]
    result: dict[int, tuple[int, int]] = {}
    for slot in entrances:
        if slot not in result and len(result) < _ENTRANCES:
            result[slot] = _one_round(text, one, slot)
    return [*result.values(), *list(parts.values())[:_PARTS]]


def _on_lines(text: Text, one: Round, usual: NDArray[np.bool_]) -> list[int]:
    """The notes of the round on which bars begin most often, in order of how often."""
    if text.lines is None:
        return []
    begins = text.lines.begins[one.first : one.last + 1]
    counts = np.bincount(one.slot[begins & usual], minlength=1)
    return [slot for slot in np.argsort(-counts, kind="stable").tolist() if counts[slot]][:_ENTRANCES]


def _one_round(text: Text, one: Round, slot: int) -> tuple[int, int]:
    """The first time round from this slot that has as many notes as most, and those that most have;
    of a round of fewer notes than a figure, as many times round as it takes."""
    begins = one.first + np.flatnonzero(one.slot == slot)
    for times in range(1, FEWEST_NOTES + 1):
        ends = np.searchsorted(text.place_q, text.place_q[begins] + times * one.period_q - text.tolerance_q) - 1
        whole = ends <= one.last
        firsts, lasts = (begins[whole], ends[whole]) if whole.any() else (begins[:1], np.minimum(ends[:1], one.last))
        sizes = lasts - firsts + 1
        usual = int(np.argmax(np.bincount(sizes)))
        if usual >= FEWEST_NOTES:
            break
    heard = np.concatenate(([0], np.cumsum(np.bincount(one.slot)[one.slot])))
    number = int(np.argmax(np.where(sizes == usual, heard[lasts - one.first + 1] - heard[firsts - one.first], 0)))
    return int(firsts[number]), int(lasts[number])
