"""Which channel is which string, where no profile says so.

Rule
    Notes on two or more channels that follow each other are a channel a string. Of the orders
    (lowest channel the highest string, or the other way round) the one is taken in which most notes
    can be played on their string; neither where many cannot.
"""

import numpy as np
from numpy.typing import NDArray

from loopdeck.theory.tuning import Tuning

#: The share of notes that must fit their strings.
_FITS = 0.97
#: The channel of a written note without a string, and that of the drums, which no string has.
NO_STRING, DRUMS = 15, 9


def channel_of(string: int) -> int:
    """The channel, from 0, on which a written note of ``string`` lies; string 0 is none."""
    return NO_STRING if string < 1 else string - 1 + (string > DRUMS)


def _as_written(notes: NDArray[np.void], tuning: Tuning) -> None:
    """Name the strings as ``channel_of`` has them, where one has the pitch."""
    channels = notes["channel"].astype(np.int64)
    strings = np.where(channels == NO_STRING, 0, channels + 1 - (channels > DRUMS))
    strings[strings > len(tuning.strings)] = 0
    frets = notes["pitch"] - np.array((0, *tuning.strings))[strings]
    notes["string"] = np.where((frets >= 0) & (frets <= tuning.frets), strings, 0)


def strings_by_channel(notes: NDArray[np.void], tuning: Tuning, written: bool = False) -> None:
    """Name the strings of ``notes`` in place, where none is named and the channels tell; they do if
    the notes were ``written`` down with their strings.
    """
    if not len(notes) or notes["string"].any():
        return
    if written:
        _as_written(notes, tuning)
        return
    channels = np.unique(notes["channel"])
    count = len(tuning.strings)
    if len(channels) < 2 or channels[-1] - channels[0] >= count:
        return
    opens = np.array(tuning.strings)
    best: tuple[float, NDArray[np.int64]] | None = None
    for first in range(max(int(channels[-1]) - count + 1, 0), int(channels[0]) + 1):
        place = notes["channel"].astype(np.int64) - first
        for string in (place + 1, count - place):
            frets = notes["pitch"] - opens[string - 1]
            fits = float(((frets >= 0) & (frets <= tuning.frets)).mean())
            # Of two orders that fit, the one that plays lower on the neck.
            value = fits - 0.0001 * float(np.abs(frets).mean())
            if fits >= _FITS and (best is None or value > best[0]):
                best = (value, string)
    if best is not None:
        notes["string"] = best[1]
