"""A plucked bass string, many at once: a loop of delay and loss for each voice.

Task
    Voices that start at any sample, ring, bend, are let go and die away, rendered piece by piece:
    the same samples come out however the time is cut into pieces.

Conventions
    Time is counted in samples from 0, in *cells* of ``CELL`` samples. What changes slowly (bend,
    levels, fading) is decided once a cell, in ``tick``, and moves in a straight line through it;
    starts are exact to the sample. Voices are rows of the arrays here. Bends in semitones, delays
    in samples. Gains come in by part, as factors at the beginning and at the end of the cell.

Method
    Karplus & Strong, "Digital Synthesis of Plucked-String and Drum Timbres", Computer Music Journal
    7(2), 1983: a delay line of one period, refilled through a low-pass filter; with the extensions
    of Jaffe & Smith, "Extensions of the Karplus-Strong Plucked-String Algorithm", same issue: exact
    tuning, decay times, plucking position, dynamics (see ``pluck.py`` for the wave it starts with).
    Their averaging filter and their tuning all-pass are one filter here, ``TAPS`` points of a bell
    curve (Gaussian) centred on the exact, fractional delay: its width is the loss that grows with
    the square of the frequency, its sum (below 1) the loss common to all frequencies, and its
    centre the period. For widths of some 0.7 samples and more, delay and gain of such a filter do
    not depend on where the centre lies between two samples (the error falls with exp(-2 pi^2
    width^2): Poisson's sum), so every note is in tune. The taps are positive and their sum is below
    1: no input and no bend can make the loop grow. No tap reaches back less than a cell, so a whole
    cell of all voices is one array operation. Where a period is shorter than that (above the neck)
    the loop holds several periods. A bend moves the delay once a cell, with a straight cross-fade
    from the old filter to the new one.
"""

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.errors import UserError
from loopdeck.synth import pluck

#: Samples between two decisions, and the most that is rendered at once.
CELL = 128
TAPS = 16
#: Voices that sound at a time; the rows beyond them hold voices that are being cut off to make
#: room.
SOUNDING = 24
ROWS = 32
#: A wave that began at its full height would be a click of its own: it comes in over so many
#: samples.
FADE_IN = 32

_RISE = 0.5 - 0.5 * np.cos(np.pi * np.arange(1, FADE_IN + 1) / FADE_IN)
_HALF = (TAPS - 1) / 2.0
_LEAST_DELAY = CELL + _HALF + 1.0
_WIDTH_SQUARED = (0.5, 4.5)
_CUT = 0.25
_SILENT = 2e-4
_INAUDIBLE = 1e-4
_BEND_SPEED = 0.6
_HELD = 1.0
#: What a hammering or pulling finger makes of the level of a string that rings (common practice, no
#: source).
_LEAST_TAP, _MOST_TAP = 0.5, 1.5


class VoiceId(NamedTuple):
    """A voice that was started; its row may belong to another one by now."""

    row: int
    serial: int


class _Loop(NamedTuple):
    """What the filter needs of some rows: where they begin in the flat ring, the oldest sample it
    reads, and its taps.
    """

    row_start: NDArray[np.int64]
    delay: NDArray[np.int64]
    taps: NDArray[np.float64]


