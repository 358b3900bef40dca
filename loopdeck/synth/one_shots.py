"""Sounds of fixed shape (clicks, drums): made once, then laid into the output at their sample.

Conventions
    A sound is a float64 array, peak at most 1, that begins with a sample other than 0: what is
    placed at a sample is heard from that very sample on. Time in samples from 0. A sound that is
    stopped (an open hi-hat by the closed one) fades in ``CHOKE`` samples.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

#: Samples in which a stopped sound fades.
CHOKE = 240
#: Sounds of one kit that sound at a time; the oldest is stopped beyond that, and forgotten beyond
#: twice that.
MOST = 16

Sound = NDArray[np.float64]


@dataclass
class _Shot:
    sound: Sound
    factor: float
    start: int
    group: int
    stop: int | None = None

    def end(self) -> int:
        whole = self.start + len(self.sound)
        return whole if self.stop is None else min(whole, self.stop + CHOKE)


class OneShots:
    """Plays one kit: ``sounds`` maps a note to its sounds from the softest to the hardest,
    ``groups`` notes that stop one another.
    """

    def __init__(self, sounds: Mapping[int, tuple[Sound, ...]], groups: Mapping[int, int] | None = None) -> None:
        self._sounds = sounds
        self._groups = dict(groups or {})
        self._shots: list[_Shot] = []

    def play(self, at: int, data: bytes) -> None:
        """Do what a message says at the sample ``at``: note-ons sound, CC120 and CC123 stop all,
        anything else is passed over.
        """
        if len(data) != 3 or (data[1] | data[2]) & 0x80:
            return
        kind, note, value = data[0] & 0xF0, data[1], data[2]
        if kind == 0x90 and value and note in self._sounds:
            group = self._groups.get(note, 0)
            if group:
                self.stop(at, group)
            layers = self._sounds[note]
            sound = layers[min(value * len(layers) // 128, len(layers) - 1)]
            self._shots.append(_Shot(sound, (value / 127.0) ** 1.6, at, group))
            if len(self._shots) > MOST:
                self._stop(self._shots[-MOST - 1], at)
                del self._shots[: -2 * MOST]
        elif kind == 0xB0 and note in (120, 123):
            self.stop(at)

    def stop(self, at: int, group: int | None = None) -> None:
        """Fade out what sounds, or only what belongs to a group, from the sample ``at`` on."""
        for shot in self._shots:
            if group is None or shot.group == group:
                self._stop(shot, at)

    @staticmethod
    def _stop(shot: _Shot, at: int) -> None:
        shot.stop = at if shot.stop is None else min(shot.stop, at)

    @property
    def sounding(self) -> bool:
        """True while anything sounds or waits to."""
        return bool(self._shots)

    def render(self, now: int, count: int) -> NDArray[np.float64]:
        """The samples ``now`` to ``now + count``, shape (count,), and forget what has ended."""
        out = np.zeros(count)
        for shot in self._shots:
            begin, end = max(shot.start, now), min(shot.end(), now + count)
            if begin >= end:
                continue
            piece = shot.sound[begin - shot.start : end - shot.start] * shot.factor
            if shot.stop is not None and end > shot.stop:
                piece *= np.clip(1.0 - (np.arange(begin, end) - shot.stop) / CHOKE, 0.0, 1.0)
            out[begin - now : end - now] += piece
        self._shots = [shot for shot in self._shots if shot.end() > now + count]
        return out
