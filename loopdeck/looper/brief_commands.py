"""Changes of the brief while playing: each field takes effect when the table of commands says."""

from typing import Any

from loopdeck.bass.neck import moves
from loopdeck.brief.brief import Brief
from loopdeck.brief.spec import BEAT, CYCLE, NOW
from loopdeck.looper.commands import FIELD, FIELD_WHEN, START
from loopdeck.looper.core import Core
from loopdeck.looper.news import Answer, tell_brief, tell_clock, tell_retuned
from loopdeck.looper.practice import tapped_beat_q
from loopdeck.looper.schedule import Rank
from loopdeck.looper.state import Refused, plans
from loopdeck.rhythm.tempo import UNITS, parse_tempo, said_tempo, written_tempo
from loopdeck.theory.tuning import Tuning

#: A change of so many fields is told as a brief.
WHOLE = 4


class BriefCommands:
    """Acts on the parts of one looper."""

    def __init__(self, core: Core) -> None:
        self._core = core

    @plans(FIELD)
    def change_brief(self, fields: dict[str, Any], at_once: bool) -> Answer:
        """Change fields of the brief: ``at_once``, or each when its spec says. While time runs the
        cycle changes at its start whatever was asked for.
        """
        core = self._core
        before = core.brief.tuning
        texts = {str(key): str(value) for key, value in fields.items()}
        whole = core.brief.replace(**texts)
        when = {key: NOW if at_once else FIELD_WHEN.get(key, NOW) for key in texts}
        if core.state.running and "cycle" in when:
            when["cycle"] = CYCLE
        now = {key: text for key, text in texts.items() if when[key] == NOW}
        if now:
            self._change_now(now)
        at_beat = {key: text for key, text in texts.items() if when[key] == BEAT}
        if at_beat:
            if not core.settings.next_beat:
                core.playback.schedule.push(core.next_beat_q(), Rank.BEAT)
            core.settings.next_beat.update(at_beat)
        if CYCLE in when.values():
            core.settings.next_cycle = texts["cycle"]
        tell_clock(core)
        return self._said(whole, when, before)

    def _change_now(self, fields: dict[str, str]) -> None:
        core, running = self._core, self._core.state.running
        if "cycle" in fields:
            core.settings.next_cycle = None
        core.settings.change(**fields)
        qpm = core.brief.tempo.quarters_per_minute
        if running and "tempo" in fields:
            core.transport.set_tempo(core.now_sec, qpm)
        if {"tempo", "ramp"} & set(fields):
            record = core.recorder.current
            core.practice.steady(qpm, record.index if record is not None else -1)
        if core.state.passing and {"clicks", "groove"} & set(fields):
            core.playback.lay_strokes_anew(core.brief, core.record(), core.transport, core.now_sec)
        tell_brief(core)
        tell_retuned(core, fields)

    def _said(self, whole: Brief, when: dict[str, str], before: Tuning | None = None) -> Answer:
        # So many at once are another brief, and are not told one by one.
        words = ". ".join(whole.sentence(key) for key in when) if len(when) < WHOLE else f"Brief: {whole.name}"
        if before is not None and before.strings != whole.tuning.strings:
            words += f". {moves(before, whole.tuning)}".rstrip(".")
        late = "next cycle" if CYCLE in when.values() else "next beat" if BEAT in when.values() else ""
        if late:
            return Answer(f"{words}, from the {late} on.", "state")
        return Answer(f"{words}.", "tempo" if "tempo" in when else "")

    def next_beat(self, quarter: float) -> None:
        """The beat has come at which fields of the brief change."""
        core = self._core
        if core.settings.take_beat():
            tell_brief(core)
            core.lay_out(quarter)
            # The groove swings with the brief; what stands at this very place is still to come.
            core.playback.lay_strokes_anew(core.brief, core.record(), core.transport, core.now_sec, quarter)
            # It comes no longer: it is here.
            tell_clock(core)

    # ---- single fields ---------------------------------------------------------------------------

    def count_in(self, bars: int) -> Answer:
        """Set the bars of the count-in."""
        return self.change_brief({"count_in": bars}, True)

    def tempo(self, tempo: str | float) -> Answer:
        """Set the tempo."""
        return self.change_brief({"tempo": tempo}, True)

    def clicks(self, clicks: str) -> Answer:
        """Set which clicks sound."""
        return self.change_brief({"clicks": clicks}, True)

    def groove(self, groove: str) -> Answer:
        """Set the guide groove."""
        return self.change_brief({"groove": groove}, True)

    def ramp(self, ramp: str) -> Answer:
        """Set the tempo ramp: the tempo rises from pass to pass."""
        return self.change_brief({"ramp": ramp}, True)

    @plans(START, CYCLE)
    def half(self, at_once: bool) -> Answer:
        """Cut the cycle to its first half."""
        return self.change_brief({"cycle": self._for_length().cycle.half()}, at_once)

    @plans(START, CYCLE)
    def double(self, at_once: bool) -> Answer:
        """Make the cycle twice as long: itself, twice."""
        return self.change_brief({"cycle": self._for_length().cycle.double()}, at_once)

    def _for_length(self) -> Brief:
        if self._core.stack.active:
            raise Refused("The cycle keeps its length while there are layers; clear them first.")
        return self._core.settings.coming()

    # ---- time ------------------------------------------------------------------------------------

    def tap(self, whole: bool, sec: float | None = None) -> Answer:
        """Take a tap on the beat, now or at ``sec``."""
        core = self._core
        beat_q = tapped_beat_q(core.brief)
        qpm = core.practice.tap(beat_q, core.now_sec if sec is None else float(sec))
        if qpm is None:
            return Answer("Keep tapping.")
        tempo = said_tempo(qpm, beat_q, core.brief.tempo.unit) if whole else f"{qpm:.2f}"
        return self.change_brief({"tempo": tempo}, True)

    def nudge(self, ms: float) -> Answer:
        """Move the whole grid: later above 0, earlier below."""
        core, shift_ms = self._core, float(ms)
        core.transport.nudge(core.now_sec, shift_ms / 1000.0)
        tell_clock(core)
        return Answer(f"Nudged {abs(shift_ms):g} ms {'later' if shift_ms > 0 else 'earlier'}.")

    def follow(self, qpm: float, ms: float) -> None:
        """Take a clock source's tempo, and move the grid by ``ms`` (later above 0), without
        a word.
        """
        core, running = self._core, self._core.state.running
        unit, now_qpm = core.brief.tempo.unit, core.brief.tempo.quarters_per_minute
        tempo = written_tempo(float(qpm), unit, places=1 if running else 3)
        moved = abs(parse_tempo(tempo).quarters_per_minute - now_qpm)
        if moved >= 0.05 * float(UNITS[unit]) or not running:
            core.settings.change(tempo=tempo)
            tell_brief(core)
        if running:
            core.transport.set_tempo(core.now_sec, float(qpm))
            core.transport.nudge(core.now_sec, float(ms) / 1000.0)
            tell_clock(core)
