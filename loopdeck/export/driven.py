"""The overdriven guitars of a score: their messages apart from the plain strings', and their
strings through an amplifier each.

Conventions: as in ``lanes``; a guitar is one channel of one part, driven from a program change to
overdriven guitar on, as ``synth.band`` has it. All its strings go into one amplifier, whose level
stands behind it.
"""

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from loopdeck.export.lanes import RATE, Sound
from loopdeck.synth.band import DRIVEN_PROGRAMS
from loopdeck.synth.events import SoundEvent
from loopdeck.synth.overdrive import Overdrive
from loopdeck.synth.string_player import SOURCE_KEY

#: The controller that cuts every string of a channel (MIDI 1.0).
_ALL_SOUND_OFF = 120

Guitar = tuple[str, int]


def split_guitars(events: Iterable[SoundEvent]) -> tuple[tuple[SoundEvent, ...], dict[Guitar, tuple[SoundEvent, ...]]]:
    """The messages for plain strings, and those of each guitar, in order of time."""
    plain: list[SoundEvent] = []
    guitars: dict[Guitar, list[SoundEvent]] = {}
    driven: set[Guitar] = set()
    for event in events:
        kind, place = event.data[0] & 0xF0, (event.part, event.data[0] & 0x0F)
        if kind == 0xC0:
            if event.data[1] in DRIVEN_PROGRAMS:
                driven.add(place)
            elif place in driven:
                driven.remove(place)
                if place in guitars:
                    # What still rings of the guitar is cut off.
                    guitars[place].append(event._replace(data=bytes((0xB0 | place[1], _ALL_SOUND_OFF, 0))))
            continue
        # What ends a note or sets something is for both: the note may have begun before the change.
        both = kind in (0x80, 0xB0)
        if place in driven:
            if place not in guitars:
                guitars[place] = [one for one in plain if _sets(one, place)]
            guitars[place].append(event)
        elif both and place in guitars:
            guitars[place].append(event)
        if both or place not in driven:
            plain.append(event)
    return tuple(plain), {place: tuple(own) for place, own in guitars.items()}


def _sets(event: SoundEvent, place: Guitar) -> bool:
    here = (event.part, event.data[0] & 0x0F) == place and event.data[0] & 0xF0 == 0xB0
    return here and event.data[1] != SOURCE_KEY


def through_amplifier(strings: Iterator[Sound], gain: float, pan: NDArray[np.float64]) -> Iterator[Sound]:
    """The strings of one guitar, which come with their part's ``gain`` and ``pan`` (2,), driven."""
    amplifier = Overdrive(RATE)
    for sound in strings:
        yield pan[:, None] * (amplifier.drive(sound[0] / (gain * pan[0])) * gain)


def added_up(sounds: Sequence[Iterator[Sound]]) -> Iterator[Sound]:
    """Sounds that begin at one moment, added; each comes in pieces of its own lengths. It ends with
    the shortest.
    """
    if len(sounds) == 1:
        yield from sounds[0]
        return
    rest = [np.zeros((2, 0)) for _ in sounds]
    while True:
        for place, sound in enumerate(sounds):
            if not rest[place].shape[1]:
                piece = next(sound, None)
                if piece is None:
                    return
                rest[place] = piece
        count = min(one.shape[1] for one in rest)
        yield sum((one[:, :count] for one in rest), np.zeros((2, count)))
        rest = [one[:, count:] for one in rest]
