"""Which strokes of click and groove sound in a pass.

Conventions
    A run lasts from a start to a stop; its passes count from 0 here. Stroke places are quarters
    from the start of the pass, played (swung) ones for the groove.
"""

from typing import NamedTuple

from loopdeck.brief.brief import OFF, Brief
from loopdeck.looper.groove import groove_of

#: General MIDI percussion: high wood block, low wood block, side stick, claves (General MIDI level
#: 1).
CLICK_NOTES = {"bar": 76, "group": 77, "beat": 37, "between": 75}
CLICK_WEIGHT = {"bar": 1.0, "group": 0.85, "beat": 0.65, "between": 0.5}


class PercussionStroke(NamedTuple):
    """One stroke of the click or the groove: place in the pass, MIDI note, velocity (None: by the
    click's level and ``weight``), part.
    """

    quarter: float
    note: int
    velocity: int | None
    weight: float
    part: str


def strokes(brief: Brief, run_pass: int, first_bar: int | None = None) -> list[PercussionStroke]:
    """What click and groove play in one pass of a run; a silent bar is silent in both. A count-in
    is run pass -1 and has its click always.

    ``first_bar``: bars of the run before this pass; by default as many as it had if the cycle was
    always this one.
    """
    found = []
    first_bar = run_pass * len(brief.cycle.meters) if first_bar is None else first_bar
    name, _, alone = brief.groove.partition(" ")
    if run_pass < 0 or not alone:
        found = [
            PercussionStroke(float(place.position), CLICK_NOTES[place.kind], None, CLICK_WEIGHT[place.kind], "click")
            for place in brief.clicks.clicks(brief.cycle, run_pass, first_bar)
        ]
    if name != OFF and run_pass >= 0:
        for hit in groove_of(brief, name):
            if not brief.clicks.silent(first_bar + brief.cycle.bar_at(hit.position)):
                found.append(PercussionStroke(hit.played_q, hit.note, hit.velocity, 1.0, "drums"))
    return found
