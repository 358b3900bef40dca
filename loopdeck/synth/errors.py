"""What goes wrong when something is asked of the built-in sound that it cannot do."""

from loopdeck.errors import UserError


class SoundError(UserError):
    """A part, level, rate or file that cannot be. ``str(error)`` is one whole sentence: what was wrong, where, what would be right."""
