"""The error of this room: a wrong meter, tempo, grid or swing, said in one sentence."""

from loopdeck.errors import UserError


class RhythmError(UserError):
    """What was wrong, where, and what would be right; ``str(error)`` is one full sentence."""


def quoted(text: str, longest: int = 40) -> str:
    """The text as it stands in a sentence: in quotes, on one line, cut when it is long."""
    return repr(text if len(text) <= longest else text[:longest] + "...")
