"""Fewer notes and more of them.

Method
    Thinning keeps the notes on strong beats, then the loud ones. Thickening puts notes on free
    slots of the riff's own grid, in every bar alike: first where the riff has one in another bar,
    then where they stand like the riff's own onsets (as strong in their bar as the places it uses).
    They lead from the note before towards the one after through the scale, or say the one before
    again where there is nothing between. This project's rules, no source.
"""

from bisect import bisect_right
from collections import Counter
from math import ceil

import numpy as np

from loopdeck.bass.variations.line import LINE_DTYPE, Line, strength, weights
from loopdeck.bass.variations.pitch import stepped_pitch
from loopdeck.rhythm.quantize import locate
from loopdeck.theory.scale import Scale

#: A note that was added is this much softer, and sounds for this share of its slot.
SOFTER, SHARE = 0.85, 0.9


def thinned(line: Line, percent: float) -> Line:
    """``percent`` of the notes fewer; the first note stays."""
    count = len(line)
    keep = max(count - round(count * percent / 100), min(count, 1))
    strong = weights(line).astype(float)
    if count:
        strong[0] += 10
    order = np.lexsort((np.arange(count), -line.notes["velocity"], -strong))
    return line.chosen(np.sort(order[:keep]))


def thickened(line: Line, percent: float, scale: Scale | None) -> Line:
    """``percent`` of the notes more, as far as there are free slots."""
    if not len(line):
        return line
    table, cycle = line.brief.slots, line.brief.cycle
    found = locate(line.notes["onset_q"], table)
    taken = set(zip(found.pass_index.tolist(), found.slot.tolist(), strict=True))
    strong = [strength(cycle, place) for place in table.written]
    bars = [bisect_right(cycle.bar_starts, place) - 1 for place in table.written]
    own = [(cycle.meters[bar], place - cycle.bar_starts[bar]) for bar, place in zip(bars, table.written, strict=True)]
    rhythm = {own[slot] for _, slot in taken}
    liked = Counter(strong[slot] for _, slot in taken)
    fits = [(place not in rhythm, -liked[weight]) for place, weight in zip(own, strong, strict=True)]
    first, last = min(taken), max(taken)
    free = [
        (*fits[slot], turn, slot)
        for turn in range(first[0], last[0] + 1)
        for slot in range(len(table))
        if (turn, slot) not in taken and (turn, slot) > first
    ]
    wanted = _bar_by_bar(sorted(free), bars)[: ceil(len(line) * percent / 100)]
    return _with_added(line, wanted, scale)


def _bar_by_bar(places: list[tuple[bool, int, int, int]], bars: list[int]) -> list[tuple[int, int]]:
    """(pass, slot) of places that are sorted by how well they fit: of those that fit alike the
    first of each bar before the second ones, so that no bar gets all of them.
    """
    count: Counter[tuple[bool, int, int]] = Counter()
    turns = []
    for other, _, turn, slot in places:
        turns.append((other, count[other, turn, bars[slot]], turn, slot))
        count[other, turn, bars[slot]] += 1
    return [(turn, slot) for *_, turn, slot in sorted(turns)]


def _with_added(line: Line, places: list[tuple[int, int]], scale: Scale | None) -> Line:
    table = line.brief.slots
    onsets, pitches = line.notes["onset_q"], line.notes["pitch"].astype(int)
    ends = np.append(table.played_q[1:], table.cycle_q)
    added = np.zeros(len(places), LINE_DTYPE)
    for row, (turn, slot) in enumerate(places):
        at_q = turn * table.cycle_q + table.played_q[slot]
        after = int(np.searchsorted(onsets, at_q))
        before = max(after - 1, 0)
        pitch = _between(int(pitches[before]), int(pitches[min(after, len(line) - 1)]), scale)
        length = SHARE * (ends[slot] - table.played_q[slot])
        added[row] = (at_q, length, pitch, max(int(line.notes["velocity"][before] * SOFTER), 1), 0, 0, 0)
        added["channel"][row] = line.notes["channel"][before]
    notes = line.notes.copy()
    # What sounded into a slot that is used now ends there.
    used = np.append(np.sort(added["onset_q"]), np.inf)
    room = used[np.searchsorted(used, onsets, "right")] - onsets
    notes["duration_q"] = np.minimum(notes["duration_q"], room)
    both = np.concatenate([notes, added])
    order = np.lexsort((both["pitch"], both["onset_q"]))
    bends = (*line.bends, *(np.zeros((1, 2)) for _ in places))
    return Line(both[order], tuple(bends[row] for row in order.tolist()), line.brief)


def _between(before: int, after: int, scale: Scale | None) -> int:
    """A note of the scale between two notes, one step from the first towards the second; the first
    itself without a scale, and where the step would be the second.
    """
    if scale is None or before == after:
        return before
    step = stepped_pitch(before, scale, 1 if after > before else -1)
    return step if min(before, after) < step < max(before, after) else before
