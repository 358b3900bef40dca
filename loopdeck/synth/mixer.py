"""The whole built-in sound: events in, samples out, with a level and a mute for every part.

Conventions
    Samples are counted from 0 by whoever asks for them; output is float32, shape (frames, 2), left
    first, each in [-1, 1]. Parts: ``click``, ``drums``, ``live``, ``layer:N``; levels are set for
    them and for ``master``, in dB, ``LOWEST`` to ``HIGHEST``. With everything at 0 dB the hardest
    note peaks at ``HEADROOM`` (-9 dB of full scale). ``master`` starts at ``MASTER_START`` and the
    other parts at 0 dB, so a session starts quiet: at most -27 dB of full scale for one note.
    Layers are set a little to the left and the right in turn, so that the ear can tell them apart;
    all else is in the middle. What is set takes effect at the next cell and gets there smoothly
    (some 10 ms). Nothing here waits, locks or raises while rendering: one thread at a time may call
    in. The same events give the same samples however rendering is cut into blocks.
"""

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from loopdeck.errors import UserError
from loopdeck.synth import pluck
from loopdeck.synth.band import Band
from loopdeck.synth.click import click_sounds
from loopdeck.synth.delay_line import CELL
from loopdeck.synth.drums import HAT_GROUP, drum_sounds
from loopdeck.synth.events import CLICK, DRUMS, HIGHEST, LIVE, LOWEST, MASTER, EventQueue, SoundEvent, layer_number
from loopdeck.synth.limiter import Limiter
from loopdeck.synth.one_shots import OneShots

#: dB of full scale that the hardest note peaks at when every level is 0 dB.
HEADROOM = -9.0
#: dB the master starts at: quiet.
MASTER_START = -18.0

_PAN = 0.25
_GAIN_SPEED = 0.4


def factor(decibels: float) -> float:
    """The factor of a level in dB."""
    return float(10.0 ** (decibels / 20.0))


def sides_of(part: str) -> NDArray[np.float64]:
    """The factors of a part left and right, shape (2, 1). Raises UserError if it is not a part."""
    layer = layer_number(part)
    pan = 0.0 if layer is None else _PAN * (1 if layer % 2 == 0 else -1)
    angle = (pan + 1.0) * math.pi / 4.0
    gains: NDArray[np.float64] = np.sqrt(2.0) * np.array([[math.cos(angle)], [math.sin(angle)]])
    return gains


