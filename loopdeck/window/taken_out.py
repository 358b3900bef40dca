"""What the clean-up of the pickup's errors took out, as the engine tells it. Pure."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from loopdeck.protocol.messages import CleanUpChanged, NoteWithdrawn, RemovedNote

if TYPE_CHECKING:
    from loopdeck.window.view import View


@dataclass
class TakenOut:
    """``parts`` are the parts of the clean-up that are on; ``notes`` the newest of ``count``
    notes.
    """

    count: int = 0
    parts: tuple[str, ...] = ()
    notes: tuple[RemovedNote, ...] = ()
    known: bool = False
    """A pickup is being cleaned up at all."""


def on_withdrawn(view: "View", message: NoteWithdrawn) -> None:
    """A note was an error: it is no more to be seen."""
    view.played.withdraw(message.id)
    view.changed.update(("notes", "before"))


def on_cleaned(view: "View", message: CleanUpChanged) -> None:
    """What is out of view has changed."""
    known = bool(message.parts or message.count) or view.played.taken_out.known
    view.played.taken_out = TakenOut(message.count, message.parts, message.notes, known)
    view.changed.update(("cleaned", "devices"))
