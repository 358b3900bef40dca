"""What goes wrong between an instrument, a journal or a MIDI file and us."""

from loopdeck.errors import UserError


class CaptureError(UserError):
    """Something could not be read. ``str(error)`` is one whole sentence: what was wrong, where, and what would be right."""
