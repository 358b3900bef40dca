"""What the engine tells of the shelf: the takes kept in this session, and the one that is heard.
Pure.
"""

from dataclasses import dataclass, replace

from loopdeck.protocol.messages import ShelfChanged, TakeKept

#: So many takes are listed.
MOST = 8


@dataclass
class ShelfNews:
    """``heard`` is the number of the take that is heard now; 0 is none."""

    kept: tuple[TakeKept, ...] = ()
    """The newest first."""
    heard: int = 0

    def receive(self, message: TakeKept | ShelfChanged) -> None:
        """Take in what the engine tells. A take that is kept once more, with another name, moves
        to the front, with the time it was first kept at.
        """
        if isinstance(message, ShelfChanged):
            self.heard = message.heard
        else:
            before = next((old for old in self.kept if old.number == message.number), message)
            message = replace(message, when=before.when)
            self.kept = (message, *(old for old in self.kept if old.number != message.number))[:MOST]
