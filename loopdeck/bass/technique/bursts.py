"""Dead strokes that a pickup took for several pitches, or for one that jumps about.

Method
    A damped string has no clear pitch for a follower to hold on to: what it sends is one short
    stroke (``level``), a short note whose bend goes to and fro, or a burst of very short notes on
    pitches that lead nowhere. Figures: common practice, no source; tried on simulated pickups.
"""

from collections.abc import Sequence
from itertools import pairwise

from loopdeck.bass.technique.reading import Written, meets

#: A dead stroke lasts no longer than this in all, and each of its pitches no longer than that.
STROKE_SEC, BLIP_SEC = 0.09, 0.045
#: A pitch that turns so often, by so many semitones each time, is none.
_TURNS, _TURN = 2, 0.3
#: A run that goes one way in steps no wider than this may be a slide that dies away.
_STEP = 4


def unclear(levels: Sequence[float]) -> bool:
    """True for a pitch (semitones, even samples) that goes to and fro by ``_TURN``."""
    turns, way, far = 0, 0, levels[0]
    low = high = levels[0]
    for level in levels:
        low, high = min(low, level), max(high, level)
        if way == 0:
            if high - low >= _TURN:
                way, far = (1 if level == high else -1), level
        elif (level - far) * way > 0:
            far = level
        elif abs(level - far) >= _TURN:
            turns, way, far = turns + 1, -way, level
    return turns >= _TURNS


def bursts(notes: list[Written]) -> list[Written]:
    """The notes of one string in order, each burst of a dead stroke as one dead note."""
    out: list[Written] = []
    at = 0
    while at < len(notes):
        until = _until(notes, at)
        burst = notes[at : until + 1]
        if until > at and _is_stroke(burst, notes[at - 1] if at else None):
            out.append(_as_one(burst))
            at = until + 1
        else:
            # The end of a longer run is not a stroke either.
            out += burst
            at = until + 1
    return out


def _until(notes: list[Written], at: int) -> int:
    """The last of the very short notes that follow each other from ``at`` on."""
    until = at
    while _short(notes[until]) and until + 1 < len(notes) and meets(notes[until + 1], notes[until]):
        if not _short(notes[until + 1]):
            return at
        until += 1
    return until


def _is_stroke(burst: list[Written], before: Written | None) -> bool:
    if burst[-1].end_sec - burst[0].onset_sec > STROKE_SEC:
        return False
    if before is None or not meets(burst[0], before):
        return True
    # After a note that sounded till then, it may be how that one slid away.
    steps = [note.pitch - last.pitch for last, note in pairwise([before, *burst])]
    return min(steps) < 0 < max(steps) or max(map(abs, steps)) > _STEP


def _short(note: Written) -> bool:
    return note.end_sec - note.onset_sec <= BLIP_SEC and "slide-from" not in note.marks


def _as_one(burst: list[Written]) -> Written:
    note = max(burst, key=lambda one: one.end_sec - one.onset_sec)
    note.onset_sec, note.end_sec = burst[0].onset_sec, burst[-1].end_sec
    note.velocity = max(one.velocity for one in burst)
    note.raw = sorted({index for one in burst for index in one.raw})
    note.reached, note.marks, note.way, note.bend_semitones, note.unsure = "pluck", ["dead"], None, 0.0, False
    return note
