"""What a keep takes away: the raw events of some passes, with everything needed to place them again."""

from dataclasses import dataclass

from loopdeck.brief.brief import Brief
from loopdeck.capture.events import Event
from loopdeck.looper.layers import Layer
from loopdeck.looper.transport import Anchor


@dataclass(frozen=True)
class Keep:
    """A kept stretch of playing.

    ``events`` are raw, their times in seconds from the start of the first kept pass (an early downbeat is below zero).
    ``tempo_map`` has the anchors of the stretch on the same axis: seconds and quarters from the start of the first kept pass.
    ``start_sec`` is that start on the session's clock. ``layers`` stood when it was kept.
    ``late`` is the latency taken off each input for judging, (port, seconds).
    ``run_pass`` and ``first_bar``: how many passes and bars came before the first kept one since the start, on which it depends what click and
    groove played.
    """

    events: tuple[Event, ...]
    brief: Brief
    passes: int
    name: str
    layers: tuple[Layer, ...]
    muted: frozenset[int]
    tempo_map: tuple[Anchor, ...]
    start_sec: float
    end_sec: float
    late: tuple[tuple[int, float], ...] = ()
    run_pass: int = 0
    first_bar: int = 0
