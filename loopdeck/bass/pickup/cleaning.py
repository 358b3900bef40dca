"""Clean-up: what a pickup got wrong, taken out of view. The raw notes stay; every removal names its
reason and can be undone.

Rules, each switched and adjusted by the profile (common practice, no source; tried on simulated
pickups)
    octaves: a short note an octave (or two, or an octave and a fifth) off the one that sounds on at
    its side. doubles: a second note-on of the same pitch on the same string within a few hundredths
    of a second. ghosts: a note both short and soft, or so faint that nobody played it: sympathetic
    strings, chatter. noise: the same between two notes of its string that the hand moves between by
    ``_SHIFT`` frets or more. chopped: a note that a bend cut in two because the pickup's
    bend range ended: both halves are one note again.
"""

from bisect import bisect_right
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.pickup.profile import Cleaning
from loopdeck.bass.technique.curve import own_bends
from loopdeck.bass.technique.reading import OVERLAP_SEC

OCTAVES = frozenset({12, 19, 24, -12, -19, -24})
_GAP_SEC = 0.016
#: A note on the way of a slide is shorter than this.
_QUICK_SEC = 0.09
#: A hand that moves on a string: so many frets within so long (common practice, no source).
_SHIFT, _MOVE_SEC = 3, 0.6
#: The bend at which a pickup gives up on a note and begins another one, in semitones at least.
_CHOP = 0.6
#: How far it may jump there while the pitch is on the move: so many semitones within
#: ``_MOVING_SEC`` before, which is as long as a sliding finger stays on a fret.
_MOVED, _JUMP, _MOVING_SEC = 0.4, 5.0, 0.09
#: Within so long where the bend could have told of it: elsewhere on the channel it reached as far.
_IN_REACH_SEC, _REACH = 0.03, 0.1
#: A pickup's levels along a slide are rough; above this share of the pluck it was plucked again.
_LOUDER = 1.12


class Removed(NamedTuple):
    """A raw note (by its number) that is not shown, and why: ``octave``, ``double``, ``ghost``,
    ``noise``, ``chopped``.
    """

    note: int
    why: str


@dataclass(frozen=True)
class Cleaned:
    """``notes`` and ``bends`` of what is left; ``raw[i]`` are the numbers of the raw notes that
    note i is made of.
    """

    notes: NDArray[np.void]
    bends: tuple[NDArray[np.float64], ...]
    raw: tuple[tuple[int, ...], ...]
    removed: tuple[Removed, ...]


def clean(
    notes: NDArray[np.void],
    bends: tuple[NDArray[np.float64], ...],
    cleaning: Cleaning,
    bring_back: frozenset[int] = frozenset(),
) -> Cleaned:
    """The notes (NOTE_DTYPE, (n,), in order of onset) without the pickup's errors; those in
    ``bring_back`` stay whatever they look like.
    """
    usual = float(np.median(notes["velocity"])) if len(notes) else 0.0
    why = {index: reason for index, reason in reasons(notes, cleaning, usual).items() if index not in bring_back}
    left = [index for index in range(len(notes)) if index not in why]
    bends = own_bends(notes, bends)
    joins = _chopped(notes, bends, left) if cleaning.chopped else {}
    joins = {late: early for late, early in joins.items() if late not in bring_back}
    return _made(*_begun(notes, bends, left, why), left, joins, why)


def reasons(notes: NDArray[np.void], cleaning: Cleaning, usual: float) -> dict[int, str]:
    """Which notes are errors by the rules that look at single notes, and why; ``usual`` is the
    level notes have here.
    """
    why: dict[int, str] = {}
    for on, rule in ((cleaning.octaves, _octaves), (cleaning.doubles, _doubles)):
        if on:
            for index in rule(notes, cleaning, usual, set(why)):
                why.setdefault(index, rule.__name__.strip("_").rstrip("s"))
    if cleaning.ghosts or cleaning.noise:
        for index in _ghosts(notes, cleaning, usual, set(why)):
            noise = _between_places(notes, index)
            if index not in why and (cleaning.noise if noise else cleaning.ghosts):
                why[index] = "noise" if noise else "ghost"
    return why


def _between_places(notes: NDArray[np.void], index: int) -> bool:
    """True between two notes of the same string that lie further apart than a hand reaches."""
    lane = (notes["channel"] == notes["channel"][index]) & (notes["string"] == notes["string"][index])
    lane &= notes["duration_sec"] > notes["duration_sec"][index]
    onset = notes["onset_sec"]
    before = np.flatnonzero(lane & (onset < onset[index]) & (onset > onset[index] - _MOVE_SEC))
    after = np.flatnonzero(lane & (onset > onset[index]) & (onset < onset[index] + _MOVE_SEC))
    if not len(before) or not len(after):
        return False
    return abs(int(notes["pitch"][after[0]]) - int(notes["pitch"][before[-1]])) >= _SHIFT


