"""A bar of click in front of a score, at the tempo and in the meter that it begins with."""

import numpy as np

from loopdeck.brief.brief import Brief
from loopdeck.export.score import Score, first_pass
from loopdeck.looper.strokes import strokes
from loopdeck.rhythm.meter import Cycle
from loopdeck.shelf.take import Take
from loopdeck.synth.events import CLICK, SoundEvent

#: How loud the click counts in where the brief has it silent.
_LEVEL = 90
_DRUM_CHANNEL = 9


def counted_in(score: Score, take: Take, rate: int) -> Score:
    """The whole of a take (``score``) with one bar of click before its first pass, and nothing
    before that bar. What was played before the first pass sounds inside it.
    """
    meters = take.recording.meters
    meter = meters[0][1] if meters else take.brief.cycle.meters[0]
    brief = Brief.default().replace(cycle=str(Cycle((meter,)))) if meters else take.brief.replace(cycle=str(meter))
    begin, quarter_sec = first_pass(take, rate)
    count = round(float(meter.quarters) * quarter_sec * rate)
    shift = max(count - begin, 0)
    first = begin + shift - count
    level = brief.click_level or _LEVEL
    clicks = [
        SoundEvent(
            first + round(stroke.quarter * quarter_sec * rate), CLICK,
            bytes((0x90 | _DRUM_CHANNEL, stroke.note, int(np.clip(round(level * stroke.weight), 1, 127)))),
        )
        for stroke in strokes(brief.replace(clicks="all", groove="off"), -1)
    ]  # fmt: skip
    events = [*clicks, *(event._replace(sample=event.sample + shift) for event in score.events)]
    events.sort(key=lambda event: event.sample)
    parts = score.parts if CLICK in score.parts else (*score.parts, CLICK)
    return Score(tuple(events), first, score.end + shift, parts)
