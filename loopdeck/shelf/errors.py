"""What can go wrong with a shelf, as sentences."""


class ShelfError(ValueError):
    """A shelf that cannot be used, or a take that is not there; ``str(error)`` is one full sentence."""

    one_sentence = True


class DamagedTake(ShelfError):
    """A take's own bytes are not what was written."""
