"""A recording: a stretch of playing with everything needed to place, judge and hear it again.

A keep and a take are recordings that know more (what they are called, when they were made). What
belongs to the playing itself stands here, and only here: a new field that JSON can hold is on the
shelf, too, without a further word.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from fractions import Fraction
from typing import Any

from loopdeck.brief.brief import Brief
from loopdeck.capture.events import Event
from loopdeck.looper.layers import Layer
from loopdeck.looper.transport import Anchor
from loopdeck.rhythm.meter import Meter


@dataclass(frozen=True, kw_only=True)
class Recording:
    """What was played.

    ``events`` are raw as they arrived, their times in seconds from the start of the first pass (an
    early downbeat is below zero). ``tempo_map`` has anchors on the same axis, in seconds and
    quarters. ``end_sec``: where the last pass ended. ``layers`` stood then, and ``muted`` has the
    numbers of those that were silent. ``late`` is the latency taken off each input (port) for
    judging, in seconds. ``meters`` and ``key`` are those of an imported file: (quarter, meter)
    where each begins; sharps, or flats below 0, and whether it is minor. ``mix`` is how loud the
    parts of the built-in sound were, where not at 0 dB and heard: (dB, muted) by the mixer's names.
    ``run_pass`` and ``first_bar``: how many passes and bars of the run came before, on which it
    depends what click and groove played. ``first_pass``: the session's number of the first pass, by
    which layers say in which pass they were played; None when it is not known. ``views``: how it is
    to be seen (``looper.heard.Views``), as one line of JSON.
    """

    brief: Brief
    events: tuple[Event, ...]
    layers: tuple[Layer, ...] = ()
    muted: frozenset[int] = frozenset()
    tempo_map: tuple[Anchor, ...] = ()
    passes: int = 0
    end_sec: float = 0.0
    late: Mapping[int, float] = field(default_factory=dict)
    meters: tuple[tuple[Fraction, Meter], ...] = ()
    key: tuple[int, bool] | None = None
    mix: Mapping[str, tuple[float, bool]] = field(default_factory=dict)
    run_pass: int = 0
    first_bar: int = 0
    first_pass: int | None = None
    views: str = ""


RECORDED = tuple(one.name for one in fields(Recording))


def recorded(what: Recording) -> dict[str, Any]:
    """The fields of a recording by name, of a keep or take without what it knows more."""
    return {name: getattr(what, name) for name in RECORDED}
