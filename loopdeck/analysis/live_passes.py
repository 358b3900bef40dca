"""What each pass brought, while playing goes on: the riff that came back, and the feel and the
scale of the last passes.

Conventions
    Passes count from 0. Places are quarters from the start of a pass (a little below 0 for an early
    downbeat), times seconds of any clock that runs on. One ``LivePasses`` is fed every pass once,
    in order; it costs some milliseconds a pass and is meant for a process beside the one that
    plays.

Calm
    A riff is spoken of from its third time on: two returns of a short one are chance as often as
    not. The swing and the scale are told from the last four passes, and stay as they were told
    until what is found clearly differs: the swing by two points of the pair, the scale by leaving
    notes outside. A remark on the timing or the scale speaks of four passes, so it comes after
    every fourth at most.
"""

from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.feel import FeelFound, measure
from loopdeck.analysis.live import AGAIN, LEAST_NOTES, worst
from loopdeck.analysis.repeats.live import REMEMBERED_SEC, Recurrence, Recurrences
from loopdeck.analysis.repeats.naming import RiffNames
from loopdeck.analysis.scale_features import strength
from loopdeck.analysis.scale_finder import Playing, Ranked, playing_of, rank
from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.brief.brief import Brief
from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.meter import Cycle
from loopdeck.rhythm.quantize import slots
from loopdeck.rhythm.swing import Swing
from loopdeck.rhythm.tempo import TempoMap, parse_tempo
from loopdeck.theory.scale import Scale

Floats = NDArray[np.float64]

#: Feel and scale are those of so many passes; a riff is spoken of from so many times on.
LAST_PASSES, LEAST_TIMES = 4, 3
#: Once there are so many passes, their feel and scale are looked at after every other one.
_LOOK_EVERY = 2
#: From more times on than this, a remark on the timing comes first.
_TOLD_TIMES = 4
#: Which riffs stand in a pass is told of so many passes.
TOLD_PASSES = 64
#: The 95 % interval of a swing that is told is at most so wide, and it must move so far to be told
#: anew; shares of the pair.
_WIDEST, _MOVED = 0.06, 0.02
#: A scale is told when it is at least so likely, among the likeliest so many, and at most so large
#: a share of the notes lies outside.
_SURE, _TRIED, _OUTSIDE, _CERTAIN = 0.35, 5, 0.06, 0.9
#: One that was told stays among the likeliest and with a larger share outside.
_LEFT = 0.1
#: A note so little before a bar line belongs to the next bar, in quarters: half a sixteenth, as for
#: the places of a grid of sixteenths.
EARLY_Q = 0.125
_UNITS = {"1/8": "8ths", "1/16": "16ths"}


class PassNotes(NamedTuple):
    """A pass that has ended: its number, its cycle, its tempo in quarters a minute, and its k notes
    in order of onset, shape (k,) each. ``onset_sec`` is the moment, ``at_q`` the place."""

    pass_index: int
    cycle: Cycle
    qpm: float
    onset_sec: Floats
    at_q: Floats
    length_q: Floats
    pitch: NDArray[np.int64]
    velocity: Floats


class PassFound(NamedTuple):
    """What to say after a pass. ``about``: ``riff``, ``feel``, or "" for no ``text``.
    ``riff_passes``:
    where the riff of this pass stands, ``whole_passes`` those of them that hold all of it at least
    once. ``feel`` and ``scale``: a few words on the last passes, "" for nothing sure. ``riffs``:
    (pass, letter) of each riff in each of the last passes; the letter is the riff's own."""

    text: str = ""
    about: str = ""
    riff_passes: tuple[int, ...] = ()
    whole_passes: tuple[int, ...] = ()
    feel: str = ""
    scale: str = ""
    riffs: tuple[tuple[int, str], ...] = ()


