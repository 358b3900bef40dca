"""Which notes may be a trill, a mordent, a turn or a group of grace notes: what an ornament looks
like before anything is known of the rhythm.

The shape of an ornament
    Short notes a step apart follow each other quickly, whatever other voices play meanwhile. A
    *trill* goes to and fro between two pitches at least four times; its first note is the main
    one, which may be longer than the others. A *group* is up to five notes of which the last
    one, the main one, is much longer: grace notes, a slide, a mordent, a turn; brief ones that are
    let go at once may leap or repeat a pitch. Trills have 7 to 14 notes a second (common practice,
    no source); grace notes last 40 to 160 ms (Timmers et al., "The timing of grace notes", Music
    Perception 20, 2002).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.events import BRIEF_MS

#: The gaps of an ornament's notes, in milliseconds.
LEAST_MS, MOST_MS = 25.0, 150.0
#: How many notes later the next one of an ornament is looked for.
_REACH = 10
#: The widest leap in an ornament, semitones.
_OCTAVE = 12
#: Before brief notes at any interval there is a gap so many times as long as theirs.
_WAIT = 2.0
#: An ornament's notes are shorter than this in milliseconds.
_SHORT_MS = 200.0
#: A gap of a trill is less than so many times as long as the one beside it.
EVEN = 1.5
#: Its first gap may be longer.
_FIRST_GAP = 1.8
#: A trill may begin with a longer note, so many milliseconds before its second one.
_FIRST_MS = 400.0
#: The longest group, and how much longer than its other notes the last one is.
MOST_OF_GROUP, LONGER = 5, 1.8


class Embellishments(NamedTuple):
    """Ornaments by their first note, one after the other: ``notes``, indices of all their notes in
    order of onset; those of ornament i from ``at[i]`` to ``at[i + 1]``. ``main`` (k,): the note
    that is counted. ``trill`` (k,): whether it is a trill.
    """

    notes: NDArray[np.int64]
    at: NDArray[np.int64]
    main: NDArray[np.int64]
    trill: NDArray[np.bool_]


def _followers(
    onset_ms: NDArray[np.float64], duration_ms: NDArray[np.float64], pitch: NDArray[np.int64]
) -> NDArray[np.int64]:
    """For each note the next one of its ornament, -1 for the last, shape (n,)."""
    count = len(onset_ms)
    after = np.full(count, -1, np.int64)
    for ahead in range(1, min(_REACH, count - 1) + 1):
        gap = onset_ms[ahead:] - onset_ms[:-ahead]
        apart = np.abs(pitch[ahead:] - pitch[:-ahead])
        fits = (gap >= LEAST_MS) & (gap <= MOST_MS) & (apart >= 1) & (apart <= 2)
        fits &= duration_ms[:-ahead] < np.minimum(1.6 * gap + 40.0, _SHORT_MS)
        fits &= after[:-ahead] < 0
        here = np.flatnonzero(fits)
        after[here] = here + ahead
    # Two notes that lead to the same one: the later one does.
    given = np.flatnonzero(after >= 0)
    owner = np.full(count, -1, np.int64)
    owner[after[given]] = given
    after[given[owner[after[given]] != given]] = -1
    # A drag, a rake over the strings: brief notes at any interval, one right after the other.
    led = np.zeros(count, bool)
    led[after[after >= 0]] = True
    gap = np.diff(onset_ms)
    fits = (gap >= LEAST_MS) & (gap < BRIEF_MS) & (duration_ms[:-1] < np.minimum(1.15 * gap + 5.0, BRIEF_MS))
    fits &= (np.abs(np.diff(pitch)) <= _OCTAVE) & (after[:-1] < 0) & ~led[1:]
    here = np.flatnonzero(fits)
    after[here] = here + 1
    return after


def find(onset_ms: NDArray[np.float64], duration_ms: NDArray[np.float64], pitch: NDArray[np.int64]) -> Embellishments:
    """What may be ornaments among notes in order of onset, arrays alike in shape (n,)."""
    after = _followers(onset_ms, duration_ms, pitch)
    led = np.zeros(len(after), bool)
    led[after[after >= 0]] = True
    following = after.tolist()
    rows: list[list[int]] = []
    mains: list[int] = []
    trills: list[bool] = []
    for head in np.flatnonzero((after >= 0) & ~led).tolist():
        chain = [head]
        while (index := following[chain[-1]]) >= 0:
            chain.append(index)
        if len(chain) < 3:
            continue
        for notes, main, trill in _shapes(chain, onset_ms, duration_ms, pitch):
            if trill:
                first = _held_before(notes, onset_ms, pitch)
                notes, main = (notes, main) if first < 0 else ([first, *notes], first)
            rows.append(notes)
            mains.append(main)
            trills.append(trill)
    sizes = [len(row) for row in rows]
    return Embellishments(
        np.array([note for row in rows for note in row], np.int64),
        np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64),
        np.array(mains, np.int64),
        np.array(trills, bool),
    )


def chosen(found: Embellishments, some: NDArray[np.bool_]) -> Embellishments:
    """Those of the ornaments that are marked in ``some`` (k,)."""
    sizes = np.diff(found.at)
    return Embellishments(
        found.notes[np.repeat(some, sizes)],
        np.concatenate([[0], np.cumsum(sizes[some])]).astype(np.int64),
        found.main[some],
        found.trill[some],
    )


def _held_before(notes: list[int], onset_ms: NDArray[np.float64], pitch: NDArray[np.int64]) -> int:
    """The longer first note of a trill whose quick notes are ``notes``; -1 if there is none."""
    index = notes[0] - 1
    while index >= 0 and onset_ms[notes[0]] - onset_ms[index] < _FIRST_MS:
        apart = abs(int(pitch[index]) - int(pitch[notes[0]]))
        if pitch[index] == pitch[notes[1]]:
            # What is struck together with the quick notes is a chord.
            return index if onset_ms[notes[0]] - onset_ms[index] >= LEAST_MS else -1
        if apart <= 2:
            break
        index -= 1
    return -1


def _shapes(
    chain: list[int], onset_ms: NDArray[np.float64], duration_ms: NDArray[np.float64], pitch: NDArray[np.int64]
) -> list[tuple[list[int], int, bool]]:
    """The ornaments in a row of quick notes: their notes, the main one, whether it is a trill."""
    found = []
    tone = pitch[chain].tolist()
    gap = np.diff(onset_ms[chain]).tolist()
    size = len(chain)
    start, last = 0, 0
    while start < size - 2:
        stop = start + 2
        # To and fro at one pace.
        near = 1 <= abs(tone[start + 1] - tone[start]) <= 2
        while near and stop < size and tone[stop] == tone[stop - 2] and gap[stop - 1] < EVEN * gap[stop - 2]:
            stop += 1
        if stop - start >= 3 and gap[start] > _FIRST_GAP * gap[start + 1]:
            start += 1
            continue
        if stop - start >= 4:
            found.append((chain[start:stop], chain[start], True))
            start = last = stop
        else:
            start += 1
    if last:
        return found
    turning = size < 5 or len({tone[1] > tone[0], tone[2] > tone[1], tone[3] > tone[2]}) > 1
    if not all(1 <= abs(later - tone[place]) <= 2 for place, later in enumerate(tone[1:])):
        # Brief notes at any interval come after a wait.
        head = chain[0]
        turning &= head == 0 or bool(onset_ms[head] - onset_ms[head - 1] > _WAIT * gap[0])
    if turning and 2 < size <= MOST_OF_GROUP and duration_ms[chain[-1]] > LONGER * np.mean(duration_ms[chain[:-1]]):
        found.append((chain, chain[-1], False))
    return found