class Strings:
    """Up to ``sounding`` strings, in more ``rows`` than that.

    ``rate`` in samples a second, 32,000 to 96,000.
    """

    def __init__(self, rate: int = 48_000, sounding: int = SOUNDING, rows: int = ROWS) -> None:
        if not 32_000 <= rate <= 96_000:
            raise UserError(
                f"The built-in strings cannot play at {rate} samples a second; 32000 to 96000 would be right."
            )
        self._rate = rate
        self._most = sounding
        #: Samples of the past that a row keeps, and a copy of its beginning so that no reading runs
        #: over the edge.
        self._past = 8192 if rate <= 48_000 else 16_384
        self._ring = np.zeros((rows, self._past + 2 * CELL))
        self._flat = self._ring.reshape(-1)
        self._row_start = np.arange(rows) * self._ring.shape[1]
        self._active = np.zeros(rows, bool)
        self._rows = np.zeros(0, np.int64)
        self._serial = np.zeros(rows, np.int64)
        self._serials = 0
        self._part = np.zeros(rows, np.int64)
        self._start = np.zeros(rows, np.int64)
        self._young: list[int] = []
        # The loop: period at rest times periods in the loop; losses; the bend now and where it
        # goes.
        self._length = np.ones(rows)
        self._ring_sec = np.ones(rows)
        self._width2 = np.ones(rows)
        self._bend = np.zeros(rows)
        self._bend_to = np.zeros(rows)
        self._moving = np.zeros(rows, bool)
        self._bending = False
        #: What ``render`` needs of the rows that sound, until a start, an end or a bend changes it.
        self._plan: tuple[_Loop, _Loop, NDArray[np.float64]] | None = None
        self._delay = np.zeros((2, rows), np.int64)
        self._taps = np.zeros((2, rows, TAPS))
        # Levels: of the pluck, as the tone dies away, of the release; and what they come to at both
        # ends of the cell.
        self._level = np.zeros(rows)
        self._loud = np.zeros(rows)
        self._dying = np.ones(rows)
        self._fade = np.zeros(rows)
        self._fall = np.ones(rows)
        self._weight = np.zeros((2, rows))
        self._slope = np.arange(CELL) / CELL
        self._reach = np.arange(CELL + TAPS - 1)

    @property
    def sounding(self) -> int:
        """How many voices sound, without those that are being cut off."""
        return int(np.count_nonzero(self._active & (self._fall > _CUT)))

    @property
    def active(self) -> bool:
        """True while anything is to be rendered."""
        return bool(len(self._rows))

    # ---- what the hands do ----------------------------------------------------------------------------------------------

    def start(
        self, now: int, pitch: int, velocity: int, part: int, gains: NDArray[np.float64], bend: float = 0.0, reach: float = 2.0,
        dead: bool | None = None,
    ) -> VoiceId:  # fmt: skip
        """Pluck a string at the sample ``now``, which has to be the next one rendered.

        ``pitch`` 0 to 127, ``velocity`` 1 to 127; ``part`` indexes ``gains`` (2, parts). ``bend``
        in semitones, and the ``reach`` upward it may get to. ``dead`` makes a muted note or
        prevents one; by default a velocity below ``DEAD_BELOW`` does.
        """
        if dead is None:
            dead = velocity < pluck.DEAD_BELOW
        row = self._make_room()
        self._serials += 1
        period = self._rate / pluck.frequency(pitch)
        periods = int(np.ceil(_LEAST_DELAY / period * 2.0 ** (max(reach, bend) / 12.0)))
        loss = pluck.losses(pitch, dead)
        self._serial[row] = self._serials
        self._part[row], self._start[row] = part, now
        self._length[row], self._ring_sec[row] = period * periods, loss.ring_sec
        # Decay of dulling * f^2 a second is exp(-width^2 w^2 / 2) a turn, w = 2 pi f / rate.
        width2 = 2.0 * loss.dulling * period * periods * self._rate / (4.0 * np.pi**2)
        self._width2[row] = min(max(width2, _WIDTH_SQUARED[0]), _WIDTH_SQUARED[1])
        self._bend[row] = self._bend_to[row] = bend
        self._moving[row] = False
        aimed = _aimed(
            self._length[row] * 2.0 ** (-bend / 12.0), self._width2[row], loss.ring_sec * self._rate, self._past
        )
        self._delay[:, row], self._taps[:, row] = aimed
        self._level[row], self._loud[row] = pluck.loudness(velocity), 1.0
        self._dying[row] = self._falling(loss.ring_sec)
        self._fade[row] = 1.0
        self._fall[row] = _HELD if not dead else self._falling(loss.release_sec * 4.0)
        self._weight[:, row] = self._level[row] * gains[:, part]
        count = min(int(1.3 * period * periods) + TAPS + CELL, self._past)
        bent = period * 2.0 ** (-bend / 12.0)
        turn = np.log(1000.0) / (self._rate * loss.ring_sec)
        dull = self._width2[row] / 2.0 * (2.0 * np.pi / bent) ** 2 / (bent * periods)
        self._write_past(row, now, pluck.start_wave(pitch, velocity, dead, bent, count, turn + dull))
        self._active[row] = True
        self._young.append(row)
        self._change_rows()
        return VoiceId(row, self._serials)

    def go_on(self, voice: VoiceId, pitch: int, velocity: int, semitones: float) -> bool:
        """A finger of the other hand takes a string that rings to another ``pitch``, without a new
        pluck: the loop gets there as with a bend, ``semitones`` from where it was struck.

        False, and nothing done, where the string does not ring any more or cannot get there.
        """
        row = voice.row
        if not self.sounds(voice) or self._fall[row] <= _CUT:
            return False
        if self._length[row] * 2.0 ** (-semitones / 12.0) < _LEAST_DELAY:
            return False
        loss = pluck.losses(pitch, False)
        self._ring_sec[row], self._dying[row] = loss.ring_sec, self._falling(loss.ring_sec)
        self._fall[row] = _HELD
        # The finger gives or takes a little of what the string has, never the whole of a pluck.
        rings = self._level[row] * self._loud[row] * self._fade[row]
        wanted = pluck.loudness(max(velocity, pluck.DEAD_BELOW)) / max(rings, 1e-6)
        self._level[row] *= min(max(wanted, _LEAST_TAP), _MOST_TAP)
        self.bend(voice, semitones)
        return True

    def release(self, voice: VoiceId, pitch: int) -> None:
        """Damp a voice: from the next cell on it dies away."""
        if self.sounds(voice):
            self._fall[voice.row] = min(self._fall[voice.row], self._falling(pluck.losses(pitch, False).release_sec))

    def cut(self, voice: VoiceId) -> None:
        """Take a voice away within some milliseconds."""
        if self.sounds(voice):
            self._fall[voice.row] = min(self._fall[voice.row], _CUT)

    def bend(self, voice: VoiceId, semitones: float) -> None:
        """Send a voice to another bend, which it reaches smoothly within some 10 ms."""
        if self.sounds(voice):
            self._bend_to[voice.row] = semitones
            self._bending = True

    def sounds(self, voice: VoiceId) -> bool:
        """True while the voice has not died away and was not taken for another note."""
        return bool(self._active[voice.row]) and int(self._serial[voice.row]) == voice.serial

    # ---- time -----------------------------------------------------------------------------------------------------------

    def tick(self, gains: NDArray[np.float64]) -> None:
        """Decide the next cell. ``gains`` (2, parts): factors at its beginning and its end."""
        if not len(self._rows):
            return
        # All rows at once, also those that rest (their fade is 0): quicker than picking out the
        # ones that sound.
        ended = self._active & (self._fade == 0.0)
        if ended.any():
            self._active[ended] = False
            self._change_rows()
        self._loud *= self._dying
        before = self._level * self._fade
        self._fall[self._loud * before < _INAUDIBLE] = _CUT
        self._fade *= self._fall
        self._fade[self._fade < _SILENT] = 0.0
        np.multiply(before, gains[0, self._part], out=self._weight[0])
        np.multiply(self._level * self._fade, gains[1, self._part], out=self._weight[1])
        if self._bending:
            self._tick_bends()

    def _tick_bends(self) -> None:
        was = np.flatnonzero(self._moving)
        self._taps[0, was], self._delay[0, was] = self._taps[1, was], self._delay[1, was]
        self._moving[:] = self._active & (self._bend != self._bend_to)
        goes = np.flatnonzero(self._moving)
        if len(goes):
            left = self._bend_to[goes] - self._bend[goes]
            self._bend[goes] = np.where(np.abs(left) < 2e-4, self._bend_to[goes], self._bend[goes] + _BEND_SPEED * left)
            self._aim(goes, 1)
        self._bending = bool(len(goes))
        self._plan = None

    def _aim(self, rows: NDArray[np.int64], which: int) -> None:
        """Set the filter ``which`` (0 for the beginning of the cell, 1 for its end) of some rows to
        their bend.
        """
        delay = self._length[rows] * 2.0 ** (-self._bend[rows] / 12.0)
        ring = self._ring_sec[rows] * self._rate
        self._delay[which, rows], self._taps[which, rows] = _filters(delay, self._width2[rows], ring, self._past)

    def render(self, now: int, count: int, pan: NDArray[np.float64], out: NDArray[np.float64]) -> None:
        """Add ``count`` samples from ``now`` on to ``out`` (2, count); they must lie within one
        cell. ``pan`` is (2, parts).
        """
        rows = self._rows
        if not len(rows):
            return
        inside = now % CELL
        slope = self._slope[inside : inside + count]
        if self._plan is None:
            self._plan = (self._loop(rows, 0), self._loop(np.flatnonzero(self._moving), 1), pan[:, self._part[rows]])
        loop, bent, sides = self._plan
        wave = self._filtered(loop, now, count)
        if self._bending:
            moving = np.flatnonzero(self._moving[rows])
            wave[moving] += (self._filtered(bent, now, count) - wave[moving]) * slope
        place = now & (self._past - 1)
        self._ring[rows, place : place + count] = wave
        if place < 2 * CELL:
            self._ring[rows, self._past + place : self._past + place + count] = wave
        if self._young:
            self._fade_in(rows, wave, now, count)
        self._mix(wave, sides, slope, out)

    def _mix(
        self,
        wave: NDArray[np.float64],
        sides: NDArray[np.float64],
        slope: NDArray[np.float64],
        out: NDArray[np.float64],
    ) -> None:
        """Add the rows that sound, (rows, count), to ``out``, by their factors for each side and
        their weights.
        """
        # Each side's sum at the cell's beginning, and what the weights change towards its end, in
        # one go.
        begin, end = self._weight[:, self._rows]
        sums = np.einsum("vn,kv->kn", wave, np.concatenate((sides * begin, sides * (end - begin))))
        out += sums[:2] + sums[2:] * slope

    def _loop(self, rows: NDArray[np.int64], which: int) -> _Loop:
        return _Loop(self._row_start[rows], self._delay[which, rows], self._taps[which, rows])

    def _filtered(self, loop: _Loop, now: int, count: int) -> NDArray[np.float64]:
        first = loop.row_start + ((now - loop.delay) & (self._past - 1))
        heard = self._flat.take(first[:, None] + self._reach[: count + TAPS - 1])
        step, next_row = heard.itemsize, heard.strides[0]
        windows = np.ndarray((len(heard), count, TAPS), np.float64, heard, 0, (next_row, step, step))
        return np.einsum("vnk,vk->vn", windows, loop.taps)

    def _fade_in(self, rows: NDArray[np.int64], wave: NDArray[np.float64], now: int, count: int) -> None:
        for row in self._young:
            age = int(now - self._start[row])
            rise = _RISE[age : age + count]
            wave[np.searchsorted(rows, row), : len(rise)] *= rise
        self._young = [row for row in self._young if now + count - self._start[row] < FADE_IN]

    # ---- rows -----------------------------------------------------------------------------------------------------------

    def _change_rows(self) -> None:
        self._rows = np.flatnonzero(self._active)
        self._plan = None

    def _falling(self, seconds: float) -> float:
        """The factor a cell that falls by 60 dB in so many seconds."""
        return float(10.0 ** (-3.0 * CELL / self._rate / seconds))

    def _write_past(self, row: int, now: int, wave: NDArray[np.float64]) -> None:
        line = self._ring[row]
        begin = (now - len(wave)) & (self._past - 1)
        until_edge = min(self._past - begin, len(wave))
        line[begin : begin + until_edge] = wave[:until_edge]
        line[: len(wave) - until_edge] = wave[until_edge:]
        line[self._past :] = line[: 2 * CELL]

    def _make_room(self) -> int:
        """A free row; where enough strings sound, the one that is heard least makes room and fades
        away quickly.
        """
        active = self._active
        heard = np.where(active & (self._fall > _CUT), self._level * self._loud * self._fade, np.inf)
        if np.count_nonzero(np.isfinite(heard)) >= self._most:
            # Equals: the oldest goes.
            least = np.flatnonzero(heard == heard.min())
            self._fall[least[np.argmin(self._serial[least])]] = _CUT
        free = np.flatnonzero(~active)
        if len(free):
            return int(free[0])
        fading = np.where(self._fall <= _CUT, self._weight[1], np.inf)
        row = int(np.argmin(fading))
        self._young = [young for young in self._young if young != row]
        return row


