"""The material of a take as a pickup profile shows it: strings named, errors taken out of view,
every note as early as it was played.

Conventions
    The take stays as it is: this is a view. ``raw`` names, for each note, the numbers of the notes
    of the material that it is made of. With a measured delay of the player's own
    (``calibration``), that is taken off, else the one the profile says.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.pickup.cleaning import Removed, clean
from loopdeck.bass.pickup.delay import late_sec, take_delay_off
from loopdeck.bass.pickup.profile import PARTS, Cleaning, Delay, Pickup
from loopdeck.capture.bend_wheel import DEFAULT_BEND_RANGE
from loopdeck.capture.notes import Notes
from loopdeck.shelf.material import Material
from loopdeck.shelf.take import Take

#: A slide at the end of a note is one that moves by a fret within this of it.
_MOVE_SEC = 0.08


@dataclass(frozen=True)
class PickedUp:
    """``material`` with the notes that are shown, the ``raw`` notes behind each, what was
    ``removed``, and how ``late`` each shown note came (seconds, (n,)).
    """

    material: Material
    raw: tuple[tuple[int, ...], ...]
    removed: tuple[Removed, ...]
    late: NDArray[np.float64]


def picked_up(material: Material, pickup: Pickup, bring_back: frozenset[int] = frozenset()) -> PickedUp:
    """The view of ``material`` through ``pickup``; notes in ``bring_back`` (by their number) are
    shown whatever they look like.
    """
    array = material.notes.array.copy()
    named = np.array([pickup.string_of(channel) for channel in range(16)], np.int64)[array["channel"] & 15]
    played = material.source == 0
    array["string"] = np.where(played & (named > 0), named, array["string"])
    bends = _as_wide_as_sent(material, pickup)
    cleaned = clean(array, bends, pickup.cleaning, bring_back)
    shown = np.array([raw[0] for raw in cleaned.raw], np.int64)
    notes = cleaned.notes
    late = np.zeros(len(notes))
    if not pickup.keyboard:
        late = np.where(material.source[shown] == 0, late_sec(notes["pitch"], pickup.latency), 0.0)
        take_delay_off(notes, late, _ending_in_a_move(notes, cleaned.bends))
    order = np.lexsort((notes["pitch"], notes["onset_sec"]))
    notes = notes[order]
    onset_q = material.tempo.quarters(notes["onset_sec"])
    view = replace(
        material,
        notes=Notes(notes, tuple(cleaned.bends[row] for row in order.tolist())),
        source=material.source[shown][order],
        # Channel 10 has no drums where the pickup has a string on it.
        pitched=(material.pitched | (played & (named > 0)))[shown][order],
        onset_q=onset_q,
        duration_q=material.tempo.quarters(notes["onset_sec"] + notes["duration_sec"]) - onset_q,
    )
    return PickedUp(view, tuple(cleaned.raw[row] for row in order.tolist()), cleaned.removed, late[order])


def as_kept(material: Material, bring_back: frozenset[int] = frozenset()) -> "PickedUp | None":
    """The view through the pickup that the take was played with, and with the delay it was judged
    by; None where it knows of none. What the player brought back is shown, and ``bring_back``.
    """
    kept = material.take.seen
    heard = next(iter(kept.inputs.values()), None)
    if heard is None:
        return None
    array = material.notes.array
    back = {
        int(np.argmin(np.abs(array["onset_sec"] - sec) + 1000.0 * (array["pitch"] != pitch)))
        for sec, pitch in kept.back
        if len(array)
    }
    pickup = Pickup(
        name=heard.name,
        channels=heard.channels,
        bend_range=heard.bend_range or DEFAULT_BEND_RANGE,
        cleaning=heard.cleaning or Cleaning(**dict.fromkeys(PARTS, False)),
        latency=Delay(heard.constant_ms, heard.periods),
    )
    return picked_up(material, pickup, bring_back | back)


def _ending_in_a_move(notes: NDArray[np.void], bends: tuple[NDArray[np.float64], ...]) -> set[int]:
    """Notes that slide away to their end: their last pitch is not held."""
    found = set()
    for row, (length, bend) in enumerate(zip(notes["duration_sec"].tolist(), bends, strict=True)):
        if len(bend) > 1:
            late = bend[int(np.searchsorted(bend[:, 0], length - _MOVE_SEC)) :, 1]
            if len(late) and float(late.max() - late.min()) >= 1.0:
                found.add(row)
    return found


def _as_wide_as_sent(material: Material, pickup: Pickup) -> tuple[NDArray[np.float64], ...]:
    """Bend curves in semitones: where the pickup said no range, the profile's counts and not the
    usual two semitones.
    """
    factor = pickup.bend_range / DEFAULT_BEND_RANGE
    if factor == 1.0:
        return material.notes.bends
    said = _said_a_range(material.take)
    rows = zip(material.notes.bends, material.notes.array["channel"].tolist(), strict=True)
    return tuple(bend if channel in said else bend * np.array([1.0, factor]) for bend, channel in rows)


def _said_a_range(take: Take) -> set[int]:
    """The channels on which registered parameter 0,0 was set."""
    chosen: dict[int, list[int]] = {}
    said = set()
    for event in take.recording.events:
        if len(event.data) == 3 and event.data[0] & 0xF0 == 0xB0:
            channel, control, value = event.data[0] & 15, event.data[1], event.data[2]
            if control in (100, 101):
                chosen.setdefault(channel, [127, 127])[control - 100] = value
            elif control == 6 and chosen.get(channel) == [0, 0]:
                said.add(channel)
    return said
