"""What the looper tells, as the messages of the protocol."""

from typing import Any

from loopdeck.looper.machine import News
from loopdeck.protocol.messages import (
    BriefChanged,
    ClockChanged,
    DriftMeasured,
    LayerNote,
    LayerNotes,
    LayerRow,
    LayersChanged,
    Message,
    NoteEnded,
    NoteStarted,
    Said,
)

_TYPES: dict[str, type[Message]] = {
    "brief": BriefChanged,
    "clock": ClockChanged,
    "note_on": NoteStarted,
    "note_off": NoteEnded,
    "layers": LayersChanged,
    "layer": LayerNotes,
    "say": Said,
    "drift": DriftMeasured,
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
        data["notes"] = tuple(LayerNote(*row) for row in news.data["notes"])
    return _TYPES[news.kind](time_sec=news.time_sec, **data)


def _renamed(data: dict[str, Any]) -> dict[str, Any]:
    return {_RENAMED.get(key, key): value for key, value in data.items()}