def _octaves(notes: NDArray[np.void], cleaning: Cleaning, usual: float, gone: set[int]) -> list[int]:
    onset, length, pitch = notes["onset_sec"], notes["duration_sec"], notes["pitch"].astype(int)
    found = []
    for index in np.flatnonzero(length < cleaning.octave_ms / 1000).tolist():
        near = np.flatnonzero(np.abs(onset - onset[index]) < 0.09)
        for other in near.tolist():
            # The true note sounds on at the short one's side, on the same string.
            same = (
                notes["channel"][other] == notes["channel"][index] and notes["string"][other] == notes["string"][index]
            )
            longer = length[other] > 2 * length[index]
            touches = (
                onset[other] <= onset[index] + length[index] + _GAP_SEC
                and onset[other] + length[other] >= onset[index] - _GAP_SEC
            )
            if other != index and same and longer and touches and int(pitch[index] - pitch[other]) in OCTAVES:
                found.append(index)
                break
    return found


def _doubles(notes: NDArray[np.void], cleaning: Cleaning, usual: float, gone: set[int]) -> list[int]:
    found = []
    last: dict[tuple[int, int, int], int] = {}
    for index in range(len(notes)):
        if index in gone:
            continue
        key = (int(notes["channel"][index]), int(notes["string"][index]), int(notes["pitch"][index]))
        before = last.get(key)
        if before is not None and notes["onset_sec"][index] - notes["onset_sec"][before] < cleaning.double_ms / 1000:
            # The one that lasts is the note, the other one a stumble.
            shorter = before if notes["duration_sec"][before] < notes["duration_sec"][index] else index
            found.append(shorter)
            last[key] = index if shorter == before else before
            continue
        last[key] = index
    return found


def _ghosts(notes: NDArray[np.void], cleaning: Cleaning, usual: float, gone: set[int]) -> list[int]:
    level = notes["velocity"] / max(usual, 1.0)
    short = notes["duration_sec"] < cleaning.ghost_ms / 1000
    # What goes on from the note before, or leads on to the next one, is part of a move of the hand
    # and no chatter.
    ghost = (short & (level < cleaning.ghost_level)) | (level < cleaning.faint_level)
    return [index for index in np.flatnonzero(ghost).tolist() if not _in_a_run(notes, index, gone)]


def _in_a_run(notes: NDArray[np.void], index: int, gone: set[int]) -> bool:
    onset, end = float(notes["onset_sec"][index]), float(notes["onset_sec"][index] + notes["duration_sec"][index])
    lane = (notes["channel"] == notes["channel"][index]) & (notes["string"] == notes["string"][index])
    near = np.abs(notes["pitch"].astype(int) - int(notes["pitch"][index]))
    before = lane & (np.abs(notes["onset_sec"] + notes["duration_sec"] - onset) < _GAP_SEC) & (near <= 2) & (near > 0)
    after = lane & (np.abs(notes["onset_sec"] - end) < _GAP_SEC) & (near <= 2) & (near > 0)
    # A slide dies away to its end: it goes on from a quick note, and no louder.
    dying = before & (notes["duration_sec"] < _QUICK_SEC) & (notes["velocity"] >= notes["velocity"][index])
    return bool(before.any() and after.any()) or bool(dying.any())


def _chopped(notes: NDArray[np.void], bends: tuple[NDArray[np.float64], ...], left: list[int]) -> dict[int, int]:
    """Second halves by their number, each with the note it goes on from."""
    joins: dict[int, int] = {}
    last: dict[tuple[int, int], int] = {}
    reach = _reaches(notes, bends)
    for index in left:
        key = (int(notes["channel"][index]), int(notes["string"][index]))
        before = last.get(key)
        last[key] = index
        if before is None:
            continue
        gap = float(notes["onset_sec"][index] - notes["onset_sec"][before] - notes["duration_sec"][before])
        begins = float(notes["pitch"][index]) + float(bends[index][0, 1])
        first = joins.get(before, before)
        softer = no_louder(int(notes["velocity"][index]), int(notes["velocity"][first]))
        if goes_on(gap, int(notes["pitch"][before]), bends[before], begins, softer, reach.get(key[0], 0.0)):
            joins[index] = first
    return joins


