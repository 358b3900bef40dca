"""Which take of the shelf is heard, as the window knows it. Pure."""

from dataclasses import dataclass


@dataclass
class HeardTake:
    """``heard`` is the number of the take that is heard now; 0 is none."""

    heard: int = 0

    def hear_nothing(self) -> None:
        """No engine is there that lets a take be heard."""
        self.heard = 0
