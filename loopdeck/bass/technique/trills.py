"""Trills: quick hammer-ons and pull-offs between two frets, written as one note.

Method
    At least ``TRILL_MOVES`` alternations, each of the notes no longer than ``TRILL_SEC`` and each
    beginning where the one before it ended. Most of them must have been read as hammered or pulled:
    a pickup that sends new notes lets some of them come nearly as loud as a pluck. Common practice,
    no source.
"""

from loopdeck.bass.technique.reading import HAMMER, PULL, SLIDE, Written, meets

TRILL_MOVES, TRILL_SEC, TRILL_FRETS = 3, 0.2, 5
#: The share of the alternations that must be legato for certain; less where the others may be.
_SURE, _SURE_OF_SOFT = 0.5, 0.3


def trilled(notes: list[Written]) -> list[Written]:
    """The notes of one string in order, with trills as one note each."""
    out: list[Written] = []
    at = 0
    while at < len(notes):
        until = _until(notes, at)
        if until - at >= TRILL_MOVES and _legato(notes[at + 1 : until + 1]):
            out.append(_as_one(notes[at : until + 1]))
        else:
            until = at
            out.append(notes[at])
        at = until + 1
    return out


def _until(notes: list[Written], at: int) -> int:
    """The last note of the alternation that begins at ``at``."""
    until = at
    while until + 1 < len(notes):
        note, following = notes[until], notes[until + 1]
        if not 1 <= abs(following.pitch - note.pitch) <= TRILL_FRETS or following.reached == SLIDE:
            break
        if until > at and following.pitch != notes[until - 1].pitch:
            break
        if note.end_sec - note.onset_sec > TRILL_SEC or not meets(following, note):
            break
        if "dead" in note.marks or "dead" in following.marks:
            break
        until += 1
    return until


def _legato(notes: list[Written]) -> bool:
    sure = sum(note.reached in (HAMMER, PULL) for note in notes)
    maybe = all(note.unsure or note.reached in (HAMMER, PULL) for note in notes)
    return sure > (_SURE_OF_SOFT if maybe else _SURE) * len(notes)


def _as_one(notes: list[Written]) -> Written:
    note = notes[0]
    note.end_sec = notes[-1].end_sec
    note.mark("trill")
    for other in notes[1:]:
        for mark in other.marks:
            note.mark(mark)
        note.raw += [index for index in other.raw if index not in note.raw]
    return note
