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

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.errors import UserError
from loopdeck.synth import pluck
from loopdeck.synth.delay_line import CELL, TAPS, DelayLines, Reading
from loopdeck.synth.envelope import Envelopes
from loopdeck.synth.loop_filter import LEAST_DELAY, LoopFilters

#: Voices that sound at a time; the rows beyond them hold voices that are being cut off to make
#: room.
SOUNDING = 24
ROWS = 32
#: A wave that began at its full height would be a click of its own: it comes in over so many
#: samples.
FADE_IN = 32

_RISE = 0.5 - 0.5 * np.cos(np.pi * np.arange(1, FADE_IN + 1) / FADE_IN)


class VoiceId(NamedTuple):
    """A voice that was started; its row may belong to another one by now."""

    row: int
    serial: int


class _Plan(NamedTuple):
    """What ``render`` needs of the rows that sound: their filters at the beginning of the cell,
    those of the rows that move at its end, and the factors for each side (2, n).
    """

    loop: Reading
    bent: Reading
    sides: NDArray[np.float64]


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
        self._lines = DelayLines(rows, 8192 if rate <= 48_000 else 16_384)
        self._filters = LoopFilters(self._lines, rate)
        self._envelopes = Envelopes(rows, rate)
        self._active = np.zeros(rows, bool)
        self._rows = np.zeros(0, np.int64)
        self._serial = np.zeros(rows, np.int64)
        self._serials = 0
        self._start = np.zeros(rows, np.int64)
        self._young: list[int] = []
        #: What ``render`` needs, until a start, an end or a bend changes it.
        self._plan: _Plan | None = None
        self._slope = np.arange(CELL) / CELL

    @property
    def sounding(self) -> int:
        """How many voices sound, without those that are being cut off."""
        return int(np.count_nonzero(self._envelopes.sounding(self._active)))

    @property
    def active(self) -> bool:
        """True while anything is to be rendered."""
        return bool(len(self._rows))

    # ---- what the hands do -----------------------------------------------------------------------

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
        periods = int(np.ceil(LEAST_DELAY / period * 2.0 ** (max(reach, bend) / 12.0)))
        loss = pluck.losses(pitch, dead)
        self._serial[row], self._start[row] = self._serials, now
        width2 = self._filters.start(row, period * periods, loss.ring_sec, loss.dulling, bend)
        self._envelopes.start(row, part, pluck.loudness(velocity), loss.ring_sec, gains)
        if dead:
            self._envelopes.release(row, loss.release_sec * 4.0)
        count = min(int(1.3 * period * periods) + TAPS + CELL, self._lines.past)
        bent = period * 2.0 ** (-bend / 12.0)
        turn = np.log(1000.0) / (self._rate * loss.ring_sec)
        dull = width2 / 2.0 * (2.0 * np.pi / bent) ** 2 / (bent * periods)
        self._lines.fill(row, now, pluck.start_wave(pitch, velocity, dead, bent, count, turn + dull))
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
        if not self.sounds(voice) or self._envelopes.is_cut(row) or not self._filters.reaches(row, semitones):
            return False
        ring_sec = pluck.losses(pitch, False).ring_sec
        self._filters.lose(row, ring_sec)
        self._envelopes.go_on(row, pluck.loudness(max(velocity, pluck.DEAD_BELOW)), ring_sec)
        self.bend(voice, semitones)
        return True

    def release(self, voice: VoiceId, pitch: int) -> None:
        """Damp a voice: from the next cell on it dies away."""
        if self.sounds(voice):
            self._envelopes.release(voice.row, pluck.losses(pitch, False).release_sec)

    def cut(self, voice: VoiceId) -> None:
        """Take a voice away within some milliseconds."""
        if self.sounds(voice):
            self._envelopes.cut(voice.row)

    def bend(self, voice: VoiceId, semitones: float) -> None:
        """Send a voice to another bend, which it reaches smoothly within some 10 ms."""
        if self.sounds(voice):
            self._filters.bend(voice.row, semitones)

    def sounds(self, voice: VoiceId) -> bool:
        """True while the voice has not died away and was not taken for another note."""
        return bool(self._active[voice.row]) and int(self._serial[voice.row]) == voice.serial

    # ---- time ------------------------------------------------------------------------------------

    def tick(self, gains: NDArray[np.float64]) -> None:
        """Decide the next cell. ``gains`` (2, parts): factors at its beginning and its end."""
        if not len(self._rows):
            return
        ended = self._envelopes.ended(self._active)
        if ended.any():
            self._active[ended] = False
            self._change_rows()
        self._envelopes.tick(gains)
        if self._filters.bending:
            self._filters.tick(self._active)
            self._plan = None

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
            self._plan = self._planned(rows, pan)
        loop, bent, sides = self._plan
        wave = self._lines.read(loop, now, count)
        if self._filters.bending:
            moving = np.flatnonzero(self._filters.moving[rows])
            wave[moving] += (self._lines.read(bent, now, count) - wave[moving]) * slope
        self._lines.write(rows, now, wave)
        if self._young:
            self._fade_in(rows, wave, now, count)
        self._mix(wave, sides, slope, out)

    def _planned(self, rows: NDArray[np.int64], pan: NDArray[np.float64]) -> _Plan:
        moving = np.flatnonzero(self._filters.moving)
        sides = pan[:, self._envelopes.parts(rows)]
        return _Plan(self._filters.reading(rows, 0), self._filters.reading(moving, 1), sides)

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
        begin, end = self._envelopes.weight[:, self._rows]
        sums = np.einsum("vn,kv->kn", wave, np.concatenate((sides * begin, sides * (end - begin))))
        out += sums[:2] + sums[2:] * slope

    def _fade_in(self, rows: NDArray[np.int64], wave: NDArray[np.float64], now: int, count: int) -> None:
        for row in self._young:
            age = int(now - self._start[row])
            rise = _RISE[age : age + count]
            wave[np.searchsorted(rows, row), : len(rise)] *= rise
        self._young = [row for row in self._young if now + count - self._start[row] < FADE_IN]

    # ---- rows ------------------------------------------------------------------------------------

    def _change_rows(self) -> None:
        self._rows = np.flatnonzero(self._active)
        self._plan = None

    def _make_room(self) -> int:
        """A free row; where enough strings sound, the one that is heard least makes room and fades
        away quickly.
        """
        heard = self._envelopes.heard(self._active)
        if np.count_nonzero(np.isfinite(heard)) >= self._most:
            # Equals: the oldest goes.
            least = np.flatnonzero(heard == heard.min())
            self._envelopes.cut(int(least[np.argmin(self._serial[least])]))
        free = np.flatnonzero(~self._active)
        if len(free):
            return int(free[0])
        row = self._envelopes.faintest_cut()
        self._young = [young for young in self._young if young != row]
        return row
