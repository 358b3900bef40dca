"""What tells one keep of a session from another: the same when the same passes are kept again, and
when the journal is played through again.
"""

from loopdeck.looper.keep import Keep


def keep_identity(keep: Keep) -> str:
    """The keep's own identity, when its stretch began, and how many notes it has.

    A journal that lost its end with the machine may come to the same passes a second time, but not
    at the same moment. A note may arrive a little after the end of the pass in which it was played:
    kept again then, the passes are another take, and nothing is left out.
    """
    notes = sum(event.data[0] & 0xF0 == 0x90 and event.data[2] > 0 for event in keep.events if len(event.data) == 3)
    return f"{keep.identity}, from {keep.start_sec!r}, {notes} notes"
