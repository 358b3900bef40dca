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


def strings_by_channel(notes: NDArray[np.void], tuning: Tuning) -> None:
    """Name the strings of ``notes`` in place, where none is named and the channels tell."""
    if not len(notes) or notes["string"].any():
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