class Mixer:
    """``rate`` in samples a second, 32,000 to 96,000. Raises UserError for another one."""

    def __init__(self, rate: int = 48_000) -> None:
        self._band = Band(rate)
        # Made now, not when a note is waited for.
        for pitch in range(23, 73):
            pluck.pluck(pitch)
        self._shots = {CLICK: OneShots(click_sounds(rate)), DRUMS: OneShots(drum_sounds(rate), HAT_GROUP)}
        self._limiter = Limiter(rate, CELL)
        self._string_events, self._shot_events = EventQueue(), EventQueue()
        self._now = 0
        self._moving = True
        self._levels = {MASTER: MASTER_START}
        self._muted: set[str] = set()
        self._numbers: dict[str, int] = {}
        # (2, parts): factors at the beginning and the end of the cell, for what sounds; where they
        # go; left and right.
        self._gains = np.zeros((2, 0))
        self._targets = np.zeros(0)
        self._pan = np.ones((2, 0))
        for part in (CLICK, DRUMS, LIVE):
            self._number(part)
        #: What to add to the time in here for the caller's: it counts from the first sample ever
        #: asked for, without gaps.
        self._offset = 0
        self._slope = np.arange(CELL) / CELL

    # ---- levels ----------------------------------------------------------------------------------

    def set_level(self, part: str, decibels: float) -> None:
        """Set the level of a part or of ``master``.

        Raises UserError if it is not a part or not a level.
        """
        if not LOWEST <= decibels <= HIGHEST:
            raise UserError(
                f"A level of {decibels} dB cannot be set for {part}; {LOWEST:g} to {HIGHEST:g} dB would be right."
            )
        self._known(part)
        self._levels[part] = float(decibels)
        self._aim()

    def level(self, part: str) -> float:
        """The level of a part or of ``master`` in dB. Raises UserError if it is not a part."""
        self._known(part)
        return self._levels.get(part, 0.0)

    def set_mute(self, part: str, muted: bool) -> None:
        """Silence a part or ``master``, or let it sound again at its level.

        Raises UserError if it is not a part.
        """
        self._known(part)
        (self._muted.add if muted else self._muted.discard)(part)
        self._aim()

    def muted(self, part: str) -> bool:
        """True while a part or ``master`` is muted. Raises UserError if it is not a part."""
        self._known(part)
        return part in self._muted

    def _known(self, part: str) -> None:
        if part != MASTER:
            self._number(part)

    def _number(self, part: str) -> int:
        """The number of a part, made for a layer that is new."""
        number = self._numbers.get(part)
        if number is None:
            sides = sides_of(part)
            number = self._numbers[part] = len(self._numbers)
            self._pan = np.hstack((self._pan, sides))
            self._targets = np.append(self._targets, 0.0)
            self._aim()
            self._gains = np.hstack((self._gains, np.full((2, 1), self._targets[number])))
        return number

    def _aim(self) -> None:
        """Where the factors go: level and mute of the part and of the master in one."""
        master = 0.0 if MASTER in self._muted else factor(self._levels[MASTER] + HEADROOM)
        for part, number in self._numbers.items():
            self._targets[number] = 0.0 if part in self._muted else master * factor(self._levels.get(part, 0.0))
        if self._now == 0:
            # Nothing was heard yet, so nothing has to be smooth.
            self._gains[:] = self._targets[: self._gains.shape[1]]
        self._moving = True

    # ---- events ----------------------------------------------------------------------------------

    def feed(self, events: Iterable[SoundEvent]) -> None:
        """Take events, in any order, for any time to come; one that is late takes effect at once.

        Raises UserError, and takes none of them, if one is for something that is not a part.
        """
        events = list(events)
        for event in events:
            self._number(event.part)
        self._shot_events.push(event for event in events if event.part in self._shots)
        self._string_events.push(event for event in events if event.part not in self._shots)

    def silence(self) -> None:
        """Forget what waits and cut off what sounds."""
        self._string_events.clear()
        self._shot_events.clear()
        self._band.silence()
        for shots in self._shots.values():
            shots.stop(self._now)

    @property
    def voices(self) -> int:
        """How many strings sound."""
        return self._band.sounding

    # ---- time ------------------------------------------------------------------------------------

    def render(self, start_sample: int, frames: int) -> NDArray[np.float32]:
        """The samples from ``start_sample`` on, shape (frames, 2).

        Blocks usually follow one another. Where one does not (the device stumbled), what sounds
        goes on where it was, and events count from the new place on.
        """
        out = np.zeros((2, frames))
        self._offset = start_sample - self._now
        end, done = self._now + frames, 0
        while self._now < end:
            inside = self._now % CELL
            if inside == 0:
                # What came during the last cell bears on this one, wherever a block happened to end
                # in between.
                self._play_strings(self._now)
                self._tick()
            self._play_strings(self._now + 1)
            cell_end = min(end, self._now - inside + CELL)
            # Not the whole block at once: a kit has room for so many strokes, those that have
            # sounded make room for others.
            for event in self._shot_events.take(cell_end + self._offset):
                self._shots[event.part].play(max(event.sample - self._offset, self._now), event.data)
            stop = self._string_events.next_note_on(cell_end + self._offset) - self._offset
            count = stop - self._now
            self._render_piece(inside, count, out[:, done : done + count])
            self._now = stop
            done += count
        return np.ascontiguousarray(out.T, np.float32)

    def _play_strings(self, until: int) -> None:
        for event in self._string_events.take(until + self._offset):
            self._band.play(self._now, self._numbers[event.part], event.data, self._gains)

    def _tick(self) -> None:
        if self._moving:
            self._gains[0] = self._gains[1]
            left = self._targets - self._gains[1]
            self._gains[1] = np.where(np.abs(left) < 1e-6, self._targets, self._gains[1] + _GAIN_SPEED * left)
            self._moving = bool(left.any())
        self._band.tick(self._gains)
        self._limiter.tick()

    def _render_piece(self, inside: int, count: int, out: NDArray[np.float64]) -> None:
        self._band.render(self._now, self._pan, self._gains, self._slope[inside : inside + count], out)
        for part, shots in self._shots.items():
            if shots.sounding:
                begin, end = self._gains[:, self._numbers[part]]
                out += shots.render(self._now, count) * (begin + (end - begin) * self._slope[inside : inside + count])
        self._limiter.limit(inside, out)
