"""Which notes are ornaments: played, but not counted in the rhythm.

A grace note or a flam is a short note alone, a step or less away from the note that follows in the
same slot, or a brief one at any interval that is let go at once. A trill, a mordent or a turn is a
row of short notes a step apart in one slot: all but the first one are ornaments, unless the last
one is the longest. Rolled chords are not ornaments: their notes are leaps apart and held. What was
left out of the rhythm beforehand (``embellishing``) is an ornament, too. Limits from common
practice, no source.
"""

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.events import AGAIN, BRIEF_MS, FLAM_MS, GRACE, LEFT_LEAP, LEFT_STEP, QUICK
from loopdeck.analysis.transcription.model import RhythmReading

#: An ornament is shorter than this in seconds, and nearer to the next note.
SHORT_SEC = 0.18
#: How much longer than a brief note the one that it leads to is.
LONGER = 1.6


def ornaments(found: RhythmReading, duration_sec: NDArray[np.float64]) -> NDArray[np.bool_]:
    """For notes by onset whether each is an ornament, shape (n,)."""
    events = found.events
    count = len(events.onset_q)
    hidden = found.home != np.arange(len(found.home))
    size = np.bincount(events.of_note[~hidden], minlength=count)
    first = events.first
    beat, place = found.beat[first], found.place[first]
    # together[i]: event i is in the slot of event i - 1, and led to by a step of an ornament.
    together = np.zeros(count, bool)
    together[1:] = (np.diff(beat) == 0) & (np.diff(place) == 0)
    same = together.copy()
    together &= np.isin(events.kind, (GRACE, QUICK)) | ((events.kind == AGAIN) & (events.gap_ms < FLAM_MS))
    # What is let go at once before a longer note, at any interval.
    brief = (size[:-1] == 1) & (duration_sec[first[:-1]] < BRIEF_MS / 1000.0) & (events.gap_ms[1:] < BRIEF_MS)
    brief &= duration_sec[first[1:]] > LONGER * duration_sec[first[:-1]]
    same[1:] &= np.isin(events.kind[1:], (LEFT_STEP, LEFT_LEAP)) & brief
    together |= same
    short = (size == 1) & (duration_sec[first] < SHORT_SEC)
    flags = np.zeros(count, bool)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], together, [False]]).astype(np.int8)))
    for start, stop in zip((edges[::2] - 1).tolist(), edges[1::2].tolist(), strict=True):
        row = np.arange(start, stop)
        if len(row) == 2:
            flags[row[0]] = short[row[0]]
            continue
        longest = int(np.argmax(duration_sec[first[row]]))
        main = row[-1] if longest == len(row) - 1 else row[0]
        flags[row] = short[row] & (row != main)
    return np.asarray(flags[events.of_note] | hidden)
