"""The subdivision grid: how far the slots lie apart inside a group.

Conventions
    ``step`` is the distance of two slots in quarters. A triplet grid puts three where two were:
    ``1/8T`` has three slots a quarter. The grid starts afresh at every group of the meter, so a
    slot always falls on an accent.
"""

from dataclasses import dataclass
from fractions import Fraction

from loopdeck.errors import UserError
from loopdeck.rhythm.errors import quoted

#: The grids by name, with their step in quarters.
STEPS: dict[str, Fraction] = {
    "1/4": Fraction(1),
    "1/8": Fraction(1, 2),
    "1/16": Fraction(1, 4),
    "1/32": Fraction(1, 8),
    "1/8T": Fraction(1, 3),
    "1/16T": Fraction(1, 6),
}


@dataclass(frozen=True)
class Grid:
    """A grid by its ``name``: a key of ``STEPS``, or ``auto``."""

    name: str

    def __post_init__(self) -> None:
        if self.name not in STEPS and self.name != "auto":
            raise UserError(f"There is no grid {quoted(self.name)}; there are {', '.join(STEPS)} and auto.")

    @property
    def step(self) -> Fraction | None:
        """The distance of two slots in quarters; None for auto."""
        return STEPS.get(self.name)

    @property
    def triplet(self) -> bool:
        """Whether slots lie in threes; such a grid is never swung."""
        return self.name.endswith("T")

    @property
    def auto(self) -> bool:
        """Whether analysis chooses the grid beat by beat."""
        return self.name == "auto"

    def __str__(self) -> str:
        return self.name


def parse_grid(text: str) -> Grid:
    """``1/4 1/8 1/16 1/32 1/8T 1/16T`` or ``auto``. Raises UserError."""
    word = text.strip()
    return Grid(word.lower() if word.lower() == "auto" else word.upper())
