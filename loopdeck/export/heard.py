"""What is to be heard of a take, cut out of its score: the messages from one bar to another, so
that nothing reaches beyond the end.
"""

from collections.abc import Sequence

from loopdeck.errors import UserError
from loopdeck.export.score import CLICK, Score, score_of_take, usual_parts
from loopdeck.shelf.take import Take
from loopdeck.synth.events import LIVE, SoundEvent

RATE = 48_000
#: Messages that a window hands to its engine at most, and how long it lets a take sound.
MOST_ROWS, MOST_SEC = 12_000, 600.0

Row = tuple[float, str, bytes]


def heard_of(score: Score, name: str) -> tuple[SoundEvent, ...]:
    """The events of a score, their samples from 0. Raises UserError where there is no note."""
    if not any(event.data[0] & 0xF0 == 0x90 for event in score.events):
        raise UserError(f"{name} has no notes to hear.")
    events = []
    for event in score.events:
        kind = event.data[0] & 0xF0
        before = kind in (0x80, 0x90) and event.sample < score.first
        # What sounds at the end is let go there, so that no note reaches into the next time round.
        if before or (event.sample >= score.end and kind != 0x80):
            continue
        at = min(max(event.sample, score.first), score.end - 1) - score.first
        events.append(event._replace(sample=at))
    return tuple(sorted(events, key=lambda one: one.sample))


def rows_to_hear(take: Take, click: bool = False) -> tuple[list[Row], float]:
    """A take as it was heard, as messages (second, part, data) from second 0, and its length in
    seconds; of a very long one the beginning. ``click``: with the click. Raises UserError.
    """
    score = score_of_take(take, RATE, (*usual_parts(take), *((CLICK,) if click else ())))
    events: Sequence[SoundEvent] = heard_of(score, take.name)
    length = (score.end - score.first) / RATE
    if len(events) > MOST_ROWS or length > MOST_SEC:
        last = events[min(len(events), MOST_ROWS) - 1].sample / RATE
        length = min(last, MOST_SEC, length)
        events = [event for event in events[:MOST_ROWS] if event.sample / RATE <= length]
    program: Row = (0.0, LIVE, bytes((0xC0, take.brief.program - 1)))
    return [program, *((event.sample / RATE, event.part, event.data) for event in events)], length
