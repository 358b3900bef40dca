"""The parts of a Standard MIDI File, and which of them are the bass.

Rule
    A part is a track with notes; in a file with one such track it is a channel, where channels have
    programs or drums of their own (a pickup that sends each string on a channel has not). A bass is
    a part whose name says bass, or whose program is one of the eight basses (General MIDI level 1,
    33 to 40 counted from 1); of parts without either none is taken for it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from loopdeck.capture.events import Event
from loopdeck.errors import UserError

ALL = "all"
DRUMS, _BASSES = 9, range(32, 40)


@dataclass(frozen=True)
class MidiPart:
    """One part: its name, tracks (from 0) and channels (from 0), how many notes, and its programs
    (from 0).
    """

    name: str
    track: int
    channels: frozenset[int]
    notes: int
    programs: frozenset[int]

    @property
    def bass(self) -> bool:
        """Whether it is one."""
        return "bass" in self.name.lower() or any(program in _BASSES for program in self.programs)

    def has(self, event: Event) -> bool:
        """Whether an event belongs to it; what is of no channel belongs to every part."""
        status = event.data[0]
        return status >= 0xF0 or (event.port == self.track and status & 0x0F in self.channels)


def parts_of(of: Sequence[Event], names: Sequence[str] = ()) -> list[MidiPart]:
    """The parts that have notes, in the order of tracks (the ports of the events) and channels;
    ``names``: those of the tracks.
    """
    notes: dict[tuple[int, int], int] = {}
    programs: dict[tuple[int, int], set[int]] = {}
    for event in of:
        kind, place = event.data[0] & 0xF0, (event.port, event.data[0] & 0x0F)
        if kind == 0x90 and event.data[2]:
            notes[place] = notes.get(place, 0) + 1
        elif kind == 0xC0:
            programs.setdefault(place, set()).add(event.data[1])
    tracks = sorted({track for track, _ in notes})
    if len(tracks) == 1 and _apart(notes, programs):
        groups = [[place] for place in sorted(notes)]
    else:
        groups = [[place for place in sorted(notes) if place[0] == track] for track in tracks]
    return [_part(group, names, notes, programs, len(tracks) == 1) for group in groups]


def _apart(notes: Iterable[tuple[int, int]], programs: dict[tuple[int, int], set[int]]) -> bool:
    """Whether the channels of one track are parts of their own."""
    kinds = {frozenset(programs.get(place, ())) for place in notes}
    return len(kinds) > 1 or any(channel == DRUMS for _, channel in notes)


def _part(
    group: Sequence[tuple[int, int]],
    names: Sequence[str],
    notes: dict[tuple[int, int], int],
    programs: dict[tuple[int, int], set[int]],
    alone: bool,
) -> MidiPart:
    track, channel = group[0]
    name = " ".join(names[track].split()) if track < len(names) else ""
    if alone and len(group) == 1 and len(notes) > 1:
        name = f"channel {channel + 1}"
    return MidiPart(
        name or f"track {track + 1}",
        track,
        frozenset(one for _, one in group),
        sum(notes[place] for place in group),
        frozenset(program for place in group if place[1] != DRUMS for program in programs.get(place, ())),
    )


def chosen_parts(parts: Sequence[MidiPart], wanted: str | None, path: str) -> list[MidiPart]:
    """The parts that are meant: by name, number from 1 or ``all``; without a word the basses, or
    all where none is one.

    Raises UserError.
    """
    if wanted is None:
        return [part for part in parts if part.bass] or list(parts)
    if wanted.lower() == ALL:
        return list(parts)
    if wanted.isdecimal() and 1 <= int(wanted) <= len(parts):
        return [parts[int(wanted) - 1]]
    found = [part for part in parts if part.name.lower() == wanted.lower()]
    if not found:
        names = ", ".join(part.name for part in parts[:20]) or "none"
        raise UserError(f"{path} has no part {wanted[:40]!r}; its parts are {names}.")
    return found
