"""What can go wrong with a shelf, as sentences."""

from loopdeck.errors import UserError


class ShelfError(UserError):
    """A shelf that cannot be used, or a take that is not there; ``str(error)`` is one full sentence."""


class DamagedTake(ShelfError):
    """A take's own bytes are not what was written."""
