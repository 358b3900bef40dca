"""What the looper tells, as the messages of the protocol."""

from typing import Any

from loopdeck.looper.machine import News
from loopdeck.protocol.messages import (
    BendPoint,
    BriefChanged,
    CleanUpChanged,
    ClockChanged,
    DriftMeasured,
    LayerNote,
    LayerNotes,
    LayerRow,
    LayersChanged,
    Message,
    NoteBent,
    NoteEnded,
    NoteStarted,
    NoteWithdrawn,
    RemovedNote,
    Said,
)

_TYPES: dict[str, type[Message]] = {
    "brief": BriefChanged,
    "clock": ClockChanged,
    "note_on": NoteStarted,
    "note_bend": NoteBent,
    "note_off": NoteEnded,
    "layers": LayersChanged,
    "layer": LayerNotes,
    "say": Said,
    "drift": DriftMeasured,
    "note_withdrawn": NoteWithdrawn,
    "cleaned": CleanUpChanged,
}
#: Words of the looper that the protocol spells otherwise.
_RENAMED = {"pass": "pass_index", "next": "coming"}


def message_of_news(news: News) -> Message:
    """The message for the window. Raises KeyError for news that no window needs (``kept``)."""
    data = _renamed(news.data)
    if news.kind == "brief":
        data = {"fields": news.data}
    elif news.kind == "layers":
        data["layers"] = tuple(LayerRow(**_renamed(row)) for row in news.data["layers"])
    elif news.kind == "layer":
        data["notes"] = tuple(LayerNote(*row)._replace(bend=_bend(row[-1])) for row in news.data["notes"])
    elif news.kind == "cleaned":
        data["notes"] = tuple(RemovedNote(*row) for row in news.data["notes"])
        data["parts"] = tuple(news.data["parts"])
    elif news.kind in ("note_bend", "note_off"):
        data["bend"] = _bend(news.data["bend"])
    return _TYPES[news.kind](time_sec=news.time_sec, **data)


def _bend(rows: list[list[float]]) -> tuple[BendPoint, ...]:
    return tuple(BendPoint(*row) for row in rows)


def _renamed(data: dict[str, Any]) -> dict[str, Any]:
    return {_RENAMED.get(key, key): value for key, value in data.items()}
