"""Fewer notes and more of them.

Method
    Thinning keeps the notes on strong beats, then the loud ones. Thickening puts notes on free
    slots of the riff's own grid: first those that stand like the riff's own onsets (as strong in
    their bar as the places it uses), with the pitches of the scale between the notes before and
    after. This project's rules, no source.
"""

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
    table = line.brief.slots
    found = locate(line.notes["onset_q"], table)
    taken = set(zip(found.pass_index.tolist(), found.slot.tolist(), strict=True))
    strong = [strength(line.brief.cycle, place) for place in table.written]
    liked = Counter(strong[slot] for _, slot in taken)
    free = [
        (-liked[strong[slot]], turn, slot)
        for turn in range(min(taken)[0], max(taken)[0] + 1)
        for slot in range(len(table))
        if (turn, slot) not in taken and (turn, slot) > min(taken)
    ]
    wanted = sorted(free)[: ceil(len(line) * percent / 100)]
    return _with_added(line, [(turn, slot) for _, turn, slot in wanted], scale)


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
    for at_q in added["onset_q"]:
        reach = (notes["onset_q"] < at_q) & (notes["onset_q"] + notes["duration_q"] > at_q)
        notes["duration_q"][reach] = at_q - notes["onset_q"][reach]
    both = np.concatenate([notes, added])
    order = np.lexsort((both["pitch"], both["onset_q"]))
    bends = (*line.bends, *(np.zeros((1, 2)) for _ in places))
    return Line(both[order], tuple(bends[row] for row in order.tolist()), line.brief)


def _between(before: int, after: int, scale: Scale | None) -> int:
    """A note of the scale between two notes, one step from the first towards the second; the first
    itself without a scale.
    """
    if scale is None or before == after:
        return before
    return stepped_pitch(before, scale, 1 if after > before else -1)
