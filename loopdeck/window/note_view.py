"""A note as it is drawn: its lane, name, degree, whether it left the scale, and whether its being
early or late is heard.

Conventions: positions in quarters from the start of the note's own pass (a little below zero for an
early downbeat), offsets in milliseconds, early negative; MIDI pitches; lanes count from 0 at the
top. Pure.

What is heard follows Friberg & Sundberg, "Time discrimination in a monotonic, isochronous
sequence", JASA 98, 1995: a displaced tone is just noticed at 6 ms where tones follow each other
faster than every 240 ms, at 2.5 % of the interval above that. The interval taken here is from the
tone before it in the pass, at most one beat, since the click sounds on every beat.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from loopdeck.brief.brief import Brief
from loopdeck.theory.pitch import pitch_name
from loopdeck.theory.tuning import Tuning
from loopdeck.window.gesture import Curve
from loopdeck.window.position import chord_lanes, fret_of, lane_of
from loopdeck.window.spelling import pretty_degree, pretty_note

# Two notes closer than this are a chord and need a lane each (common practice, no source).
CHORD_Q = 0.06
#: What may be biggest on a note, in the order the key turns them.
BIGGEST = ("fret", "name", "degree")


class Spelling(NamedTuple):
    """What a note is called in the scale. Without a scale ``degree`` is "" and nothing is
    outside.
    """

    name: str = ""
    degree: str = ""
    root: bool = False
    outside: bool = False


UNSPELLED = Spelling()


@dataclass(slots=True)
class NoteView:
    """One note on the screen. ``length_q`` is None while it sounds."""

    id: int
    pass_index: int
    at_q: float
    slot_q: float
    pitch: int
    velocity: int
    string: int
    stamp_sec: float
    length_q: float | None = None
    bend: Curve = ()
    lane: int = 0
    fret: int | None = None
    spelling: Spelling = UNSPELLED
    offset_ms: float = 0.0
    heard: str = ""
    """"early", "late", or "" where nobody would hear it."""

    @property
    def end_q(self) -> float | None:
        return None if self.length_q is None else self.at_q + self.length_q


def just_noticed_ms(interval_ms: float) -> float:
    """The smallest displacement that is heard where tones are ``interval_ms`` apart (see the
    module's text).
    """
    return 6.0 if interval_ms <= 240.0 else 0.025 * interval_ms


def spelled(pitch: int, brief: Brief | None) -> Spelling:
    """A pitch by the brief's scale; without a scale nothing is judged."""
    scale = brief.scale if brief is not None else None
    if scale is None:
        return Spelling(pretty_note(pitch_name(pitch)))
    outside = pitch % 12 not in scale.pitch_classes
    return Spelling(
        name=pretty_note(scale.spell(pitch)),
        degree=pretty_degree(scale.degree(pitch)) + ("?" if outside else ""),
        root=pitch % 12 == scale.root.pitch_class,
        outside=outside,
    )


def time(mark: NoteView, others: Sequence[NoteView], qpm: float, beat_q: float) -> None:
    """Set how early or late the note is, against the slot it belongs to, and whether that is
    heard. ``others`` are the notes of the same pass before it; a note of free playing (pass
    below 0) is not judged.
    """
    if mark.pass_index < 0:
        mark.offset_ms, mark.heard = 0.0, ""
        return
    ms = 60_000 / qpm
    mark.offset_ms = (mark.at_q - mark.slot_q) * ms
    before = max((other.slot_q for other in others if other.slot_q < mark.slot_q), default=mark.slot_q - beat_q)
    interval = min(mark.slot_q - before, beat_q) * ms
    noticed = abs(mark.offset_ms) > just_noticed_ms(interval)
    mark.heard = "" if not noticed else "early" if mark.offset_ms < 0 else "late"


def lay(mark: NoteView, others: Collection[NoteView], lanes: "Lanes", tuning: Tuning | None, string: int = 0) -> None:
    """Set lane and fret. ``others`` are the notes around it: those that sound together with it are
    given other strings. ``string``: where a hand would play it; 0: as the note itself says.
    """
    string = string or mark.string
    if lanes.kind == "pitches" or tuning is None:
        mark.lane = lanes.classes.index(mark.pitch % 12)
        string = string if tuning is not None and 1 <= string <= len(tuning.strings) else 0
        lane = lane_of(mark.pitch, string, (), tuning) if tuning is not None else 0
        mark.fret = fret_of(mark.pitch, lane, tuning) if tuning is not None else None
        return
    struck = _struck(mark, others)
    if len(struck) > 1 and not string and _lay_chord(struck, tuning):
        return
    mark.lane = lane_of(mark.pitch, string, {other.lane for other in others if together(other, mark)}, tuning)
    mark.fret = fret_of(mark.pitch, mark.lane, tuning)


def _struck(mark: NoteView, others: Collection[NoteView]) -> list[NoteView]:
    """The note and those struck together with it, or with one of them: a strum takes its time."""
    struck = [mark]
    for other in reversed(list(others)):
        if all(other.pitch != one.pitch for one in struck) and any(together(other, one) for one in struck):
            struck.append(other)
    return struck


def _lay_chord(struck: list[NoteView], tuning: Tuning) -> bool:
    """Set lane and fret of notes struck together, none of which names its string; False where a
    hand cannot reach them.
    """
    struck.sort(key=lambda one: one.pitch)
    pitches = [one.pitch for one in struck]
    found = None if any(one.string for one in struck) else chord_lanes(pitches, tuning)
    if found is None:
        return False
    for one, lane in zip(struck, found, strict=True):
        one.lane, one.fret = lane, fret_of(one.pitch, lane, tuning)
    return True


def together(other: NoteView, mark: NoteView) -> bool:
    """Two notes of different pitch that begin together."""
    if other.id == mark.id or other.pitch == mark.pitch:
        return False
    if other.pass_index < 0:
        return abs(other.stamp_sec - mark.stamp_sec) < 0.03
    return abs(other.at_q - mark.at_q) < CHORD_Q


@dataclass(frozen=True)
class Lanes:
    """The lanes shown: their labels from the top, and whether they are strings or pitch classes."""

    kind: str
    """"strings" or "pitches"."""
    labels: tuple[str, ...]
    classes: tuple[int, ...] = ()
    """For pitches: the pitch class of each lane, from the top."""


def lanes_of(brief: Brief | None, kind: str) -> Lanes:
    """A lane for every string of the tuning, or for every pitch class from the scale's root (C
    without a scale) upwards.
    """
    if kind == "strings" and brief is not None:
        tuning = brief.tuning
        names = tuple(pretty_note(tuning.name_of(one + 1)) for one in range(len(tuning.strings)))
        return Lanes("strings", names)
    scale = brief.scale if brief is not None else None
    root = scale.root.pitch_class if scale is not None else 0
    classes = tuple((root + step) % 12 for step in range(11, -1, -1))

    def label(pitch_class: int) -> str:
        if scale is None:
            return pretty_note(pitch_name(60 + pitch_class))
        return pretty_note(scale.spell(60 + pitch_class)) if pitch_class in scale.pitch_classes else ""

    return Lanes("pitches", tuple(label(one) for one in classes), classes)
