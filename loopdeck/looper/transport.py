"""Where the music is: seconds to quarters and back, through starts, stops and tempo changes.

Conventions
    A position is counted in quarters on one axis that only grows over a session; pass 0 of the
    first start begins at a whole number. An anchor ``(sec, quarter, qpm)`` says that from ``sec``
    on the position is ``quarter + (t - sec) * qpm / 60``. No position is ever summed up step by
    step, so the thousandth click is as exact as the first.
"""

from bisect import bisect_right
from fractions import Fraction
from math import ceil

from loopdeck.rhythm.anchor import Anchor

__all__ = ["Anchor", "Transport"]


class Transport:
    """The anchors of a session, newest last."""

    def __init__(self) -> None:
        self.anchors: list[Anchor] = []
        #: Where time stopped last, and where the first pass since the last start began.
        self.stopped_q = 0.0
        self.run_start_q = Fraction(0)
        #: When time stopped last, and how long it stood before the last start: from when, at which
        #: position, up to which anchor.
        self._stopped_sec = float("-inf")
        self._pause: tuple[float, float, Anchor] | None = None

    @property
    def qpm(self) -> float:
        """The tempo in force; 0.0 before the first start."""
        return self.anchors[-1].qpm if self.anchors else 0.0

    def start(self, sec: float, qpm: float) -> Fraction:
        """Time runs from here: from 0 the first time, later from the second whole quarter after the
        stop. Returns the position.
        """
        quarter = Fraction(ceil(self.stopped_q) + 1 if self.anchors else 0)
        anchor = Anchor(sec, float(quarter), qpm)
        self._pause = (self._stopped_sec, self.stopped_q, anchor) if self.anchors else None
        self.anchors.append(anchor)
        return quarter

    def stop(self, sec: float) -> None:
        """Time stands; the anchors stay, so what was played before can still be placed."""
        self.stopped_q = self.quarter_at(sec)
        self._stopped_sec = sec

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        stopped = (self.stopped_q, self._stopped_sec, self._pause)
        return ([tuple(anchor) for anchor in self.anchors], *stopped, str(self.run_start_q))

    def set_tempo(self, sec: float, qpm: float) -> None:
        """A new tempo from ``sec`` on; the position does not jump."""
        self.anchors.append(Anchor(sec, self.quarter_at(sec), qpm))

    def nudge(self, sec: float, later_sec: float) -> None:
        """From ``sec`` on everything comes ``later_sec`` later (below 0: earlier) than it would
        have.
        """
        self.anchors.append(Anchor(sec, self.quarter_at(sec) - later_sec * self.qpm / 60.0, self.qpm))

    def quarter_at(self, sec: float) -> float:
        """The position at a moment. Before a start its tempo is carried backwards, at most to where
        time had stopped.
        """
        if self._pause is not None and self._pause[0] < sec < self._pause[2].sec:
            _, stopped_q, begun = self._pause
            return max(begun.quarter_at(sec), stopped_q)
        index = max(bisect_right(self.anchors, sec, key=lambda anchor: anchor.sec) - 1, 0)
        return self.anchors[index].quarter_at(sec)

    def sec_at(self, quarter: float) -> float:
        """The moment of a position, by the newest anchor that lies before it; one that was jumped
        over is due where the jump was.
        """
        anchor, later_sec = self.anchors[-1], float("inf")
        for candidate in reversed(self.anchors):
            anchor = candidate
            if candidate.quarter <= quarter:
                break
            later_sec = candidate.sec
        return min(anchor.sec_at(quarter), later_sec)

    def since(self, sec: float) -> tuple[Anchor, ...]:
        """The anchors in force from ``sec`` on, the first of them moved to ``sec`` itself."""
        index = max(bisect_right(self.anchors, sec, key=lambda anchor: anchor.sec) - 1, 0)
        first = self.anchors[index]
        return (Anchor(sec, first.quarter_at(sec), first.qpm), *self.anchors[index + 1 :])

    def forget_before(self, sec: float) -> None:
        """Drop anchors that no moment from ``sec`` on needs."""
        index = bisect_right(self.anchors, sec, key=lambda anchor: anchor.sec) - 1
        if index > 0:
            del self.anchors[:index]
