"""What can go wrong with a shelf, as sentences."""

from loopdeck.errors import UserError


class DamagedTake(UserError):
    """A take's own bytes are not what was written."""
