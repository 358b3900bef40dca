"""How well the techniques of a simulated stream are read: F1 by technique, and false marks on plain
notes.
"""

from loopdeck.bass.pickup.cleaning import clean
from loopdeck.bass.pickup.profile import Cleaning
from loopdeck.bass.technique.finding import technique
from loopdeck.bass.technique.reading import Written
from loopdeck.capture.events import Event
from loopdeck.capture.whole import pair
from tests.simulators.pickup import Stream


def written(found: Stream, cleaning: Cleaning | None = None, fretless: bool = False) -> list[Written]:
    """What the reader makes of a stream."""
    notes = pair([Event(sec, 0, data) for sec, data in found.events], found.events[-1][0] + 1)
    array, bends = notes.array, notes.bends
    if cleaning is not None:
        cleaned = clean(array, bends, cleaning)
        array, bends = cleaned.notes, cleaned.bends
    return technique(array, bends, fretless)


def _what(reached: str, marks: object) -> set[str]:
    names = {"slide": {"slide"}, "hammer-on": {"legato up"}, "pull-off": {"legato down"}}.get(reached, set())
    return names | (set(marks) & {"bend", "vibrato"})


def scores(
    streams: list[Stream], cleaning: Cleaning | None = None, fretless: bool = False
) -> tuple[dict[str, float], float]:
    """F1 of each technique (matched by pitch, within 90 ms of the onset plus a low note's delay),
    and the share of plain notes with a false mark.
    """
    hits: dict[str, list[int]] = {}
    plain = false = 0
    for one in streams:
        notes = written(one, cleaning, fretless)
        free = set(range(len(notes)))
        for truth in one.truth:
            near = [
                (abs(notes[row].onset_sec - truth.onset_sec - 0.05), row)
                for row in free
                if notes[row].pitch == truth.pitch
            ]
            distance, row = min(near, default=(1.0, -1))
            got = notes[row] if distance < 0.09 else None
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
