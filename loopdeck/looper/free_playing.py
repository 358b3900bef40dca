"""What was played while no time ran, cut into passes as if time had run: so that it can be looped.

Conventions
    A phrase begins with its first note, which is taken for a downbeat, and lasts until nothing is
    played for a whole cycle. It is cut into cycles at the tempo of the brief. A note within half a
    slot before the end of a cycle belongs to the next, as always. The passes have the index FREE,
    and ``qpm`` says the tempo they were cut at.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from fractions import Fraction
from itertools import islice

from loopdeck.brief.brief import Brief
from loopdeck.looper.recorder import FREE, REMEMBERED, PassRecord, Played, Recorder

#: So many of the newest notes are looked at: the engine has no time for hours of them.
MOST_NOTES = 2000


def free_passes(
    notes: Iterable[Played], brief: Brief, early: Callable[[Played], float], now_sec: float
) -> list[PassRecord]:
    """The passes in which something was played, oldest first, at most REMEMBERED.

    A note still held lasts until ``now_sec``.
    """
    qpm, cycle_q, half_q = brief.tempo.quarters_per_minute, float(brief.cycle.quarters), brief.slots.half_q
    placed = sorted(((note.stamp_sec - early(note), note) for note in notes), key=lambda one: one[0])
    found: list[PassRecord] = []
    start_sec, sounds_until_q = 0.0, float("-inf")
    for sec, note in placed:
        at_q = (sec - start_sec) * qpm / 60.0
        if not found or at_q - sounds_until_q >= cycle_q:
            start_sec, at_q, sounds_until_q = sec, 0.0, float("-inf")
            found.append(_pass(brief, start_sec, 0, qpm))
        count = int((at_q + half_q) // cycle_q)
        if count > found[-1].run_pass:
            found.append(_pass(brief, start_sec, count, qpm))
        length_q = note.end_q - note.at_q if note.end_q is not None else max(now_sec - sec, 0.0) * qpm / 60.0
        sounds_until_q = max(sounds_until_q, at_q + length_q)
        begin_q = at_q - count * cycle_q
        found[-1].notes.append(replace(note, at_q=begin_q, end_q=begin_q + min(length_q, cycle_q)))
    return found[-REMEMBERED:]


def _pass(brief: Brief, phrase_sec: float, count: int, qpm: float) -> PassRecord:
    """The ``count``-th pass of a phrase that began at ``phrase_sec``."""
    length_sec = float(brief.cycle.quarters) * 60.0 / qpm
    start_sec = phrase_sec + count * length_sec
    return PassRecord(
        FREE,
        Fraction(0),
        start_sec,
        brief.cycle.quarters,
        brief.slots,
        end_sec=start_sec + length_sec,
        qpm=qpm,
        run_pass=count,
    )


def take_free_playing(recorder: Recorder, brief: Brief, now_sec: float) -> None:
    """Cut what was played while no time ran, and was not cut yet, into passes that the recorder
    holds from now on.
    """
    since_sec = recorder.free_until_sec
    newest = islice(reversed(recorder.notes.values()), MOST_NOTES)
    notes = [note for note in newest if note.pass_index == FREE and note.stamp_sec > since_sec and not note.hidden]
    recorder.add_free(free_passes(notes, brief, recorder.judged_early, now_sec), now_sec)
