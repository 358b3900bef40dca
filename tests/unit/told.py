"""Messages for tests, from the short words they are called by and plain values."""

from typing import Any

from loopdeck.looper.machine import News
from loopdeck.protocol import messages
from loopdeck.protocol.messages import Message, message_from
from loopdeck.session.news import message_of_news

_OTHERS = {
    "devices": messages.DevicesChanged,
    "kept": messages.TakeKept,
    "levels": messages.MixerChanged,
    "questions": messages.QuestionsPending,
}


def message(kind: str, time_sec: float = 0.0, /, **data: Any) -> Message:
    """A message; ``kind`` is one of the looper's news, or devices, kept, levels, questions, hello."""
    if kind == "hello":
        return messages.Welcome(time_sec=time_sec, protocol=messages.PROTOCOL, version="0", pid=1)
    if kind in _OTHERS:
        return message_from(_OTHERS[kind], {"time_sec": time_sec, **data})
    return message_of_news(News(kind, time_sec, data))


def question(text: str) -> dict[str, Any]:
    """A question with the answers ``recover`` and ``dismiss``."""
    return {"key": "lost", "text": text, "accept": {"name": "recover"}, "refuse": {"name": "dismiss"}}