@dataclass
class LivePasses:
    """Remembers ten minutes of notes, and the last passes."""

    _recurrences: Recurrences = field(default_factory=Recurrences)
    _last: list[PassNotes] = field(default_factory=list)
    _run_q: float = 0.0
    _run_bars: int = 0
    _moments: Floats = field(default_factory=lambda: np.zeros(0))
    _homes: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, np.int64))
    _share: dict[str, float] = field(default_factory=dict)
    _quiet: int = 0
    _looked: int = 0
    _feel: str = ""
    _scale: Scale | None = None
    _called: str = ""
    _own: Scale | None = None
    _names: RiffNames = field(default_factory=RiffNames)
    _riffs: dict[tuple[int, str], None] = field(default_factory=dict)

    def heard(self, one: PassNotes, brief: Brief) -> PassFound:
        """What the pass brought, played in this brief."""
        if brief.scale != self._own:
            # What was told was told beside the scale of before.
            self._own, self._scale = brief.scale, None
        if self._last and self._last[-1].cycle != one.cycle:
            self._last.clear()
        start_q = self._run_q
        self._run_q += float(one.cycle.quarters)
        self._run_bars += len(one.cycle.meters)
        if not len(one.pitch):
            return PassFound(feel=self._feel, scale=self._explains(), riffs=tuple(self._riffs))
        self._last = [*self._last, one][-LAST_PASSES:]
        riff = self._riff(one, start_q)
        standing, whole = self._passes(riff) if riff is not None else ((), ())
        if riff is not None:
            self._name(self._names.name(riff), standing, one.pass_index)
        remark = self._look_back(brief) if self._looks() else None
        self._quiet -= 1
        text, about = (remark, "feel") if remark and self._quiet <= 0 else ("", "")
        if text:
            self._quiet = LAST_PASSES
        # Who goes round and round in one riff has heard so, and may hear of the timing in between.
        if riff is not None and riff.times >= LEAST_TIMES and not (text and riff.times > _TOLD_TIMES):
            text, about = f"{riff}.", "riff"
        return PassFound(text, about, standing, whole, self._feel, self._explains(), tuple(self._riffs))

    # ---- riffs ----------------------------------------------------------------------------------

    def _riff(self, one: PassNotes, start_q: float) -> Recurrence | None:
        sec_per_q = 60.0 / one.qpm
        moments = np.concatenate((self._moments, one.onset_sec))
        homes = np.concatenate((self._homes, np.full(len(one.pitch), one.pass_index, np.int64)))
        order = np.argsort(moments, kind="stable")
        recent = order[moments[order] >= moments.max() - REMEMBERED_SEC - 1.0]
        self._moments, self._homes = moments[recent], homes[recent]
        onset_q, length_sec = start_q + one.at_q, one.length_q * sec_per_q
        bars = _bars(one.cycle, one.at_q, self._run_bars)
        return self._recurrences.heard(one.onset_sec, length_sec, one.pitch, onset_q, bars)

    def _passes(self, riff: Recurrence) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Where it stands, and where all of it does."""
        standing, whole = set(), set()
        for first, last in zip(riff.starts_sec, riff.lasts_sec, strict=True):
            # They are rounded to a microsecond.
            within = (self._moments >= first - 1e-5) & (self._moments <= last + 1e-5)
            homes = {int(home) for home in self._homes[within]}
            standing |= homes
            whole |= homes if len(homes) == 1 else set()
        return tuple(sorted(standing)), tuple(sorted(whole))

    def _name(self, letter: str, passes: tuple[int, ...], newest: int) -> None:
        """A riff stands in these passes."""
        named = {**self._riffs, **dict.fromkeys((index, letter) for index in passes)}
        self._riffs = {one: None for one in sorted(named) if one[0] > newest - TOLD_PASSES}

    # ---- feel and scale -------------------------------------------------------------------------

    def _looks(self) -> bool:
        """Whether it is time to look back: new passes tell much at first, and little later."""
        self._looked = (self._looked + 1) % _LOOK_EVERY if len(self._last) == LAST_PASSES else 0
        return self._looked == 0

    def _look_back(self, brief: Brief) -> str | None:
        """Take in the feel and the scale of the last passes; returns what stands out, or None."""
        last, cycle = self._last, self._last[-1].cycle
        pitch = np.concatenate([one.pitch for one in last])
        if len(pitch) < LEAST_NOTES:
            return None
        places = np.concatenate([one.at_q + number * float(cycle.quarters) for number, one in enumerate(last)])
        order = np.lexsort((pitch, places))
        pitch, places = pitch[order], places[order]
        velocity = np.concatenate([one.velocity for one in last])[order]
        length = np.concatenate([one.length_q for one in last])[order]
        grid = Grid("1/16") if brief.grid.auto else brief.grid
        tempo = TempoMap.steady(parse_tempo(f"{last[-1].qpm:.6f}"))
        seconds = tempo.seconds(places)
        found = measure(seconds, pitch, velocity, tempo, (Stretch(Fraction(0), cycle),), grid, brief.swing)
        playing = _playing(pitch, places, length, cycle)
        likeliest = rank(playing, _TRIED)
        self._tell_feel(found)
        self._tell_scale(likeliest, brief.scale, pitch)
        return worst(found, playing, brief.scale, likeliest)

    def _tell_feel(self, found: FeelFound) -> None:
        unit = found.fit.main
        one = found.fit.found[unit] if unit is not None else None
        if unit is None or one is None or one.share_high - one.share_low > _WIDEST:
            return
        share = one.share if one.is_uneven else 0.5
        if unit in self._share and abs(self._share[unit] - share) < _MOVED:
            return
        self._share = {unit: share}
        at = f"at {100 * share:.0f} %" if one.is_uneven else "straight"
        self._feel = f"{_UNITS[unit]} {at}"

    def _explains(self) -> str:
        return f"fits {self._called}" if self._scale is not None else ""

    def _tell_scale(self, likeliest: list[Ranked], own: Scale | None, pitch: NDArray[np.int64]) -> None:
        told = next((one for one in likeliest if one.scale == self._scale), None)
        if told is not None and told.outside.mean() <= _LEFT:
            return
        # A small scale may be likelier though notes lie outside of it; what explains has to hold
        # them.
        holding = next((one for one in likeliest if one.outside.mean() <= _OUTSIDE), None)
        if holding is None or holding.probability < _SURE:
            return
        chosen = next((one for one in likeliest if own is not None and _same(one.scale, own)), None)
        if chosen is not None and _slips(chosen, pitch) and not _says_more(holding, chosen):
            holding = chosen
        self._scale = holding.scale
        # The scale of the brief is called what it is called there.
        self._called = str(own) if own is not None and _same(holding.scale, own) else holding.scale.in_short


def _same(one: Scale, other: Scale) -> bool:
    """Whether they have the same root and notes, however spelled."""
    return one.root.pitch_class == other.root.pitch_class and one.pitch_classes == other.pitch_classes


def _says_more(one: Ranked, chosen: Ranked) -> bool:
    """Whether this scale tells a player something about playing that the chosen one explains as
    well: a smaller one of its notes, or, where it is next to certain, another root for all of them.
    """
    fewer = one.scale.pitch_classes < chosen.scale.pitch_classes
    return fewer or (one.scale.pitch_classes == chosen.scale.pitch_classes and one.probability >= _CERTAIN)


def _slips(one: Ranked, pitch: NDArray[np.int64]) -> bool:
    """Whether what lies outside are a few slips: they make no other scale than the one chosen."""
    outside = pitch[one.outside] % 12
    return bool(one.outside.mean() <= _LEFT and np.bincount(outside, minlength=12).max() < AGAIN)


def _bars(cycle: Cycle, at_q: Floats, ended: int) -> tuple[NDArray[np.int64], Floats]:
    """The bar of each note of a pass, where so many bars have ``ended`` with it, and its place in
    it; a note just before a bar line is an early one of the bar that follows."""
    starts = np.array([float(start) for start in (*cycle.bar_starts, cycle.quarters)])
    bar = np.searchsorted(starts, at_q + EARLY_Q, side="right") - 1
    return ended - len(cycle.meters) + bar, at_q - starts[np.maximum(bar, 0)]


def _playing(pitch: NDArray[np.int64], places: Floats, length: Floats, cycle: Cycle) -> Playing:
    """The notes as the scale finder takes them: each at the nearest sixteenth."""
    cycle_q = float(cycle.quarters)
    table = slots(cycle, Grid("1/16"), Swing())
    marks = np.array([float(place) for place in (*table.written, cycle.quarters)])
    strong = np.array([_strong(cycle, place) for place in (*table.written, Fraction(0))])
    nearest = np.argmin(np.abs(marks[None, :] - (places % cycle_q)[:, None]), axis=1)
    bar_q = float(np.median([float(meter.quarters) for meter in cycle.meters]))
    return playing_of(pitch, places, length, strong[nearest], bar_q, ends=False)


def _strong(cycle: Cycle, place: Fraction) -> float:
    bar = cycle.bar_at(place)
    return strength(cycle.meters[bar], place - cycle.bar_starts[bar])
