"""How the notes on the lanes were played, read again whenever one of them begins or ends: at once,
or, beside a window that draws, between two of its frames.

Conventions: ids and times as in the messages; a pass is read string by string, and only the newest
``WINDOW`` notes of the string that changed, so that a reading costs little. A note that is still
held counts as held for a while. Pure.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from loopdeck.bass.technique.finding import technique
from loopdeck.bass.technique.reading import PLUCK, SLIDE, Written
from loopdeck.capture.notes import NOTE_DTYPE, STRAIGHT_BEND
from loopdeck.theory.tuning import FRETS

if TYPE_CHECKING:
    from loopdeck.window.note_view import NoteView
    from loopdeck.window.played import PlayedNotes
    from loopdeck.window.view import View

WINDOW = 10
_HELD_SEC = 0.3
#: A fret on the way of a slide, which is not a note of its own.
ON_THE_WAY = "way"
#: The mark of a note that a slide reached although it was plucked.
SLID = "slide-from"


class HowPlayed(NamedTuple):
    """``reached`` and ``marks`` as technique names them; ``source``: the note it goes on from, by
    its id (that of a layer's note is below 0), None for a plucked one. ``then``: how the same note
    went on, where its bend tells.
    """

    reached: str
    marks: frozenset[str] = frozenset()
    source: int | None = None
    then: tuple[str, ...] = ()
    unsure: bool = False
    """The pickup cannot tell it for sure."""


PLUCKED = HowPlayed(PLUCK)


def is_on_the_way(how: HowPlayed | None) -> bool:
    """True for a fret that a slide only passes."""
    return how is not None and how.reached == ON_THE_WAY


def read_again(played: "PlayedNotes", changed: "NoteView") -> None:
    """Read the newest notes of a string anew, or note that they are to be read."""
    if not played.reads_later:
        _read(played, [changed])
        return
    played.how.setdefault(changed.id, PLUCKED)
    played.unread.setdefault((changed.string, changed.pass_index < 0), {})[changed.id] = changed


def catch_up(view: "View") -> None:
    """Read what is to be read, and note whether anything looks otherwise by it."""
    played = view.played
    unread = list(played.unread.values())
    played.unread.clear()
    # Each of them, whatever the first ones bring.
    if any([_read(played, list(changed.values())) for changed in unread]):
        view.changed.update(("notes", "before"))


def _read(played: "PlayedNotes", changed: "Sequence[NoteView]") -> bool:
    """Read the newest notes of the string on which these have changed, as many more as there are
    of them: a window that comes later is told of whole passes at once. True when a note was
    played otherwise than it was read before, or lies elsewhere.
    """
    newest = max(note.pass_index for note in changed)
    passes = (newest - 1, newest) if newest > 0 else (newest,)
    string = [note for one in passes for note in played.by_pass.get(one, ()) if note.string == changed[0].string]
    string.sort(key=lambda note: note.stamp_sec)
    rows = string[-(WINDOW + len(changed) - 1) :]
    found = how_played(rows, played.qpm)
    # The oldest of them may have a neighbour that is not looked at any more.
    first = 1 if len(string) > len(rows) else 0
    otherwise = False
    for note in rows[first:]:
        how = found.get(note.id, PLUCKED)
        otherwise |= how != played.how.get(note.id, PLUCKED)
        played.how[note.id] = how
    return put_on_one_string(played, rows[first:]) or otherwise


def put_on_one_string(played: "PlayedNotes", notes: "Iterable[NoteView]") -> bool:
    """A slide ends on the string on which it began, wherever its goal would be by itself; and it
    cannot begin on an open string. ``notes`` are in order of time. A note whose string is known, or
    that lies on a lane of pitches, stays. True when one has moved.
    """
    moved = False
    for note in notes if played.on_strings else ():
        how = played.how.get(note.id, PLUCKED)
        source = played.find(how.source) if how.source is not None else None
        if source is None or not (how.reached == SLIDE or SLID in how.marks):
            continue
        if not note.string and source.fret:
            moved |= _move(note, source)
        if not source.string and note.lane != source.lane:
            moved |= _move(source, note)
    return moved


def _move(note: "NoteView", to: "NoteView") -> bool:
    """To the string of another note, if it has a fret there; True when it was elsewhere."""
    fret = to.fret + note.pitch - to.pitch if to.fret is not None else -1
    if note.lane == to.lane or not 0 < fret <= FRETS:
        return False
    note.lane, note.fret = to.lane, fret
    return True


def how_in_layer(marks: "Iterable[NoteView]", qpm: float) -> dict[int, HowPlayed]:
    """The technique of a layer's notes, by their ids in the layer; ``qpm`` is taken to be the tempo
    they were played at.
    """
    strings: dict[int, list[NoteView]] = {}
    for mark in marks:
        strings.setdefault(mark.string, []).append(replace(mark, stamp_sec=mark.slot_q * 60.0 / qpm))
    found: dict[int, HowPlayed] = {}
    for notes in strings.values():
        found |= how_played(notes, qpm)
    return found


def how_played(notes: "Iterable[NoteView]", qpm: float) -> dict[int, HowPlayed]:
    """The technique of the notes of one string, in order of time, by their ids."""
    rows = list(notes)
    array = np.zeros(len(rows), NOTE_DTYPE)
    bends = []
    sec = 60.0 / qpm
    for row, note in enumerate(rows):
        lasts = _HELD_SEC if note.length_q is None else note.length_q * sec
        array[row] = (note.stamp_sec, lasts, note.pitch, note.velocity, 0, note.string)
        bends.append(np.array(note.bend) * np.array([sec, 1.0]) if note.bend else STRAIGHT_BEND)
    found: dict[int, HowPlayed] = {}
    last: int | None = None
    for one in technique(array, tuple(bends)):
        last = _enter(found, one, [rows[row] for row in one.raw], last)
    return found


def _enter(found: dict[int, HowPlayed], one: Written, made_of: "list[NoteView]", last: int | None) -> int:
    """Put a written note into ``found``; returns the id of the note it ends with."""
    ids = [note.id for note in made_of]
    if ids[0] in found:
        # The bend of one note tells of several.
        first = found[ids[0]]
        found[ids[0]] = first._replace(then=(*first.then, one.reached), marks=first.marks | set(one.marks))
        return ids[-1]
    goal = ids[-1] if one.reached != PLUCK or SLID in one.marks else ids[0]
    for note_id in ids:
        found[note_id] = HowPlayed(ON_THE_WAY)
    source = last if one.reached != PLUCK else ids[0] if goal != ids[0] else None
    found[goal] = HowPlayed(one.reached, frozenset(one.marks), source, unsure=one.unsure)
    return ids[-1]
