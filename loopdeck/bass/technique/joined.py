"""Raw notes that follow each other on a string without a gap: runs that were slides, new notes that
were hammered or pulled.

Method
    A slide in a chromatic stream is a run of semitones in one direction, each note between start
    and goal shorter than anybody plucks (``QUICK_SEC``; up to ``SLOW_SEC`` where the run also gets
    no louder). What is hammered on or pulled off is told by its level (``legato``). Figures: common
    practice, no source; tried on simulated pickups.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.legato import LOUD, REACH_FRETS, Soft, follows, reach
from loopdeck.bass.technique.reading import PLUCK, SLIDE, Written

QUICK_SEC, SLOW_SEC = 0.068, 0.1
LOUDER = 1.12
#: So many frets on the way, each for no longer than this, may be a slide that grows louder.
MANY, QUICKEST_SEC = 3, 0.055
#: Notes this far apart were plucked if the goal has more than this share of the start's level, and
#: the run more than that share of the usual level.
PLUCKED_SEC, DIES_AWAY, SOFTER = 0.044, 0.8, 0.85
#: Fret by fret between two notes that last so many times as long it was a slide all the same: a
#: run of plucks has no long notes at both its ends.
HELD = 2.5
#: A bend tells of a slide so long at most before a new note tells that it arrived; longer where the
#: bend was at its end some frets before.
ARRIVES_SEC, CUT_OFF_SEC = 0.12, 0.16
#: A quick slide may pass so many frets between two notes of the pickup; so many in all are more
#: than fingers hammer one after the other.
SKIPPED, HAND_FRETS = 4, 5
NOWHERE_SEC, END_SEC = 0.1, 0.05
#: Notes between start and goal that last no longer than this in all are a jump which the pickup
#: followed.
JUMP_SEC = 0.012
#: A little longer ones are one where the level fell at once to this share: a slide dies away fret
#: by fret.
SOFT_JUMP_SEC, FELL = 0.024, 0.74


def joined(notes: list[Written], usual: NDArray[np.float64], soft: Soft) -> list[Written]:
    """The notes of one string in order, with slides and legato read from how they follow each
    other.

    ``usual``: the level at which notes are plucked around each of them, shape (n,); ``soft``: the
    share of it up to which a joined note is taken as legato (``soft_share``).
    """
    out: list[Written] = []
    at = 0
    while at < len(notes):
        run = _run_from(notes, at)
        if run > at + 1 and _jumped(notes[at : run + 1]):
            goal = notes[run]
            goal.onset_sec, goal.velocity = (
                notes[at + 1].onset_sec,
                max(note.velocity for note in notes[at + 1 : run + 1]),
            )
            goal.raw = [index for note in notes[at + 1 : run + 1] for index in note.raw]
            if out and notes[at].reached == PLUCK:
                reach(notes[at], out[-1], float(usual[at]), soft)
            out.append(notes[at])
            at = run
            continue
        if run > at + 1 and _is_slide(notes[at : run + 1], usual[at : run + 1]):
            out += _slide(notes[at : run + 1])
            at = run + 1
            continue
        note = notes[at]
        if out and _led_to(note, out[-1], float(usual[at])):
            out[-1].marks.remove("slide-to")
            note.reached = SLIDE
            out.append(note)
            at += 1
            continue
        if out and _arrived(note, out[-1], float(usual[at])):
            out[-1] = _goal(out[-1], note)
            at += 1
            continue
        if out and note.reached == PLUCK:
            reach(note, out[-1], float(usual[at]), soft)
        out.append(note)
        at += 1
    return out


def _run_from(notes: list[Written], at: int) -> int:
    """The last note of the run of semitones in one direction that begins at ``at``; ``at`` itself
    if no run begins there.
    """
    last, sign = at, 0
    while last + 1 < len(notes):
        note, following = notes[last], notes[last + 1]
        step = following.pitch - note.pitch
        length = note.end_sec - note.onset_sec
        if not follows(following, note) or not 1 <= abs(step) <= SKIPPED or (sign and np.sign(step) != sign):
            break
        # Only the first note of a run may be long; one in the middle that is ends the run as its
        # goal.
        if last > at and length > SLOW_SEC:
            break
        sign = int(np.sign(step))
        last += 1
    return last


def _jumped(run: list[Written]) -> bool:
    lasted = run[-1].onset_sec - run[1].onset_sec
    fell = run[1].velocity <= FELL * run[0].velocity
    # What ends at once was not a jump but a slide that led nowhere.
    ends = run[-1].end_sec - run[-1].onset_sec < END_SEC
    return lasted <= (SOFT_JUMP_SEC if fell else JUMP_SEC) and not ends


def _is_slide(run: list[Written], usual: NDArray[np.float64]) -> bool:
    between = run[1:-1]
    longest = max(note.end_sec - note.onset_sec for note in between)
    # The levels along a slide are rough, but nothing in it is louder than its pluck; and nobody
    # plucks so many notes so quickly.
    louder = max(note.velocity for note in run[1:]) > LOUDER * run[0].velocity
    louder &= len(between) < MANY or longest > QUICKEST_SEC
    wide = abs(run[-1].pitch - run[0].pitch)
    steps = [abs(note.pitch - before.pitch) for note, before in zip(run[1:], run, strict=False)]
    # A pickup that leaves frets out tells of a slide where no hand reaches so far.
    if wide < 2 or louder or (max(steps) > 2 and wide < HAND_FRETS):
        return False
    if _was_plucked(run, usual):
        return False
    softer = all(note.velocity <= level for note, level in zip(run[1:], usual[1:], strict=True))
    return longest <= QUICK_SEC or (longest <= SLOW_SEC and softer)


def _was_plucked(run: list[Written], usual: NDArray[np.float64]) -> bool:
    """True for a run of notes as far apart and as loud as plucks, such as a scale in
    thirty-seconds.
    """
    apart = max(note.onset_sec - before.onset_sec for before, note in pairwise(run[1:]))
    ends = min(note.end_sec - note.onset_sec for note in (run[0], run[-1]))
    if ends >= HELD * apart and all(abs(note.pitch - before.pitch) == 1 for before, note in pairwise(run)):
        return False
    level = sum(note.velocity for note in run[1:]) / float(usual[1:].sum())
    return apart > PLUCKED_SEC and run[-1].velocity > DIES_AWAY * run[0].velocity and level > SOFTER


def _arrived(note: Written, before: Written, usual: float) -> bool:
    """True for a new note with which a pickup tells that a slide has arrived which it followed with
    a bend so far. A hammer-on after a hammer-on would come in the same way as the first.
    """
    if before.way is None or before.reached == PLUCK or not follows(note, before):
        return False
    step, way = note.pitch - before.pitch, before.way[1] - before.way[0]
    if abs(step) > REACH_FRETS or step * way < 0:
        return False
    if step == 0 and before.reached != SLIDE:
        return False
    lasted = before.end_sec - before.onset_sec
    return lasted <= (ARRIVES_SEC if abs(step) <= 2 else CUT_OFF_SEC) and note.velocity <= LOUD * usual


def _led_to(note: Written, before: Written, usual: float) -> bool:
    """True for a new note that a slide to nowhere got to."""
    if before.way is None or "slide-to" not in before.marks or not follows(note, before):
        return False
    step, leads = note.pitch - before.pitch, before.way[1]
    if step * (leads - before.pitch) <= 0:
        return False
    return abs(step) >= 2 and abs(note.pitch - leads) <= REACH_FRETS and note.velocity <= LOUD * usual


def _goal(before: Written, note: Written) -> Written:
    """The slide that ``before`` told of first and ``note`` then."""
    note.raw, note.reached, note.way = [*before.raw, *note.raw], SLIDE, before.way
    note.marks = [mark for mark in note.marks if mark != "slide-from"]
    return note


def _slide(run: list[Written]) -> list[Written]:
    start, goal = run[0], run[-1]
    raw = [index for note in run[1:] for index in note.raw]
    first_length, last_length = start.end_sec - start.onset_sec, goal.end_sec - goal.onset_sec
    if first_length < NOWHERE_SEC and last_length >= first_length:
        goal.raw = start.raw + raw
        goal.velocity = start.velocity
        goal.mark("slide-from")
        return [goal]
    if last_length < END_SEC:
        start.end_sec = goal.end_sec
        start.raw = start.raw + raw
        start.mark("slide-to")
        return [start]
    goal.raw, goal.reached = raw, SLIDE
    return [start, goal]
