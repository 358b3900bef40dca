"""Words of a sentence of error."""


def quoted(text: str, longest: int = 40) -> str:
    """The text as it stands in a sentence: in quotes, on one line, cut when it is long."""
    return repr(text if len(text) <= longest else text[:longest] + "...")