# ---- the filter -------------------------------------------------------------------------------------------------------------


def _filters(
    delay: NDArray[np.float64], width2: NDArray[np.float64], ring: NDArray[np.float64], past: int
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Filters for loops of these delays, squared widths, and samples to fall by 60 dB, shape (n,).

    Returns how far back the oldest sample lies that each reads (n,), and its taps (n, TAPS), the
    oldest first.
    """
    delay = np.clip(delay, _LEAST_DELAY, past - 2.0 * CELL)
    first = np.floor(delay - _HALF + 0.5)
    away = np.arange(TAPS - 1, -1, -1) + (first - delay)[:, None]
    bell = np.exp(away**2 / (-2.0 * width2[:, None]))
    turn = 10.0 ** (-3.0 * delay / ring)
    return first.astype(np.int64) + TAPS - 1, bell * (turn / bell.sum(axis=1))[:, None]


@lru_cache(maxsize=512)
def _aimed(delay: float, width2: float, ring: float, past: int) -> tuple[int, NDArray[np.float64]]:
    """The same for one loop.

    Riffs repeat their notes, so the last ones are kept; not to be written to.
    """
    oldest, taps = _filters(np.array([delay]), np.array([width2]), np.array([ring]), past)
    return int(oldest[0]), taps[0]
