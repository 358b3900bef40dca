"""Which take of the shelf is heard, as the window knows it. Pure."""

from dataclasses import dataclass


@dataclass
class HeardTake:
    """``heard`` is the number of the take that is heard now; 0 is none."""

    heard: int = 0
