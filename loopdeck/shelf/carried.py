"""What a stretch of a take carries over besides its notes: the sound each channel was set to, its
pedals and other controllers, and, from a file, the grid that its notes lie on.

Conventions
    Registered parameters and bends go with the notes (``capture.writing``). Channel mode messages
    end notes, and the notes have their ends.
"""

from collections.abc import Iterable, Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.timing import Feel, place_onsets
from loopdeck.capture.events import Event
from loopdeck.rhythm.grid import Grid, parse_grid
from loopdeck.rhythm.swing import parse_swing
from loopdeck.shelf.material import Material
from loopdeck.shelf.take import IMPORTED

#: Data entry and the numbers of parameters (MIDI 1.0), which go with bends; from 120 on a
#: controller is a mode message.
_PARAMETERS, _FIRST_MODE = frozenset((6, 38, 96, 97, 98, 99, 100, 101)), 120
_HOLDS = frozenset((64, 66, 69))
#: The grids that notes are held against, the plainest first, and the part of a quarter on which all
#: of their places lie.
_GRIDS = (("1/16", 4), ("1/8T", 3), ("1/32", 8), ("1/16T", 6))


def settings_of(
    events: Iterable[Event], channels: set[int], start_sec: float, end_sec: float, first_sec: float = 0.0
) -> list[Event]:
    """Programs and controllers of the channels from ``start_sec`` to ``end_sec``, counted from the
    start: what held there already at ``first_sec`` (where an early first note is), the rest where
    it came. A pedal that is down at the end goes up there. All on the first input.
    """
    before: dict[tuple[int, ...], bytes] = {}
    inside: list[Event] = []
    held: set[tuple[int, int]] = set()
    for event in sorted(events, key=lambda one: one.time_sec):
        key = _key(event.data)
        if key is None or event.data[0] & 15 not in channels or event.time_sec >= end_sec:
            continue
        if event.time_sec <= start_sec:
            # In the order they came: a bank is chosen before its program.
            before.pop(key, None)
            before[key] = event.data
        else:
            inside.append(Event(event.time_sec - start_sec, 0, event.data))
        if len(key) == 2 and key[1] in _HOLDS:
            place = (event.data[0] & 15, key[1])
            held = held | {place} if event.data[2] >= 64 else held - {place}
    ups = [Event(end_sec - start_sec, 0, bytes((0xB0 | channel, which, 0))) for channel, which in sorted(held)]
    return [*(Event(first_sec, 0, data) for data in before.values()), *inside, *ups]


def _key(data: bytes) -> tuple[int, ...] | None:
    """What a message sets; None where it sets nothing that a stretch carries over."""
    kind = data[0] & 0xF0 if data else 0
    if kind == 0xC0 and len(data) == 2:
        return (data[0],)
    if kind == 0xB0 and len(data) == 3 and data[1] not in _PARAMETERS and data[1] < _FIRST_MODE:
        return (data[0], data[1])
    return None


def grid_of(material: Material, chosen: Sequence[int] | NDArray[np.int64] | None = None) -> Grid:
    """The grid of the brief; of a file, which says nothing of one, the plainest that holds the
    ``chosen`` notes (default: all) as they are written, ``auto`` where none does."""
    if material.take.origin != IMPORTED or not len(material):
        return material.brief.grid
    feel = Feel(parse_grid("auto"), parse_swing("straight"))
    written = place_onsets(material.onset_q, material.stretches, feel).written
    return grid_for(written if chosen is None else [written[one] for one in chosen])


def grid_for(written: Iterable[Fraction]) -> Grid:
    """The plainest grid that has all of these places in the bar, in quarters; else ``auto``."""
    parts = np.unique([place.denominator for place in written])
    return parse_grid(next((name for name, part in _GRIDS if all(part % one == 0 for one in parts.tolist())), "auto"))
