"""Practice inside the looper: which strokes of click and groove sound in a pass, the ramp's tempo, and the report after a silence.

Conventions
    A run lasts from a start to a stop; its passes count from 0 here. Stroke places are quarters from the start of the pass, played (swung) ones
    for the groove. Drift is judged on the onsets of the run that the history still holds.
"""

from collections.abc import Iterable
from fractions import Fraction
from typing import NamedTuple

from loopdeck.brief.brief import OFF, Brief
from loopdeck.looper.groove import groove_of
from loopdeck.looper.history import PassRecord
from loopdeck.rhythm.practice import Drift, Ramp, TapTempo, drift_report

#: General MIDI percussion: high wood block, low wood block, side stick, claves (General MIDI level 1).
CLICK_NOTES = {"bar": 76, "group": 77, "beat": 37, "between": 75}
CLICK_WEIGHT = {"bar": 1.0, "group": 0.85, "beat": 0.65, "between": 0.5}
#: The player answers the click's return within so many quarters; only then is the silence judged.
RETURN_Q = 1.0


class Stroke(NamedTuple):
    """One stroke of the click or the groove: place in the pass, MIDI note, velocity (None: by the click's level and ``weight``), part."""

    quarter: float
    note: int
    velocity: int | None
    weight: float
    part: str


def strokes(brief: Brief, run_pass: int, first_bar: int | None = None) -> list[Stroke]:
    """What click and groove play in one pass of a run; a silent bar is silent in both. A count-in is run pass -1 and has its click always.

    ``first_bar``: bars of the run before this pass; by default as many as it had if the cycle was always this one.
    """
    found = []
    first_bar = run_pass * len(brief.cycle.meters) if first_bar is None else first_bar
    name, _, alone = brief.groove.partition(" ")
    if run_pass < 0 or not alone:
        found = [
            Stroke(float(place.position), CLICK_NOTES[place.kind], None, CLICK_WEIGHT[place.kind], "click")
            for place in brief.clicks.clicks(brief.cycle, run_pass, first_bar)
        ]
    if name != OFF and run_pass >= 0:
        for hit in groove_of(brief, name):
            if not brief.clicks.silent(first_bar + brief.cycle.bar_at(hit.position)):
                found.append(Stroke(hit.played_q, hit.note, hit.velocity, 1.0, "drums"))
    return found


class Practice:
    """What practice remembers between passes."""

    def __init__(self) -> None:
        self.first_pass = 0
        self.tap: TapTempo | None = None
        self._ramp_from: tuple[float, int] | None = None
        self._judged_q = 0.0
        self._bars = 0

    def begin(self, first_pass: int, qpm: float) -> None:
        """A run begins."""
        self.first_pass = first_pass
        self._ramp_from = (qpm, first_pass)
        self._judged_q = 0.0
        self._bars = 0

    def open(self, bars: int) -> int:
        """A pass of so many bars begins; returns how many bars its run had before."""
        before = self._bars
        self._bars += bars
        return before

    def steady(self, qpm: float, pass_index: int) -> None:
        """The tempo was set by hand, or the ramp changed: it rises from here."""
        self._ramp_from = (qpm, pass_index)

    def ramp_qpm(self, ramp: Ramp | None, pass_index: int) -> float | None:
        """The tempo of a pass that begins; None without a ramp."""
        if ramp is None or self._ramp_from is None:
            return None
        start_qpm, start_pass = self._ramp_from
        return ramp.qpm(start_qpm, pass_index - start_pass)

    def drifts(self, brief: Brief, records: Iterable[PassRecord], now_q: float) -> tuple[Drift, ...]:
        """The silences that have ended and were not judged yet. ``now_q``: the position now."""
        if not brief.clicks.off_bars:
            return ()
        mine = [record for record in records if record.index >= self.first_pass]
        if not mine:
            return ()
        origin = float(mine[0].start_q)
        silences = [
            (start, end, qpm)
            for start, end, qpm in self._silences(brief, mine)
            if end > self._judged_q and float(end) <= now_q - RETURN_Q
        ]
        if not silences:
            return ()
        self._judged_q = float(silences[-1][1])
        onsets = [float(record.start_q) - origin + note.at_q for record in mine for note in record.notes]
        found: tuple[Drift, ...] = ()
        for start, end, qpm in silences:
            found += drift_report(onsets, brief.slots, qpm, [(float(start) - origin, float(end) - origin)])
        return found

    @staticmethod
    def _silences(brief: Brief, mine: list[PassRecord]) -> list[tuple[Fraction, Fraction, float]]:
        """Stretches of silent bars with their return, on the session's axis, each with the tempo it began in."""
        found: list[tuple[Fraction, Fraction, float]] = []
        since: tuple[Fraction, float] | None = None
        for record in mine:
            qpm = brief.tempo.quarters_per_minute
            if record.end_sec is not None and record.end_q is not None and record.end_sec > record.start_sec:
                qpm = (record.end_q - float(record.start_q)) * 60.0 / (record.end_sec - record.start_sec)
            for bar, start in enumerate(record.bar_starts):
                place = record.start_q + start
                if brief.clicks.silent(record.first_bar + bar):
                    since = (place, qpm) if since is None else since
                elif since is not None:
                    found.append((since[0], place, since[1]))
                    since = None
        return found

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        return (
            self.first_pass,
            self._ramp_from,
            self._judged_q,
            self._bars,
            self.tap.taps if self.tap is not None else 0,
        )


def drift_words(drift: Drift) -> str:
    """One drift as a sentence."""
    if abs(drift.drift_ms) < 6.0:
        # What cannot be heard: Friberg & Sundberg, "Time discrimination in a monotonic, isochronous sequence", JASA 98, 1995.
        return "The click was silent, and you were in time when it came back."
    side = "ahead of" if drift.drift_ms < 0 else "behind"
    return (
        f"The click was silent, and you were {abs(drift.drift_ms):.0f} ms {side} it when it came back "
        f"({abs(drift.tempo_percent):.1f} % {'fast' if drift.tempo_percent > 0 else 'slow'})."
    )
