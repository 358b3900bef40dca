"""What a take's cycle looks like, small: its layers, and what was played, pass over pass.

Conventions
    Places and lengths are shares of the cycle, 0 to 1. A note that came in every pass has the
    weight 1; one that came once in four passes 0.25. Layers have 1. An imported file, or playing
    while no time ran, is shown from its start on for at most ``MOST_QUARTERS``.
"""

from collections import Counter
from typing import Any

from loopdeck.shelf.looping import seen
from loopdeck.shelf.material import material_of
from loopdeck.shelf.take import Take

MOST_QUARTERS = 32.0
MOST_NOTES = 160
#: Notes nearer than this part of a quarter are one in the picture.
_GRID = 12


def cycle_picture(take: Take) -> dict[str, Any]:
    """``groups``, where the groups of the meters begin; ``notes``, rows of (place, length, pitch,
    weight, 1 for a layer's or 0).
    """
    playing = seen(material_of(take, layers=False))
    free = bool(take.recording.meters) or not take.recording.passes
    end_q = float(playing.onset_q.max()) + 1.0 if len(playing) else 1.0
    length_q = min(max(end_q, 1.0), MOST_QUARTERS) if free else float(take.brief.cycle.quarters)
    early_q = float("inf") if free else length_q - take.brief.slots.half_q
    slots = max(round(length_q * _GRID), 1)
    times: Counter[tuple[int, int, int]] = Counter()
    lengths: dict[tuple[int, int, int], float] = {}
    for layer, material in ((1, material_of(take, played=False)), (0, playing)):
        rows = zip(
            material.onset_q.tolist(), material.duration_q.tolist(), material.notes.array["pitch"].tolist(),
            material.pitched.tolist(), strict=True,
        )  # fmt: skip
        for at_q, long_q, pitch, pitched in rows:
            if not pitched or (free and at_q >= length_q) or not abs(at_q) < 1e9:
                continue
            # An early downbeat stands at the start of the picture, where it belongs.
            place = 0 if at_q % length_q >= early_q else round(at_q * _GRID) % slots
            key = (place, pitch, layer)
            times[key] += 1
            lengths[key] = max(lengths.get(key, 0.0), long_q)
    passes = 1 if free else max(take.recording.passes, 1)
    notes = [
        [
            round(slot / _GRID / length_q, 4), round(min(max(lengths[slot, pitch, layer], 0.05) / length_q, 1.0), 4), pitch,
            1.0 if layer else round(min(count / passes, 1.0), 2), layer,
        ]
        for (slot, pitch, layer), count in times.most_common(MOST_NOTES)
    ]  # fmt: skip
    clicks = [] if free else [float(click.position) / length_q for click in take.brief.cycle.clicks]
    return {"groups": [round(place, 4) for place in clicks], "notes": sorted(notes)}
