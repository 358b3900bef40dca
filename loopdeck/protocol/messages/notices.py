"""Sentences for the player, and questions that wait for an answer."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from loopdeck.protocol.fields import Word
from loopdeck.protocol.messages.message import Message


@dataclass(frozen=True, slots=True, kw_only=True)
class Said(Message):
    """A sentence for the player. ``wrong``: something is not as it should be.

    ``about``: what it speaks of, so that it can go when that is over: ``state`` (the looper's
    state), ``pass`` (this pass), ``tempo`` (this tempo), ``device`` (a port has come or gone), or
    "".
    """

    text: str
    wrong: bool = False
    about: Word = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CommandCall:
    """A command that answers a question."""

    name: Word
    args: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Something that waits for the player's answer; ``accept`` and ``refuse`` are the commands that
    give it. ``key`` tells questions apart.
    """

    key: Word
    text: str
    accept: CommandCall
    refuse: CommandCall


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionsPending(Message):
    """All questions that wait, oldest first."""

    questions: tuple[Question, ...]
