"""What the window sends to the engine, and the line that is being typed. Pure."""

from dataclasses import dataclass
from typing import Any

from loopdeck.protocol.messages import Command, KeyPlayed, TargetSet

Sent = Command | KeyPlayed | TargetSet


def command(name: str, /, **args: Any) -> list[Sent]:
    """One command, as a list to send."""
    return [Command(name=name, args=args)]


@dataclass
class Entry:
    """A line being typed: ``field`` of the brief, "name" for a keep, or what a ``page`` asks
    for.
    """

    field: str
    text: str = ""
    wrong: str = ""
    """What is wrong with it, once it was sent off."""
    offered: bool = False
    """The text is the value in force: the first letter typed takes its place, Backspace edits
    it."""
    page: str = ""
    """The page of ``pages`` that takes what was typed; "" for the window's own lines."""
    title: str = ""
    """What stands before the line; "" for the name of the field."""
    last: int | None = None
    """The last pass (from 1) of the keep that is named, however long its name is typed; None: the
    newest."""
