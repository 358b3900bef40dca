"""The strings of a piece, several stretches of it at a time: what a computer does for one string it
does for fifty at little more cost.

Task
    A piece is cut into jobs, a job into lanes, stretches of equal length that are rendered side by
    side as if they were played at one time. Each lane strikes the strings of its own stretch and
    follows them until the last has died away; added where they belong, the lanes are what one pass
    over the piece gives, within rounding, for no string knows of another. For that, there is room
    for as many strings as sound: where live playing takes away the one heard least, it rings on
    here.

Conventions
    Samples count from the start of the piece, or of a lane where said. A lane begins at a whole
    cell, or fading would fall into other cells.
"""

import heapq
from bisect import bisect_left
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from itertools import accumulate, count
from math import ceil
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.errors import UserError
from loopdeck.synth.delay_line import CELL
from loopdeck.synth.events import HIGHEST, LOWEST, MASTER, SoundEvent, is_note_on
from loopdeck.synth.mixer import HEADROOM, factor, sides_of
from loopdeck.synth.pluck import losses
from loopdeck.synth.string import ROWS, SOUNDING, Strings
from loopdeck.synth.string_player import SOURCE_KEY, StringPlayer

RATE = 48_000
#: One block: a second, whole cells.
BLOCK = 375 * CELL
#: Lanes side by side, and the least and usual length of one.
LANES, LEAST, USUAL = 8, BLOCK, 4 * BLOCK
#: Cells in which a string that is being cut off is gone.
_FADING = 32
#: A string let go has died away after so many times the seconds in which it falls by 60 dB.
_GONE = 1.5
Sound = NDArray[np.float64]


class PartGains:
    """The factors of the parts: ``gains`` (2, parts) at both ends of a cell, ``pan`` (2, parts);
    and room for how many strings.

    Raises UserError for a level out of range.
    """

    def __init__(self, parts: Sequence[str], levels: Mapping[str, float], sounding: int = SOUNDING) -> None:
        for part, decibels in levels.items():
            if not LOWEST <= decibels <= HIGHEST:
                raise UserError(
                    f"A level of {decibels} dB cannot be set for {part}; {LOWEST:g} to {HIGHEST:g} dB would be right."
                )
        master = factor(levels.get(MASTER, 0.0) + HEADROOM)
        self.sounding = max(sounding, SOUNDING)
        self.numbers = {part: number for number, part in enumerate(parts)}
        self.gain = {part: master * factor(levels.get(part, 0.0)) for part in parts}
        self.gains = np.tile([self.gain[part] for part in parts], (2, 1))
        self.pan = np.hstack([sides_of(part) for part in parts]) if parts else np.ones((2, 0))


class Job(NamedTuple):
    """The strings struck from ``begin`` to before ``end`` (samples), in so many lanes of ``length``
    samples.
    """

    begin: int
    end: int
    length: int

    def begins(self) -> list[int]:
        """Where the lanes begin."""
        return list(range(self.begin, self.end, self.length))


