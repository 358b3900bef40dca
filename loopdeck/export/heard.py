"""What is to be heard of a take, cut out of its score: the messages from one bar to another, so
that nothing reaches beyond the end.
"""

from collections.abc import Sequence
from dataclasses import replace

from loopdeck.errors import UserError
from loopdeck.export.score import Score, first_pass, score_of_take, usual_parts
from loopdeck.shelf.take import Take
from loopdeck.synth.events import CLICK, DRUMS, LIVE, SoundEvent

RATE = 48_000
#: Messages that a window hands to its engine at most, and how long it lets a take sound.
MOST_ROWS, MOST_SEC = 12_000, 600.0
#: Half a slot where there is no grid: a sixteenth is one.
_HALF_Q = 0.125

Row = tuple[float, str, bytes]


def on_the_beat(score: Score, take: Take, rate: int = RATE) -> tuple[Score, int]:
    """The score of a take without the bar that stands in front of an early downbeat, so that it
    begins with the first bar, and how many samples before that the downbeat may sound.

    A note of up to half a slot before a bar belongs to it; what was played earlier than that keeps
    its bar in front.
    """
    begin, quarter_sec = first_pass(take, rate)
    half_q = take.brief.slots.half_q if not take.recording.meters else _HALF_Q
    room = round(half_q * quarter_sec * rate)
    struck = min((event.sample for event in score.events if event.data[0] & 0xF0 == 0x90), default=begin)
    if score.first < begin and struck >= begin - room:
        score = replace(score, first=begin)
    return score, room


def sound_events(score: Score, name: str, room: int = 0, whole: bool = True) -> tuple[SoundEvent, ...]:
    """The events of a score, their samples from 0; what was struck up to ``room`` samples before
    its beginning lies below 0. Unless it is the ``whole`` of a take, what lies so near its end
    belongs to the bar that follows, and is left out. Raises UserError where there is no note.
    """
    if not any(event.data[0] & 0xF0 == 0x90 for event in score.events):
        raise UserError(f"{name} has no notes to hear.")
    events, last = [], score.end if whole else score.end - room + 1
    for event in score.events:
        kind, struck = event.data[0] & 0xF0, event.part in (CLICK, DRUMS)
        first = score.first if struck else score.first - room
        # What sounds at the end is let go there, so that no note reaches into the next time round.
        if (kind in (0x80, 0x90) and event.sample < first) or (event.sample >= score.end and kind != 0x80):
            continue
        if kind == 0x90 and not struck and event.sample >= last:
            continue
        at = min(max(event.sample, first), score.end - 1) - score.first
        events.append(event._replace(sample=at))
    early = min((event.sample for event in events if event.data[0] & 0xF0 in (0x80, 0x90)), default=0)
    # Bends and programs of before stand right before the first note.
    events = [event._replace(sample=max(event.sample, min(early, 0))) for event in events]
    return tuple(sorted(events, key=lambda one: one.sample))


def rows_to_hear(take: Take, click: bool = False) -> tuple[list[Row], float]:
    """A take as it was heard, as messages (second, part, data) from second 0, and its length in
    seconds; of a very long one the beginning. ``click``: with the click. Raises UserError.
    """
    score, room = on_the_beat(score_of_take(take, RATE, (*usual_parts(take), *((CLICK,) if click else ()))), take)
    events: Sequence[SoundEvent] = sound_events(score, take.said, room)
    early = min((0, *(event.sample for event in events)))
    events = [event._replace(sample=event.sample - early) for event in events]
    length = (score.end - score.first - early) / RATE
    if len(events) > MOST_ROWS or length > MOST_SEC:
        last = events[min(len(events), MOST_ROWS) - 1].sample / RATE
        length = min(last, MOST_SEC, length)
        events = [event for event in events[:MOST_ROWS] if event.sample / RATE <= length]
    program: Row = (0.0, LIVE, bytes((0xC0, take.brief.program - 1)))
    return [program, *((event.sample / RATE, event.part, event.data) for event in events)], length
