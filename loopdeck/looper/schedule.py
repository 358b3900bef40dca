"""What is still to come: a queue in order of position, and the rule that every note of a layer sounds exactly once a pass.

Conventions
    Positions are quarters on the session's axis. At one position things happen in the order of Order: a note-off before the
    start of a cycle, that before the click, that before the note-ons.
    A note is named by its key (pass, layer id, note id). When the brief or the layers change, all note-ons to come are laid out
    anew; a note that already sounded in its pass is left out, and one that was about to sound and whose new place has just gone
    by sounds at once. So nothing is doubled and nothing dropped.
"""

import heapq
import itertools
from enum import IntEnum
from typing import Any, NamedTuple

import numpy as np

from loopdeck.looper.brief import Brief
from loopdeck.looper.layers import Layer

Key = tuple[int, int, int]


class Order(IntEnum):
    """The order of things at one position."""

    OFF = 0
    BOUNDARY = 1
    FEEL = 2
    LEAD = 3
    CLICK = 4
    BEND = 5
    NOTE = 6


class Item(NamedTuple):
    """One thing to come. ``payload`` depends on the order; ``serial`` breaks ties in order of entry."""

    quarter: float
    order: Order
    serial: int
    payload: Any


class Sounding(NamedTuple):
    """The payload of a NOTE item: which note of which layer, in which pass, and how long."""

    generation: int
    key: Key
    layer: int
    row: int
    duration_q: float


class Schedule:
    """The queue of one looper."""

    def __init__(self) -> None:
        self._heap: list[Item] = []
        self._serial = itertools.count()
        self._generation = 0
        self._waiting: set[Key] = set()
        self._done: set[Key] = set()

    def push(self, quarter: float, order: Order, payload: Any = None) -> None:
        """Enter one item."""
        heapq.heappush(self._heap, Item(quarter, order, next(self._serial), payload))

    def first(self) -> Item | None:
        """The next item, or None; note-ons that were laid out anew since are skipped."""
        while self._heap:
            item = self._heap[0]
            if item.order is Order.NOTE and item.payload.generation != self._generation:
                heapq.heappop(self._heap)
                continue
            return item
        return None

    def pop(self) -> Item:
        """Take the next item out; call ``first`` before."""
        item = heapq.heappop(self._heap)
        if item.order is Order.NOTE:
            self._waiting.discard(item.payload.key)
            self._done.add(item.payload.key)
        return item

    def clear(self) -> None:
        """Nothing is to come any more."""
        self._heap.clear()
        self._waiting.clear()
        self._done.clear()

    def drop(self, order: Order) -> None:
        """Take out all items of one order."""
        self._heap = [item for item in self._heap if item.order is not order]
        heapq.heapify(self._heap)

    def lay_out(
        self,
        now_q: float,
        passes: list[tuple[int, float]],
        layers: list[Layer],
        identities: list[int],
        brief: Brief,
        urgent: frozenset[Key] = frozenset(),
    ) -> None:
        """Lay out the note-ons of ``passes`` (index, start) anew for the layers that stand.

        ``urgent`` names further notes that sound at once when their place has gone by.
        """
        about_to = self._waiting | urgent
        self._generation += 1
        self._waiting = set()
        first = min((index for index, _ in passes), default=0)
        self._done = {key for key in self._done if key[0] >= first}
        for identity, layer in zip(identities, layers, strict=True):
            places = layer.places(brief)
            durations = layer.notes["duration_q"]
            since = layer.notes["first_pass"]
            for index, start_q in passes:
                # Lists are quicker than numpy scalars here, and this runs on the engine's path.
                quarters = (places + start_q).tolist()
                wanted = np.flatnonzero((since <= index) & ~np.isnan(places)).tolist()
                for row in wanted:
                    key = (index, identity, layer.ids[row])
                    if key in self._done:
                        continue
                    quarter = quarters[row]
                    if quarter < now_q:
                        if key not in about_to:
                            continue
                        quarter = now_q
                    self._waiting.add(key)
                    payload = Sounding(self._generation, key, identity, row, float(durations[row]))
                    heapq.heappush(self._heap, Item(quarter, Order.NOTE, next(self._serial), payload))
        if len(self._heap) > 4 * (len(self._waiting) + 256):
            self._heap = [
                i for i in self._heap if i.order is not Order.NOTE or i.payload.generation == self._generation
            ]
            heapq.heapify(self._heap)

    def waiting(self) -> list[tuple[float, int, str]]:
        """What is to come, for the digest: (position, order, payload without its generation)."""
        rows = []
        for item in self._heap:
            payload = item.payload
            if item.order is Order.NOTE:
                if payload.generation != self._generation:
                    continue
                payload = payload[1:]
            rows.append((item.quarter, int(item.order), repr(payload)))
        return sorted(rows)
