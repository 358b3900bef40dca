"""What tells one keep of a session from another: the same when the same passes are kept again, and when the journal is played through again."""

from loopdeck.looper.keep import Keep


def keep_identity(keep: Keep) -> str:
    """The keep's own identity and when its stretch began.

    A journal that lost its end with the machine may come to the same passes a second time, but not at the same moment.
    """
    return f"{keep.identity}, from {keep.start_sec!r}"
