"""What goes wrong between an instrument, a journal or a MIDI file and us."""


class CaptureError(ValueError):
    """Something could not be read. ``str(error)`` is one whole sentence: what was wrong, where, and what would be right."""

    one_sentence = True
