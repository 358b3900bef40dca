"""The strings of all parts: plain ones together, and for each channel of a part with an overdriven
program a guitar of its own.

Conventions: a channel of a part is driven from the moment a program change on it says so (General
MIDI level 1, programs 30 and 31 counted from 1: overdriven and distortion guitar), and plain again
from another one on; what still rings then is cut off.
"""

import numpy as np
from numpy.typing import NDArray

from loopdeck.synth.overdrive import Overdrive
from loopdeck.synth.string import Strings
from loopdeck.synth.string_player import StringPlayer

#: As in the bytes of a program change, counted from 0.
DRIVEN_PROGRAMS = (29, 30)
_ONE = np.ones((2, 1))
#: Samples an amplifier goes on after its strings are silent: what its filters still hold.
_TAIL = 512


class _Guitar:
    """One channel's strings and amplifier; levels are applied behind the amplifier, so they do not
    change how hard it is driven.
    """

    def __init__(self, rate: int) -> None:
        self.strings = Strings(rate, 8, 12)
        self.player = StringPlayer(self.strings)
        self._amplifier = Overdrive(rate)
        self._left = 0

    def render(self, now: int, count: int) -> NDArray[np.float64] | None:
        """The next samples, None where it is silent."""
        if self.strings.active:
            self._left = _TAIL
        elif self._left <= 0:
            return None
        both = np.zeros((2, count))
        self.strings.render(now, count, _ONE, both)
        self._left -= count
        return self._amplifier.drive(both[0])


class Band:
    """``rate`` in samples a second."""

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._strings = Strings(rate)
        self._hands = StringPlayer(self._strings)
        self._guitars: dict[tuple[int, int], _Guitar] = {}

    @property
    def sounding(self) -> int:
        """How many strings sound."""
        return self._strings.sounding + sum(one.strings.sounding for one in self._guitars.values())

    def play(self, now: int, part: int, data: bytes, gains: NDArray[np.float64]) -> None:
        """Do what a message for a part says."""
        place = (part, data[0] & 0x0F) if data else (part, 0)
        if len(data) == 2 and data[0] & 0xF0 == 0xC0:
            if data[1] not in DRIVEN_PROGRAMS:
                self._guitars.pop(place, None)
            elif place not in self._guitars:
                self._guitars[place] = _Guitar(self._rate)
            return
        guitar = self._guitars.get(place)
        if guitar is None:
            self._hands.play(now, part, data, gains)
        else:
            guitar.player.play(now, 0, data, _ONE)
            if data[0] & 0xF0 in (0x80, 0xB0):
                # A plain string may sound from before the change.
                self._hands.play(now, part, data, gains)

    def silence(self) -> None:
        """Cut everything off."""
        self._hands.silence()
        for guitar in self._guitars.values():
            guitar.player.silence()

    def tick(self, gains: NDArray[np.float64]) -> None:
        """Decide the next cell."""
        self._strings.tick(gains)
        for guitar in self._guitars.values():
            guitar.strings.tick(_ONE)

    def render(
        self,
        now: int,
        pan: NDArray[np.float64],
        gains: NDArray[np.float64],
        slope: NDArray[np.float64],
        out: NDArray[np.float64],
    ) -> None:
        """Add the next samples to ``out`` (2, n); ``slope`` (n,) is how far into the cell each is,
        0 to 1.
        """
        count = out.shape[1]
        self._strings.render(now, count, pan, out)
        for (part, _), guitar in self._guitars.items():
            heard = guitar.render(now, count) if count else None
            if heard is not None:
                begin, end = gains[:, part]
                out += pan[:, part, None] * heard * (begin + (end - begin) * slope)
