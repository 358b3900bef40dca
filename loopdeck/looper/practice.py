"""Practice inside the looper: the ramp's tempo, the tapped tempo, and the report after a silence of
the click.

Conventions
    A run lasts from a start to a stop; its passes count from 0 here. Drift is judged on the onsets
    of the run that the recorder still holds.
"""

from collections.abc import Iterable
from fractions import Fraction

from loopdeck.brief.brief import Brief
from loopdeck.looper.recorder import PassRecord
from loopdeck.rhythm.practice import Drift, Ramp, TapTempo, drift_report

#: The player answers the click's return within so many quarters; only then is the silence judged.
RETURN_Q = 1.0


def tapped_beat_q(brief: Brief) -> Fraction:
    """The beat that is tapped: a dotted quarter in meters of groups of three eighths, else a
    quarter.
    """
    return Fraction(3, 2) if brief.cycle.groups[0].length == Fraction(3, 2) else Fraction(1)


class Practice:
    """What practice remembers between passes."""

    def __init__(self) -> None:
        self.first_pass = 0
        self._tap: TapTempo | None = None
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
        """Note a pass of ``bars`` that begins; returns how many bars its run had before."""
        before = self._bars
        self._bars += bars
        return before

    def tap(self, beat_q: Fraction, sec: float) -> float | None:
        """Take a tap on a beat of ``beat_q`` quarters; returns the tempo in quarters a minute, from
        the third tap on.
        """
        if self._tap is None or self._tap.beat_q != float(beat_q):
            self._tap = TapTempo(beat_q)
        return self._tap.tap(sec)

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
        """Stretches of silent bars with their return, on the session's axis, each with the tempo it
        began in.
        """
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
            self._tap.taps if self._tap is not None else 0,
        )


def drift_words(drift: Drift) -> str:
    """One drift as a sentence."""
    if abs(drift.drift_ms) < 6.0:
        # What cannot be heard: Friberg & Sundberg, "Time discrimination in a monotonic, isochronous
        # sequence", JASA 98, 1995.
        return "The click was silent, and you were in time when it came back."
    side = "ahead of" if drift.drift_ms < 0 else "behind"
    return (
        f"The click was silent, and you were {abs(drift.drift_ms):.0f} ms {side} it when it came back "
        f"({abs(drift.tempo_percent):.1f} % {'fast' if drift.tempo_percent > 0 else 'slow'})."
    )
