"""The error of this room: a wrong meter, tempo, grid or swing, said in one sentence."""


class RhythmError(ValueError):
    """What was wrong, where, and what would be right; ``str(error)`` is one full sentence."""

    one_sentence = True


def quoted(text: str, longest: int = 40) -> str:
    """The text as it stands in a sentence: in quotes, on one line, cut when it is long."""
    return repr(text if len(text) <= longest else text[:longest] + "...")
