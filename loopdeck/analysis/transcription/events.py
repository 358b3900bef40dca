"""Notes to events: what is struck at once is one event, and what lies between two events hints at
whether they belong together.

Conventions
    Notes come by onset. Onsets within ``TOGETHER_MS`` of the note before are one event, no longer
    than ``CHORD_MS`` in all. The *kind* of a step from one event to the next tells what a chord
    from a figure, beside its gap: a pitch that is struck again, a short note alone before a longer
    one a step away (a grace note, perhaps), other short notes a step apart (a run or a trill),
    notes that are held on or not, steps or leaps.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

#: Onsets closer than this are struck together, in milliseconds; no two written notes follow each
#: other so fast.
TOGETHER_MS = 12.0
#: The longest event in milliseconds.
CHORD_MS = 40.0
#: A rolled chord: leaps to notes that are held with those before, so near that they are one event,
#: as long as all of it is no longer than this, in milliseconds.
ROLL_MS, ROLLED_MS = 38.0, 160.0
#: A flam of one pitch is closer than this in milliseconds.
FLAM_MS = 90.0
#: A note shorter and nearer to the next one than this, let go by then, is a grace note whatever its
#: pitch, in milliseconds: nothing written is so fast (common practice, no source).
BRIEF_MS = 80.0
#: One hand may be ahead of the other by so much in milliseconds (Goebl, "Melody lead in piano
#: performance: expressive device or artifact?", JASA 110, 2001: usually 20 to 30).
HANDS_MS = 120.0
#: Kinds of step between two events.
AGAIN, GRACE, QUICK, HELD_STEP, HELD_LEAP, LEFT_STEP, LEFT_LEAP = range(7)
KINDS = 7
#: Bins of gaps, upper edges in milliseconds.
GAP_EDGES = np.array([18.0, 25.0, 33.0, 42.0, 55.0, 70.0, 90.0, 115.0, 150.0, 200.0, 300.0])
GAP_BINS = len(GAP_EDGES) + 1


class Events(NamedTuple):
    """Events in order. ``of_note``: the event of each note (n,); ``onset_q`` and ``onset_ms`` (k,),
    means over their notes, of a rolled chord its middle; ``half_q``: half of what a rolled chord
    takes, else 0;
    ``kind`` and ``gap_ms`` of the step that leads to each event (the first one's mean nothing);
    ``first``: its first note."""

    of_note: NDArray[np.int64]
    onset_q: NDArray[np.float64]
    half_q: NDArray[np.float64]
    onset_ms: NDArray[np.float64]
    kind: NDArray[np.int64]
    gap_ms: NDArray[np.float64]
    first: NDArray[np.int64]


def gather(
    onset_q: NDArray[np.float64],
    onset_ms: NDArray[np.float64],
    duration_ms: NDArray[np.float64] | None,
    pitch: NDArray[np.int64] | None,
    rolls: bool = True,
) -> Events:
    """Notes (by onset) as events; without durations or pitches the kinds of steps are -1 and no
    chord is known to be rolled, as with ``rolls`` false.
    """
    begins = np.ones(len(onset_ms), bool)
    begins[1:] = np.diff(onset_ms) > TOGETHER_MS
    head = np.flatnonzero(begins)
    ends = np.append(head[1:], len(onset_ms))
    for start, stop in zip(head.tolist(), ends.tolist(), strict=True):
        if onset_ms[stop - 1] - onset_ms[start] > CHORD_MS:
            for index in range(start + 1, stop):
                if onset_ms[index] - onset_ms[start] > CHORD_MS:
                    begins[index], start = True, index
    plain = _events(begins, onset_q, onset_ms, duration_ms, pitch)
    rolled = _rolled(plain)
    if not rolls or not rolled.any():
        return plain
    begins[plain.first[rolled]] = False
    found = _events(begins, onset_q, onset_ms, duration_ms, pitch)
    ends = np.append(found.first[1:], len(onset_ms)) - 1
    low, high = onset_q[found.first], onset_q[ends]
    of_rolled = np.zeros(len(low), bool)
    of_rolled[found.of_note[plain.first[rolled]]] = True
    middle = np.where(of_rolled, (low + high) / 2, found.onset_q)
    return found._replace(onset_q=middle, half_q=np.where(of_rolled, (high - low) / 2, 0.0))


def drawn_out(
    events: Events, note: NDArray[np.int64], since_q: NDArray[np.float64], since_ms: NDArray[np.float64]
) -> Events:
    """Events whose only note is one of ``note`` (j,) and is led to by an ornament that began at
    ``since_q`` and ``since_ms`` (j,): they are on their place while it lasts, like rolled chords.
    """
    event = events.of_note[note]
    alone = np.bincount(events.of_note, minlength=len(events.onset_q))[event] == 1
    event, since_q, since_ms = event[alone], since_q[alone], since_ms[alone]
    onset_q, half_q, gap_ms = events.onset_q.copy(), events.half_q.copy(), events.gap_ms.copy()
    before = np.where(event > 0, onset_q[event - 1], -np.inf)
    # Not so early that it would come before the event before it.
    low = np.minimum(np.maximum(since_q, 2 * before - onset_q[event]), onset_q[event])
    gap_ms[event] = np.minimum(gap_ms[event], np.maximum(since_ms - events.onset_ms[event - 1], 0.0))
    half_q[event] = (onset_q[event] - low) / 2
    onset_q[event] = (onset_q[event] + low) / 2
    return events._replace(onset_q=onset_q, half_q=half_q, gap_ms=gap_ms)


def _events(
    begins: NDArray[np.bool_],
    onset_q: NDArray[np.float64],
    onset_ms: NDArray[np.float64],
    duration_ms: NDArray[np.float64] | None,
    pitch: NDArray[np.int64] | None,
) -> Events:
    """The events that begin with the notes marked in ``begins`` (n,)."""
    of_note = np.cumsum(begins) - 1
    first = np.flatnonzero(begins)
    size = np.diff(np.append(first, len(onset_ms)))
    event_q = np.add.reduceat(onset_q, first) / size
    event_ms = np.add.reduceat(onset_ms, first) / size
    gap = np.diff(event_ms, prepend=event_ms[:1])
    if duration_ms is None or pitch is None:
        kind = np.full(len(first), -1, np.int64)
    else:
        kind = _kinds(event_ms, gap, first, size, onset_ms + duration_ms, duration_ms, pitch)
    return Events(of_note, event_q, np.zeros(len(first)), event_ms, kind, gap, first)


def _rolled(events: Events) -> NDArray[np.bool_]:
    """Which events belong to the rolled chord of the one before, (k,)."""
    found = (events.kind == HELD_LEAP) & (events.gap_ms < ROLL_MS)
    found[:1] = False
    begun = 0
    for index in np.flatnonzero(found).tolist():
        if not found[index - 1]:
            begun = index - 1
        found[index] = events.onset_ms[index] - events.onset_ms[begun] <= ROLLED_MS
    return np.asarray(found)


def _kinds(
    event_ms: NDArray[np.float64],
    gap: NDArray[np.float64],
    first: NDArray[np.int64],
    size: NDArray[np.int64],
    end_ms: NDArray[np.float64],
    duration_ms: NDArray[np.float64],
    pitch: NDArray[np.int64],
) -> NDArray[np.int64]:
    count = len(event_ms)
    last_end = np.maximum.reduceat(end_ms, first)
    held = np.zeros(count, bool)
    held[1:] = last_end[:-1] > event_ms[1:] + np.maximum(15.0, 0.35 * gap[1:])
    # The least interval between the notes of two events; of big events only the first notes are
    # looked at.
    nearest = np.full(count, 99, np.int64)
    again = np.zeros(count, bool)
    most = 4
    for one in range(most):
        for other in range(most):
            rows = np.flatnonzero((size[:-1] > one) & (size[1:] > other)) + 1
            apart = np.abs(pitch[first[rows - 1] + one] - pitch[first[rows] + other])
            again[rows] |= apart == 0
            nearest[rows] = np.minimum(nearest[rows], np.where(apart == 0, 99, apart))
    step = nearest <= 2
    longest = np.maximum.reduceat(duration_ms, first)
    quick = np.zeros(count, bool)
    quick[1:] = step[1:] & (size[:-1] == 1) & (longest[:-1] < 180.0) & (gap[1:] < 170.0)
    brief = np.zeros(count, bool)
    brief[1:] = (size[:-1] == 1) & (longest[:-1] < BRIEF_MS) & (gap[1:] < BRIEF_MS) & ~held[1:]
    # A grace note comes after a wait, and what follows it is longer. A swung pair is no more uneven
    # than 2.8:1.
    waits = np.full(count, np.inf)
    waits[2:] = gap[1:-1] / np.maximum(gap[2:], 1.0)
    lasts = np.zeros(count, bool)
    lasts[1:] = longest[1:] > np.maximum(1.6 * longest[:-1], 120.0)
    return np.select(
        [brief & lasts & (waits > 2.9), again, quick & lasts & (waits > 1.4), quick, held & step, held, step],
        [GRACE, AGAIN, GRACE, QUICK, HELD_STEP, HELD_LEAP, LEFT_STEP],
        LEFT_LEAP,
    ).astype(np.int64)