def no_louder(velocity: int, plucked: int) -> bool:
    """True where a note may be the rest of one that was ``plucked`` so loud."""
    return velocity <= _LOUDER * plucked


def _reaches(notes: NDArray[np.void], bends: tuple[NDArray[np.float64], ...]) -> dict[int, float]:
    """How far, in semitones, the bend of each channel reached."""
    found: dict[int, float] = {}
    for channel, bend in zip(notes["channel"].tolist(), bends, strict=True):
        if len(bend) > 1:
            found[channel] = max(found.get(channel, 0.0), float(np.abs(bend[:, 1]).max()))
    return found


def goes_on(
    gap_sec: float, pitch: int, bend: NDArray[np.float64], begins: float, softer: bool, reach: float = 0.0
) -> bool:
    """True where a bend cut a note of ``pitch`` and the rest of it ``begins`` (semitones) so long
    after its end. ``reach``: how far the bends of the channel are known to get.
    """
    reached = pitch + float(bend[-1, 1])
    if not -OVERLAP_SEC <= gap_sec < _GAP_SEC or abs(bend[-1, 1]) < _CHOP:
        return False
    within = _IN_REACH_SEC if abs(begins - pitch) < reach - _REACH else _MOVING_SEC
    return abs(begins - reached) < _CHOP or (softer and _on_the_move(bend, begins - reached, within))


def _on_the_move(bend: NDArray[np.float64], by: float, within_sec: float) -> bool:
    """True when the pitch was going the way that the new note goes on, and fast."""
    # What was sent last before that stretch holds at its beginning.
    first = max(int(np.searchsorted(bend[:, 0], bend[-1, 0] - within_sec, side="right")) - 1, 0)
    way = float(bend[-1, 1] - bend[first, 1]) if len(bend) > 1 else 0.0
    return abs(by) <= _JUMP and abs(way) >= _MOVED and way * by > 0


def _begun(
    notes: NDArray[np.void], bends: tuple[NDArray[np.float64], ...], left: list[int], why: dict[int, str]
) -> tuple[NDArray[np.void], tuple[NDArray[np.float64], ...]]:
    """The notes and bends, where a note that followed right on its own octave error or first
    trigger begins with that: the string was plucked then.
    """
    onset, length, pitch = (notes[name].tolist() for name in ("onset_sec", "duration_sec", "pitch"))
    strings = list(zip(notes["channel"].tolist(), notes["string"].tolist(), strict=True))
    following: dict[tuple[int, int], list[int]] = {}
    for index in left:
        following.setdefault(strings[index], []).append(index)
    begins = list(onset)
    wrong = [index for index, reason in why.items() if reason in ("octave", "double")]
    for index in sorted(wrong, reverse=True):
        of_string = following.get(strings[index], [])
        for other in of_string[bisect_right(of_string, onset[index], key=onset.__getitem__) :]:
            if onset[other] > onset[index] + length[index] + _GAP_SEC:
                break
            apart = abs(pitch[other] - pitch[index])
            if (apart == 0 or apart in OCTAVES) and begins[other] > onset[index]:
                begins[other] = onset[index]
                break
    array, curves = notes.copy(), list(bends)
    for index in left:
        by = onset[index] - begins[index]
        if by > 0.0:
            array["onset_sec"][index], array["duration_sec"][index] = begins[index], length[index] + by
            curves[index] = curves[index] + np.array([by, 0.0])
            curves[index][0, 0] = 0.0
    return array, tuple(curves)


def _made(
    notes: NDArray[np.void],
    bends: tuple[NDArray[np.float64], ...],
    left: list[int],
    joins: dict[int, int],
    why: dict[int, str],
) -> Cleaned:
    array, curves = notes.copy(), {index: bends[index] for index in left}
    raw = {index: [index] for index in left}
    for late, early in joins.items():
        after = float(notes["onset_sec"][late] - notes["onset_sec"][early])
        steps = int(notes["pitch"][late]) - int(notes["pitch"][early])
        moved = curves[late] + np.array([after, steps])
        curves[early] = np.concatenate([curves[early], moved])
        array["duration_sec"][early] = after + float(notes["duration_sec"][late])
        raw[early].append(late)
    kept = sorted((index for index in left if index not in joins), key=lambda index: float(array["onset_sec"][index]))
    removed = [Removed(index, reason) for index, reason in why.items()] + [Removed(index, "chopped") for index in joins]
    return Cleaned(
        array[kept],
        tuple(curves[index] for index in kept),
        tuple(tuple(raw[index]) for index in kept),
        tuple(sorted(removed)),
    )
