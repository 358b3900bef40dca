"""A score to samples, faster than it is played: the strings, strokes and limiter of the mixer, without a device to wait for.

Task
    The sound that ``sound.mixer.Mixer`` makes of the same events with levels that do not change, within 1e-6. Strings are independent of
    one another, so a piece is cut into stretches that several processes render; each stretch strikes its own strings, and
    renders them until the last has died away. What they add up to goes through the limiter, in order.

Conventions
    Samples are float32, shape (frames, 2), at ``RATE`` a second. Levels are those of the mixer, in dB; the master is at 0 dB unless set,
    for a file is made to be worked with, not to be put on headphones at once.
    A stretch begins at a whole cell, or fading would fall into other cells than in one go.
"""

import os
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.export.score import Score
from loopdeck.sound.click import click_sounds
from loopdeck.sound.drums import HAT_GROUP, drum_sounds
from loopdeck.sound.errors import SoundError
from loopdeck.sound.events import CLICK, DRUMS, SoundEvent, is_note_on
from loopdeck.sound.hands import Hands
from loopdeck.sound.limiter import KNEE, Limiter
from loopdeck.sound.mixer import HEADROOM, HIGHEST, LOWEST, MASTER, factor, sides_of
from loopdeck.sound.pluck import losses
from loopdeck.sound.shots import Shots
from loopdeck.sound.string import CELL, SOUNDING, Strings

RATE = 48_000
#: One block: a second, whole cells.
BLOCK = 375 * CELL
#: One stretch, and the longest that is held in memory as a whole.
STRETCH, LONGEST = 12 * BLOCK, 600 * BLOCK
#: Cells in which a string that is being cut off is gone.
_FADING = 32
#: A string let go has died away after so many times the seconds in which it falls by 60 dB.
_GONE = 1.5

Sound = NDArray[np.float64]


class Stretch(NamedTuple):
    """The strings struck from ``begin`` to before ``end`` (samples), of all ``events`` in order."""

    begin: int
    end: int
    events: tuple[SoundEvent, ...]


class _Desk:
    """The factors of the parts: ``gains`` (2, parts) at both ends of a cell, ``pan`` (2, parts)."""

    def __init__(self, parts: Sequence[str], levels: Mapping[str, float]) -> None:
        for part, decibels in levels.items():
            if not LOWEST <= decibels <= HIGHEST:
                raise SoundError(
                    f"A level of {decibels} dB cannot be set for {part}; {LOWEST:g} to {HIGHEST:g} dB would be right."
                )
        master = factor(levels.get(MASTER, 0.0) + HEADROOM)
        self.numbers = {part: number for number, part in enumerate(parts)}
        self.gain = {part: master * factor(levels.get(part, 0.0)) for part in parts}
        self.gains = np.tile([self.gain[part] for part in parts], (2, 1))
        self.pan = np.hstack([sides_of(part) for part in parts]) if parts else np.ones((2, 0))


class _Ringing(Hands):
    """Hands that strike nothing from ``until`` on: what still rings of a string is cut there, as a new stroke would do."""

    def __init__(self, strings: Strings, until: int) -> None:
        super().__init__(strings)
        self._until = until

    def _pluck(self, channel: Any, now: int, pitch: int, velocity: int, part: int, gains: Sound) -> None:
        if now < self._until:
            super()._pluck(channel, now, pitch, velocity, part, gains)
            return
        rings = channel.keys.pop(pitch, None)
        if rings is not None:
            self._strings.cut(rings)
        channel.held.discard(pitch)