def jobs_of(end: int, lanes: int = LANES, workers: int = 1) -> list[Job]:
    """Cut a piece of ``end`` samples into jobs, at least one for each worker where it is long
    enough.
    """
    if end <= 0:
        return []
    jobs = max(-(-end // (lanes * USUAL)), min(workers, end // (4 * LEAST)), 1)
    whole = _whole_cells(end / jobs)
    length = max(_whole_cells(whole / lanes), LEAST)
    return [Job(begin, min(begin + whole, end), length) for begin in range(0, end, whole)]


def _whole_cells(samples: float) -> int:
    return ceil(samples / CELL) * CELL


def most_at_once(events: Sequence[SoundEvent]) -> int:
    """How many strings sound at a time at most, each counted until it has died away."""
    changes: list[tuple[int, int]] = []
    for event in events:
        if is_note_on(event.data):
            changes.append((event.sample, 1))
        elif event.data[0] & 0xE0 == 0x80:
            changes.append((event.sample + int(losses(event.data[1], False).release_sec * _GONE * RATE), -1))
    return max(accumulate(change for _, change in sorted(changes)), default=0)


# ---- one job -------------------------------------------------------------------------------------


class _Ringing(StringPlayer):
    """A string player that strikes nothing from ``until`` on: what still rings of a string is cut
    there, as a new stroke would do.
    """

    def __init__(self, strings: Strings, until: int) -> None:
        super().__init__(strings)
        self._until = until
        #: The keys of each channel that were struck, or gone on to, in this lane.
        self._begun: set[tuple[int, int]] = set()

    def _pluck(self, channel: Any, now: int, pitch: int, velocity: int, part: int, gains: Sound) -> None:
        if now < self._until:
            self._begun.add((id(channel), pitch))
            super()._pluck(channel, now, pitch, velocity, part, gains)
            return
        rings = channel.keys.pop(pitch, None)
        if rings is not None:
            self._strings.cut(rings)
        channel.held.discard(pitch)

    def _go_on(self, channel: Any, now: int, pitch: int, velocity: int) -> bool:
        source = channel.source
        if super()._go_on(channel, now, pitch, velocity):
            self._begun.add((id(channel), pitch))
            return True
        # A string that was struck in the lane before goes on there.
        return source is not None and now < self._until and (id(channel), source) not in self._begun


class _Lanes(Strings):
    """Strings of several lanes, each with room for ``sounding`` of them.

    Set ``lane`` before a string is struck.
    """

    def __init__(self, lanes: int, sounding: int) -> None:
        self._own = sounding + ROWS - SOUNDING
        super().__init__(RATE, sounding, lanes * self._own)
        self.lane = 0

    def _make_room(self) -> int:
        first = self.lane * self._own
        free = np.flatnonzero(~self._active[first : first + self._own])
        if len(free):
            return first + int(free[0])
        # Only when strings that were cut off fill the spare rows as well: the one that is heard
        # least.
        row = first + int(np.argmin(self._envelopes.weight[1, first : first + self._own]))
        self._young = [young for young in self._young if young != row]
        return row

    def _mix(self, wave: Sound, sides: Sound, slope: Sound, out: Sound) -> None:
        # Side by side as equal blocks, so that one call does it for all lanes; each product is too
        # small for a library to share among processors.
        begin, end = self._envelopes.weight[:, self._rows]
        lane = self._rows // self._own
        place = np.arange(len(lane)) - np.searchsorted(lane, lane)
        lanes, most = len(out) // 2, int(place.max()) + 1
        factors, waves = np.zeros((lanes, 4, most)), np.zeros((lanes, most, len(slope)))
        factors[lane, :, place] = np.concatenate((sides * begin, sides * (end - begin))).T
        waves[lane, place] = wave
        sums = factors @ waves
        out += (sums[:, :2] + sums[:, 2:] * slope).reshape(out.shape)


class _Message(NamedTuple):
    """What a lane's player is to do: the sample counts from the start of the lane; ``serial`` keeps
    the order.
    """

    sample: int
    serial: int
    lane: int
    part: int
    data: bytes


def _messages(lane: int, begin: int, parts: int, events: Sequence[SoundEvent], gains: PartGains) -> Iterator[_Message]:
    """The messages of a lane: the bends and ranges that were set before it begins, then all that
    follow. A key to come from is for the next note alone.
    """
    first = bisect_left(events, begin, key=lambda event: event.sample)
    bends: dict[tuple[str, int], SoundEvent] = {}
    sources: dict[tuple[str, int], SoundEvent] = {}
    before = []
    for event in events[:first]:
        kind, channel = event.data[0] & 0xF0, event.data[0] & 0x0F
        if kind == 0xE0:
            bends[event.part, event.data[0]] = event
        elif kind == 0xB0 and event.data[1] == SOURCE_KEY:
            sources[event.part, channel] = event
        elif kind > 0x90:
            before.append(event)
        elif sources and is_note_on(event.data):
            sources.pop((event.part, channel), None)
    serial = count()
    for event in (*before, *bends.values(), *sources.values()):
        yield _Message(0, next(serial), lane, lane * parts + gains.numbers[event.part], event.data)
    for event in events[first:]:
        yield _Message(event.sample - begin, next(serial), lane, lane * parts + gains.numbers[event.part], event.data)


def perform(job: Job, events: Sequence[SoundEvent], end: int, gains: PartGains) -> Iterator[Sound]:
    """A job in blocks of whole seconds, (2 * lanes, frames), until ``end`` is reached or no string
    sounds any more.
    """
    begins, parts = job.begins(), len(gains.numbers)
    lanes = len(begins)
    strings = _Lanes(lanes, gains.sounding)
    hands = [_Ringing(strings, min(job.length, job.end - begin)) for begin in begins]
    factors = np.tile(gains.gains, (1, lanes))
    pan = np.tile(gains.pan, (1, lanes))
    waiting = heapq.merge(*(_messages(lane, begin, parts, events, gains) for lane, begin in enumerate(begins)))
    following = next(waiting, None)
    ahead: deque[_Message] = deque()
    now, quiet = 0, 0

    def play(until: int) -> None:
        while ahead and ahead[0].sample < until:
            one = ahead.popleft()
            strings.lane = one.lane
            hands[one.lane].play(now, one.part, one.data, factors)

    # A string that was struck in the last cell of a block was never quiet.
    while job.begin + now < end and (now < job.length or quiet < _FADING or strings.sounding):
        out = np.zeros((2 * lanes, BLOCK))
        for cell in range(0, BLOCK, CELL):
            cell_end = now + CELL
            while following is not None and following.sample < cell_end:
                ahead.append(following)
                following = next(waiting, None)
            # As in the mixer: what came during the last cell bears on this one.
            play(now)
            strings.tick(factors)
            quiet = quiet + 1 if not strings.sounding else 0
            while now < cell_end:
                play(now + 1)
                stop = next((one.sample for one in ahead if is_note_on(one.data)), cell_end)
                at = cell + CELL - (cell_end - now)
                strings.render(now, stop - now, pan, out[:, at : at + stop - now])
                now = stop
        yield out


def strings_of(job: Job, events: Sequence[SoundEvent], end: int, gains: PartGains) -> Sound:
    """A job as one sound, (2, frames) from its begin on, as long as its strings ring."""
    blocks = np.concatenate(list(perform(job, events, end, gains)), axis=1)
    begins = job.begins()
    if len(begins) == 1:
        return blocks
    sound = np.zeros((2, begins[-1] - job.begin + blocks.shape[1]))
    for lane, begin in enumerate(begins):
        at = begin - job.begin
        sound[:, at : at + blocks.shape[1]] += blocks[2 * lane : 2 * lane + 2]
    return sound
