"""On which string a note is shown, and at which fret: the simplest choice, note by note.

Conventions: lanes count from 0 at the top, which is string 1, the highest; frets count from the
nut, 0 is open. Pure.

A pickup that sends each string on a channel of its own is believed (``ChannelStrings``); what comes
without a string lies at its lowest fret, the notes of a chord on strings within a hand's reach. A
layer that stands lies where a hand would play it (``layer_hand``).
"""

from collections import deque
from collections.abc import Collection, Sequence
from itertools import combinations

from loopdeck.theory.tuning import FRETS, Tuning


def lane_of(pitch: int, string: int, busy: Collection[int], tuning: Tuning) -> int:
    """The lane of a note: its ``string`` where that is known (from 1; 0: not known), else its
    lowest fret on a lane that is not ``busy``. Above or below every string: the nearest one.
    """
    strings = tuning.strings
    if 1 <= string <= len(strings):
        return string - 1
    reach = sorted((pitch - open_pitch, lane) for lane, open_pitch in enumerate(strings))
    wanted = [lane for fret, lane in reach if 0 <= fret <= FRETS]
    if not wanted:
        return min(range(len(strings)), key=lambda lane: abs(pitch - strings[lane]))
    return next((lane for lane in wanted if lane not in busy), wanted[0])


def chord_lanes(pitches: Sequence[int], tuning: Tuning) -> tuple[int, ...] | None:
    """A lane for each note of a chord, ``pitches`` from the lowest up: higher notes on higher
    strings, within the smallest reach of the hand, as far down the neck as that goes. None where
    the neck does not have it.
    """
    best: tuple[tuple[int, int], tuple[int, ...]] | None = None
    for lanes in combinations(range(len(tuning.strings) - 1, -1, -1), len(pitches)):
        frets = [pitch - tuning.strings[lane] for pitch, lane in zip(pitches, lanes, strict=True)]
        if min(frets) < 0 or max(frets) > FRETS:
            continue
        stopped = [fret for fret in frets if fret] or [0]
        reach = max(stopped) - min(stopped), sum(frets)
        if best is None or reach < best[0]:
            best = reach, lanes
    return best[1] if best is not None else None


def fret_of(pitch: int, lane: int, tuning: Tuning) -> int | None:
    """The fret of a pitch on a lane; None where that string does not have it."""
    fret = pitch - tuning.strings[lane]
    return fret if 0 <= fret <= FRETS else None


class ChannelStrings:
    """Finds out whether an instrument sends each string on a channel of its own, and which way
    round.

    The usual order is the highest string on the lowest channel; some instruments send the lowest
    string there (common practice, no source). Whatever contradicts an order (a pitch its string
    does not have) among the last LAST notes rules it out: a pickup may have been switched over
    before. One channel alone proves nothing.
    """

    LAST = 16

    def __init__(self) -> None:
        self._heard: deque[tuple[int, int]] = deque(maxlen=self.LAST)
        self._low_first = False

    def string(self, channel: int, pitch: int, strings: Sequence[int]) -> int:
        """The string (from 1) of a note on ``channel`` (from 0) as far as the notes heard last
        tell, 0 where they do not. An order that was found stands until something contradicts it.
        """
        count = len(strings)
        self._heard.append((channel, pitch))
        if len({heard for heard, _ in self._heard}) < 2:
            return 0
        for low_first in (self._low_first, not self._low_first):
            order = strings[::-1] if low_first else strings
            if all(one < count and 0 <= at - order[one] <= FRETS for one, at in self._heard):
                self._low_first = low_first
                return count - channel if low_first else channel + 1
        return 0