def render(
    score: Score, levels: Mapping[str, float] | None = None, tail: int = 0, processes: int | None = None
) -> Iterator[NDArray[np.float32]]:
    """The samples from ``score.first`` to ``tail`` samples after ``score.end``, in order, in pieces of any length.

    What was struck before ``score.first`` and rings on is heard: it is rendered from the beginning and left away. ``processes`` is how many
    may work at it, by default as many as there are processors. Raises SoundError for levels there are none of.
    """
    levels = dict(levels or {})
    end = score.end + tail
    events = [event for event in score.events if event.sample < end]
    struck = tuple(event for event in events if event.part not in (CLICK, DRUMS))
    shots = [event for event in events if event.part in (CLICK, DRUMS)]
    parts = sorted({event.part for event in events})
    desk = _Desk(parts, levels)
    workers = processes if processes is not None else _processors()
    stretches = cut(struck, end, STRETCH) if workers > 1 else []
    if len(stretches) < 2 or max(one.end - one.begin for one in stretches) > LONGEST:
        strings: Iterator[Sound] = _in_one_go(struck, end, parts, levels)
    else:
        strings = _together(stretches, end, parts, levels, workers)
    return _finished(strings, shots, desk, score.first, end)


def _processors() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _finished(
    strings: Iterator[Sound], events: Sequence[SoundEvent], desk: _Desk, first: int, end: int
) -> Iterator[NDArray[np.float32]]:
    """Strokes added, limited, and cut to what is wanted. ``strings`` come in pieces of whole cells, the last one excepted."""
    kits = {CLICK: lambda: Shots(click_sounds(RATE)), DRUMS: lambda: Shots(drum_sounds(RATE), HAT_GROUP)}
    shots = {part: make() for part, make in kits.items() if part in desk.numbers}
    limiter = Limiter(RATE, CELL)
    now, at = 0, 0
    for sound in strings:
        count = sound.shape[1]
        for begin in range(0, count, 8 * CELL) if shots else ():
            piece = sound[:, begin : begin + 8 * CELL]
            until = now + begin + piece.shape[1]
            while at < len(events) and events[at].sample < until:
                shots[events[at].part].play(events[at].sample, events[at].data)
                at += 1
            for part, kit in shots.items():
                if kit.sounding:
                    piece += kit.render(now + begin, piece.shape[1]) * desk.gain[part]
        _limit(limiter, sound)
        if now + count > first:
            yield np.ascontiguousarray(sound[:, max(first - now, 0) :].T, np.float32)
        now += count


def _limit(limiter: Limiter, sound: Sound) -> None:
    """Limit in place; a piece that nothing has to be done to is left alone as a whole."""
    if limiter.reduction == 1.0 and (not sound.size or np.abs(sound).max() <= KNEE):
        return
    for begin in range(0, sound.shape[1], CELL):
        limiter.tick()
        limiter.limit(0, sound[:, begin : begin + CELL])


# ---- strings ----------------------------------------------------------------------------------------------------------------


def _in_one_go(
    events: Sequence[SoundEvent], end: int, parts: Sequence[str], levels: Mapping[str, float]
) -> Iterator[Sound]:
    strings = Strings(RATE)
    return _pieces(Stretch(0, end, tuple(events)), end, strings, _Desk(parts, levels))


def _pieces(stretch: Stretch, end: int, strings: Strings, desk: _Desk) -> Iterator[Sound]:
    """The strings of a stretch from its begin to ``end``, or until none of them sounds, in blocks (2, frames)."""
    hands = _Ringing(strings, stretch.end)
    events, at = stretch.events, 0
    # Ranges and bends that were set before hold; the strings struck before belong to another stretch.
    while at < len(events) and events[at].sample < stretch.begin:
        if events[at].data[0] & 0xE0 != 0x80:
            hands.play(stretch.begin, desk.numbers[events[at].part], events[at].data, desk.gains)
        at += 1
    now, quiet = stretch.begin, 0
    while now < end and (now < stretch.end or quiet < _FADING):
        out = np.zeros((2, min(BLOCK, end - now)))
        done = 0
        while done < out.shape[1]:
            if now % CELL == 0:
                while at < len(events) and events[at].sample < now:
                    hands.play(now, desk.numbers[events[at].part], events[at].data, desk.gains)
                    at += 1
                strings.tick(desk.gains)
                quiet = quiet + 1 if not strings.sounding else 0
            while at < len(events) and events[at].sample <= now:
                hands.play(now, desk.numbers[events[at].part], events[at].data, desk.gains)
                at += 1
            stop = min(now - now % CELL + CELL, now - done + out.shape[1])
            place = at
            while place < len(events) and events[place].sample < stop:
                if is_note_on(events[place].data):
                    stop = events[place].sample
                    break
                place += 1
            strings.render(now, stop - now, desk.pan, out[:, done : done + stop - now])
            done += stop - now
            now = stop
        yield out


