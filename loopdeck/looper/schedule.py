"""What is still to come: a queue in order of position, and the rule that every note of a layer
sounds exactly once a pass.

Conventions
    Positions are quarters on the session's axis. At one position things happen in the order of
    Rank: a note-off before the start of a cycle, that before the click, that before the note-ons.
    The note-ons of one layer in one pass are a LayerPass: sorted once, of which only the next note
    stands in the queue. Laying out a layer costs a few numpy calls, so it can be done on the
    engine's path at the very moment a foot or a beat asks for it. When the brief or the layers
    change, they are laid out anew; a note that already sounded in its pass is left out, and one
    that was about to sound and whose new place has just gone by sounds at once. So nothing is
    doubled and nothing dropped.
"""

import heapq
import itertools
from collections.abc import Collection
from enum import IntEnum
from typing import Any, NamedTuple

import numpy as np

from loopdeck.brief.brief import Brief
from loopdeck.looper.layers import Layer


class Rank(IntEnum):
    """What comes first at one position."""

    OFF = 0
    BOUNDARY = 1
    BEAT = 2
    LEAD = 3
    CLICK = 4
    BEND = 5
    NOTE = 6


class Item(NamedTuple):
    """One thing to come.

    ``payload`` depends on the rank (a NOTE has its LayerPass); ``serial`` breaks ties in order of
    entry.
    """

    quarter: float
    rank: Rank
    serial: int
    payload: Any


class LayerPass:
    """The note-ons of one layer in one pass that are still to come, in order; ``at`` points at the
    next one.

    ``layer`` is the layer as it was when it was laid out, and ``rows`` are its rows.
    """

    __slots__ = ("at", "dead", "identity", "layer", "pass_index", "quarters", "rows")

    def __init__(self, pass_index: int, identity: int, layer: Layer, quarters: list[float], rows: list[int]) -> None:
        self.pass_index = pass_index
        self.identity = identity
        self.layer = layer
        self.quarters = quarters
        self.rows = rows
        self.at = 0
        self.dead = False

    def place_of(self, row: int) -> float | None:
        """Where a row is still to come; None where it is not."""
        for place in range(self.at, len(self.rows)):
            if self.rows[place] == row:
                return self.quarters[place]
        return None


class Schedule:
    """The queue of one looper. A layer is named by its id, a note by its id in the layer."""

    def __init__(self) -> None:
        self._heap: list[Item] = []
        self._serial = itertools.count()
        self._tracks: dict[tuple[int, int], LayerPass] = {}
        self._done: dict[tuple[int, int], set[int]] = {}

    def push(self, quarter: float, rank: Rank, payload: Any = None) -> None:
        """Enter one item."""
        heapq.heappush(self._heap, Item(quarter, rank, next(self._serial), payload))

    def first(self) -> Item | None:
        """The next item, or None."""
        while self._heap:
            item = self._heap[0]
            if item.rank is Rank.NOTE and item.payload.dead:
                heapq.heappop(self._heap)
                continue
            return item
        return None

    def pop(self) -> tuple[Item, int]:
        """Take the next item out (call ``first`` before); with it, for a NOTE, the row of the layer
        that sounds.
        """
        item = heapq.heappop(self._heap)
        if item.rank is not Rank.NOTE:
            return item, -1
        track = item.payload
        row = track.rows[track.at]
        self._done.setdefault((track.pass_index, track.identity), set()).add(track.layer.ids[row])
        track.at += 1
        self._queue(track)
        return item, row

    def clear(self) -> None:
        """Forget everything that is to come."""
        self._heap.clear()
        self._tracks.clear()
        self._done.clear()

    def drop(self, rank: Rank) -> None:
        """Take out all items of one rank (not NOTE)."""
        self._heap = [item for item in self._heap if item.rank is not rank]
        heapq.heapify(self._heap)

    def forget_before(self, pass_index: int) -> None:
        """What sounded in earlier passes is of no interest any more; what is still to come of them
        stays to come.
        """
        self._done = {key: ids for key, ids in self._done.items() if key[0] >= pass_index - 1}
        over = [key for key, track in self._tracks.items() if key[0] < pass_index and track.at >= len(track.rows)]
        for key in over:
            del self._tracks[key]

    def keep_only(self, active: Collection[int]) -> None:
        """Forget what is to come of layers that are no longer active."""
        for key in [key for key in self._tracks if key[1] not in active]:
            self._tracks.pop(key).dead = True

    def lay_out(
        self,
        now_q: float,
        pass_index: int,
        start_q: float,
        identity: int,
        layer: Layer,
        brief: Brief,
        urgent: Collection[int] = (),
    ) -> None:
        """Lay out one layer in one pass, anew if it was laid out before.

        ``urgent`` are notes (ids) that sound at once when their place has gone by, as those do that
        were about to sound anyway.
        """
        key = (pass_index, identity)
        ids = layer.ids
        old = self._tracks.pop(key, None)
        about_to = set(urgent)
        if old is not None:
            old.dead = True
            about_to.update(old.layer.ids[row] for row in old.rows[old.at :])
        places = layer.places(brief) + start_q
        wanted = (layer.notes["first_pass"] <= pass_index) & ~np.isnan(places)
        done = self._done.get(key)
        if done:
            wanted &= np.array([one not in done for one in ids], bool)
        gone_by = wanted & (places < now_q)
        if gone_by.any():
            wanted &= ~gone_by | np.array([one in about_to for one in ids], bool)
            places = np.maximum(places, now_q)
        rows = np.flatnonzero(wanted)
        rows = rows[np.argsort(places[rows], kind="stable")]
        track = LayerPass(pass_index, identity, layer, places[rows].tolist(), rows.tolist())
        self._tracks[key] = track
        self._queue(track)

    def _queue(self, track: LayerPass) -> None:
        if track.at < len(track.rows):
            self.push(track.quarters[track.at], Rank.NOTE, track)

    def waiting(self) -> list[tuple[float, int, str]]:
        """What is to come, for the digest: (position, rank, what it is)."""
        rows = [(item.quarter, int(item.rank), repr(item.payload)) for item in self._heap if item.rank is not Rank.NOTE]
        for (pass_index, layer), track in self._tracks.items():
            for quarter, row in zip(track.quarters[track.at :], track.rows[track.at :], strict=True):
                rows.append((quarter, int(Rank.NOTE), repr((pass_index, layer, row))))
        return sorted(rows)
