"""What can go wrong with a shelf, as sentences."""


class ShelfError(Exception):
    """A shelf that cannot be used, or a take that is not there; ``str(error)`` is one full sentence."""

    one_sentence = True