def cut(events: Sequence[SoundEvent], end: int, length: int) -> list[Stretch]:
    """Cut a piece into stretches of about ``length`` samples, whole cells each.

    Nowhere is it cut where so many strings sound that one may have to make room for another: who that is depends on all of them.
    """
    places = [0]
    crowded = _crowded(events)
    for place in range(length - length % CELL, end, length - length % CELL):
        if not any(begin < place + length and place < stop for begin, stop in crowded):
            places.append(place)
    own = tuple(events)
    return [Stretch(begin, stop, own) for begin, stop in zip(places, [*places[1:], end], strict=True)]


def _crowded(events: Sequence[SoundEvent]) -> list[tuple[int, int]]:
    """Where (samples, from and to) nearly as many strings sound as can: each counted until it has died away."""
    changes: list[tuple[int, int]] = []
    for event in events:
        if is_note_on(event.data):
            changes.append((event.sample, 1))
        elif event.data[0] & 0xE0 == 0x80:
            changes.append((event.sample + int(losses(event.data[1], False).release_sec * _GONE * RATE), -1))
    changes.sort()
    found: list[tuple[int, int]] = []
    sounding, since = 0, -1
    for sample, change in changes:
        sounding += change
        if sounding > SOUNDING - 4 and since < 0:
            since = sample
        elif sounding <= SOUNDING - 4 and since >= 0:
            found.append((since, sample))
            since = -1
    return found if since < 0 else [*found, (since, changes[-1][0] + LONGEST)]


# ---- several processes ------------------------------------------------------------------------------------------------------

#: What a worker keeps between stretches.
_kept: dict[str, Any] = {}


def _begin(events: tuple[SoundEvent, ...], end: int, parts: Sequence[str], levels: Mapping[str, float]) -> None:
    import signal

    # Whoever interrupts means the whole; the first process ends the others.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _kept.update(events=events, end=end, desk=_Desk(parts, levels))


def _stretch(begin: int, stop: int) -> Sound:
    pieces = _pieces(Stretch(begin, stop, _kept["events"]), _kept["end"], Strings(RATE), _kept["desk"])
    return np.concatenate(list(pieces), axis=1)


def _together(
    stretches: Sequence[Stretch], end: int, parts: Sequence[str], levels: Mapping[str, float], workers: int
) -> Iterator[Sound]:
    """The stretches rendered by several processes and added where one rings into the next."""
    from concurrent.futures import Future, ProcessPoolExecutor

    setup = (stretches[0].events, end, parts, levels)
    pool = ProcessPoolExecutor(min(workers, len(stretches)), initializer=_begin, initargs=setup)
    try:
        coming: deque[tuple[Stretch, Future[Sound]]] = deque()
        waiting = deque(stretches)
        rings = np.zeros((2, 0))
        while waiting or coming:
            # A few ahead, not all: an hour of sound does not fit everywhere.
            while waiting and len(coming) < 2 * workers:
                one = waiting.popleft()
                coming.append((one, pool.submit(_stretch, one.begin, one.end)))
            one, future = coming.popleft()
            sound = future.result()
            if rings.shape[1] > sound.shape[1]:
                sound, rings = rings, sound
            sound[:, : rings.shape[1]] += rings
            count = one.end - one.begin
            rings = sound[:, count:].copy()
            yield sound[:, :count]
    finally:
        pool.shutdown(cancel_futures=True)
