"""How well the techniques of a simulated stream are read: F1 by technique, and false marks on plain
notes.
"""

import numpy as np

from loopdeck.bass.pickup.cleaning import clean
from loopdeck.bass.pickup.delay import late_sec, take_delay_off
from loopdeck.bass.pickup.profile import Cleaning, Delay
from loopdeck.bass.technique.finding import technique
from loopdeck.bass.technique.reading import Written
from loopdeck.capture.bulk_pairing import pair
from loopdeck.capture.events import Event
from tests.simulators.pickup import Stream


def written(
    found: Stream, cleaning: Cleaning | None = None, fretless: bool = False, delay: Delay | None = None
) -> list[Written]:
    """What the reader makes of a stream; ``delay`` is taken off as a pickup's view does."""
    notes = pair([Event(sec, 0, data) for sec, data in found.events], found.events[-1][0] + 1)
    array, bends = notes.array, notes.bends
    if cleaning is not None:
        cleaned = clean(array, bends, cleaning)
        array, bends = cleaned.notes, cleaned.bends
    if delay is None:
        return technique(array, bends, fretless)
    late = late_sec(array["pitch"], delay)
    take_delay_off(array, late)
    order = np.argsort(array["onset_sec"], kind="stable")
    return technique(array[order], tuple(bends[row] for row in order.tolist()), fretless, late[order])


def _what(reached: str, marks: object) -> set[str]:
    names = {"slide": {"slide"}, "hammer-on": {"legato up"}, "pull-off": {"legato down"}}.get(reached, set())
    return names | (set(marks) & {"bend", "vibrato"})


def scores(
    streams: list[Stream], cleaning: Cleaning | None = None, fretless: bool = False, delay: Delay | None = None
) -> tuple[dict[str, float], float]:
    """F1 of each technique (matched by pitch, within 90 ms of the onset plus a low note's delay,
    within 50 ms where the delay is taken off), and the share of plain notes with a false mark.
    """
    hits: dict[str, list[int]] = {}
    plain = false = 0
    later, within = (0.05, 0.09) if delay is None else (0.0, 0.05)
    for one in streams:
        notes = written(one, cleaning, fretless, delay)
        free = set(range(len(notes)))
        for truth in one.truth:
            near = [
                (abs(notes[row].onset_sec - truth.onset_sec - later), row)
                for row in free
                if notes[row].pitch == truth.pitch
            ]
            distance, row = min(near, default=(1.0, -1))
            got = notes[row] if distance < within else None
            free -= {row} if got is not None else set()
            wanted, said = (
                _what(truth.reached, truth.marks),
                _what(got.reached, got.marks) if got is not None else set(),
            )
            for name in wanted | said:
                count = hits.setdefault(name, [0, 0, 0])
                count[0 if name in wanted & said else 1 if name in said else 2] += 1
            if truth.reached == "pluck" and not truth.marks:
                plain += 1
                false += got is not None and (got.reached != "pluck" or bool(got.marks))
    return {name: 2 * a / (2 * a + b + c) for name, (a, b, c) in hits.items()}, false / plain
