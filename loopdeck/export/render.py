"""A score to samples, faster than it is played: the same mixer as live, in big blocks, over silence in one step.

Conventions
    Samples are float32, shape (frames, 2), at ``RATE`` a second. Levels are those of the mixer, in dB; the master is at 0 dB unless set,
    for a file is made to be worked with, not to be put on headphones at once.
"""

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from loopdeck.export.score import Score
from loopdeck.sound.mixer import MASTER, Mixer
from loopdeck.sound.string import CELL

RATE = 48_000
#: One block: about a second, whole cells.
BLOCK = 375 * CELL

Block = NDArray[np.float32]


def mixer_for(levels: Mapping[str, float], rate: int = RATE) -> Mixer:
    """A mixer with its master at 0 dB and some levels set. Raises SoundError for what is no part or no level."""
    mixer = Mixer(rate)
    for part, decibels in {MASTER: 0.0, **levels}.items():
        mixer.set_level(part, decibels)
    return mixer


def render(score: Score, levels: Mapping[str, float] | None = None, tail: int = 0) -> Iterator[Block]:
    """The samples from ``score.first`` to ``tail`` samples after ``score.end``, block by block.

    What was struck before ``score.first`` and rings on is heard: it is rendered from the beginning and left away.
    """
    mixer = mixer_for(levels or {})
    mixer.feed(score.events)
    waits = sorted(event.sample for event in score.events)
    waiting = np.array([*waits, np.iinfo(np.int64).max])
    end, now, silent = score.end + tail, 0, not waits or waits[0] > 0
    while now < end:
        following = int(waiting[np.searchsorted(waiting, now)])
        if silent and following - now >= 2 * CELL:
            # Nothing sounds and nothing begins: zeros, up to the cell in which the next event falls.
            count = min((following - now) // CELL * CELL, end - now, 60 * BLOCK)
            block = np.zeros((count, 2), np.float32)
        else:
            count = min(BLOCK, end - now)
            block = mixer.render(now, count)
            # A whole second of nothing at all means that no string and no stroke is left.
            silent = count == BLOCK and not block.any()
        if now + count > score.first:
            yield block[max(score.first - now, 0) :]
        now += count
