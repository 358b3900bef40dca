"""What a page over the lanes is: one module for its state and keys (pure), one for its drawing.

A page is opened and closed by the command ``window-NAME`` of the table of commands. While it is
open it gets the keys it names; all others work as usual, so playing goes on. ``pages/__init__``
lists the states, ``pages/drawing`` the drawers.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from loopdeck.protocol.messages import Message
from loopdeck.window.sent import Entry, Sent
from loopdeck.window.view import View


@dataclass
class Reply:
    """What follows from a key: messages to ``sent``, a line to type (``entry``), and a sentence."""

    sent: list[Sent] = field(default_factory=list)
    entry: Entry | None = None
    say: str = ""
    wrong: bool = False
    open: str | None = None
    """The page to open instead, "" for none; None: this one stays."""


class PageState:
    """One page; this one has no keys. Times are seconds on the common monotonic clock."""

    keys: frozenset[str] = frozenset()
    """The keys it takes while it is open, by their names (``Shift+Enter``)."""
    acts: frozenset[str] = frozenset()
    """Commands of the window, beside ``window-NAME``, that are this page's, open or not."""

    takes: frozenset[type[Message]] = frozenset()
    """Messages of the engine that are this page's alone; all others are the view's."""
    shelf: str = ""
    """The path of the session's shelf, "" for the usual one."""

    def receive(self, message: Message) -> None:
        """One of the messages it takes."""

    def opened(self, view: View, now_sec: float) -> Reply:
        """It has been opened."""
        return Reply()

    def closed(self, view: View, now_sec: float) -> Reply:
        """It has been closed."""
        return Reply()

    def press(self, key: str, view: View, now_sec: float) -> Reply:
        """One of its keys, while it is open."""
        return Reply()

    def act(self, name: str, args: Mapping[str, Any], view: View, now_sec: float) -> Reply:
        """One of its commands."""
        return Reply()

    def entered(self, entry: Entry, view: View, now_sec: float) -> Reply | None:
        """A line for it was typed. None: ``entry.wrong`` says what is wrong, and it stays."""
        return Reply()

    def poll(self, view: View, now_sec: float) -> Reply | None:
        """Something has come from a thread of its own since; None: nothing. Asked each frame."""
        return None
