"""Passes: they begin with a start, follow each other at the end of the cycle, and end with
a stop.
"""

from collections.abc import Callable
from fractions import Fraction

from loopdeck.looper.core import Core
from loopdeck.looper.free_playing import take_free_playing
from loopdeck.looper.layering import Layering
from loopdeck.looper.news import Answer, tell_brief, tell_clock, tell_layers, tell_note_off, tell_note_on
from loopdeck.looper.practice import drift_words
from loopdeck.looper.recorder import FREE, PassRecord, Played
from loopdeck.looper.schedule import Rank
from loopdeck.looper.state import COUNTING_IN, LAYERING, LISTENING, REPLACING, STOPPED
from loopdeck.rhythm.tempo import written_tempo


class Passes:
    """``finish_waiting`` does what was asked for just before the end of the pass; ``take_loop``
    changes the loop if another one was to come with the next cycle, and says whether it did.
    """

    def __init__(
        self, core: Core, layering: Layering, finish_waiting: Callable[[], None], take_loop: Callable[[], bool]
    ) -> None:
        self._core, self._layering = core, layering
        self._finish_waiting, self._take_loop = finish_waiting, take_loop

    # ---- commands --------------------------------------------------------------------------------

    def begin(self, bars: int | None = None) -> Answer:
        """Start with a count-in of ``bars``, or of as many as the brief says."""
        core = self._core
        brief, recorder, transport = core.brief, core.recorder, core.transport
        bars = brief.count_in if bars is None else bars
        index = recorder.next_index()
        core.practice.begin(index, brief.tempo.quarters_per_minute)
        base = transport.start(core.now_sec, brief.tempo.quarters_per_minute)
        transport.run_start_q = start_q = base + bars * brief.cycle.meters[0].quarters
        if bars:
            core.state.enter(COUNTING_IN)
            recorder.open_pass(index, start_q, core.now_sec, brief.cycle.quarters, brief.slots)
            core.playback.lay_count_in(brief, base, bars)
            core.playback.schedule.push(float(start_q), Rank.BOUNDARY)
            core.lay_out(float(base))
        else:
            core.state.enter(LISTENING)
            self._open(index, start_q)
            self._adopt_early()
            core.lay_out(float(start_q))
        take_free_playing(recorder, brief, core.now_sec)
        tell_clock(core)
        tell_layers(core)
        if bars:
            return Answer(f"Counting in, {bars} bar{'s' if bars > 1 else ''}.", "state")
        return Answer("Started.", "pass")

    def begin_now(self) -> Answer:
        """Start without a count-in, at the tempo the transport was last told."""
        return self.begin(0)

    def begin_layering(self) -> Answer:
        """Start, and layer from the first pass on."""
        core = self._core
        said = self.begin()
        if core.state.name == COUNTING_IN:
            core.state.coming = LAYERING
        else:
            core.state.enter(LAYERING)
            core.record().layered = True
        tell_clock(core)
        return Answer(f"{said.text[:-1]}; the first pass is layered.", said.about)

    def halt(self) -> Answer:
        """Stop: what sounds of the loop ends, and a pass that is being layered becomes a layer as
        far as it got.
        """
        core = self._core
        recorder, state, record = core.recorder, core.state, core.record()
        was, now_q = state.name, core.now_q()
        follower = recorder.passes.pop(record.index + 1, None)
        if was == COUNTING_IN:
            follower = recorder.passes.pop(record.index)
        else:
            record.end_q, record.end_sec = now_q, core.now_sec
        if follower is not None:
            self._rehome(follower, record if was != COUNTING_IN else None, now_q)
        self._end_held(now_q)
        if was == LAYERING:
            self._layering.make(record)
        self._finish_waiting()
        if was != COUNTING_IN:
            self._tell_drift()
        state.enter(STOPPED)
        state.coming = None
        core.transport.stop(core.now_sec)
        recorder.free_until_sec = core.now_sec
        core.stack.replaced = None
        core.playback.stop(core.now_sec)
        if core.settings.take_all():
            tell_brief(core)
        self._take_loop()
        if was == COUNTING_IN:
            recorder.current = recorder.passes.get(max(recorder.passes, default=FREE))
        tell_clock(core)
        tell_layers(core)
        return Answer("Stopped.", "state")

    def _rehome(self, never: PassRecord, record: PassRecord | None, now_q: float) -> None:
        """Find a home for the notes that were played early for a pass that never began, those that
        are out of view for now too: they are the downbeat of ``record``, where that has none.
        """
        wraps = record is not None and not any(note.slot == 0 for note in record.notes)
        early = [note for note in self._core.recorder.notes.values() if note.pass_index == never.index]
        for played in early:
            played.pass_index = FREE
            if record is not None and wraps:
                played.pass_index = record.index
                if played.end_q is None:
                    played.end_q = max(now_q - float(never.start_q), played.at_q)
                if not played.hidden:
                    record.notes.append(played)
            self._tell_again(played)

    def _tell_again(self, played: Played) -> None:
        """Tell of a note that belongs elsewhere now."""
        if played.hidden:
            return
        tell_note_on(self._core, played)
        if played.end_q is not None:
            tell_note_off(self._core, played)

    def _end_held(self, now_q: float) -> None:
        core = self._core
        for played in core.recorder.held():
            owner = core.recorder.passes.get(played.pass_index)
            if owner is not None:
                played.end_q = max(now_q - float(owner.start_q), played.at_q)
                if not played.hidden:
                    tell_note_off(core, played)

    def _adopt_early(self) -> None:
        """A downbeat played a little before the press belongs to the pass that starts."""
        core = self._core
        early_sec = core.record().slots.half_q * 60.0 / core.transport.qpm
        for played in list(core.recorder.notes.values()):
            if _comes_early(played, core.now_sec - early_sec):
                self._layering.place(played)

    # ---- what falls due --------------------------------------------------------------------------

    def boundary(self) -> None:
        """The end of a pass (or of the count-in) and the start of the next."""
        core = self._core
        state, stack, ended = core.state, core.stack, core.record()
        if state.name == COUNTING_IN:
            state.enter(LISTENING)
            index, start_q = ended.index, ended.start_q
        else:
            index, start_q = ended.index + 1, ended.start_q + ended.cycle_q
            ended.end_q, ended.end_sec = float(start_q), core.now_sec
        was, replaced = state.name, stack.replaced
        exchanged = state.loop_to_come is not None
        if exchanged:
            # What was asked of this pass is of the loop that it was played over.
            self._resolve(ended, index, was, replaced)
        another = self._take_loop()
        changed = self._change_cycle(index) or another
        if state.name == REPLACING:
            state.enter(LISTENING)
        state.enter_coming()
        self._open(index, start_q)
        core.picker.turn(ended, core.now_sec)
        core.playback.schedule.forget_before(index)
        if changed:
            core.lay_out(float(start_q))
        if not exchanged:
            self._resolve(ended, index, was, replaced)
        self._tell_drift()
        tell_clock(core)
        tell_layers(core)

    def _resolve(self, ended: PassRecord, index: int, was: str, replaced: int | None) -> None:
        """A pass has ended, and the one of this ``index`` is next: make it a layer if it was being
        layered, and do what was asked of it.
        """
        if was in (LAYERING, REPLACING) and index != ended.index:
            self._layering.make(ended, replaced if was == REPLACING else None)
        self._finish_waiting()

    def _change_cycle(self, index: int) -> bool:
        """A pass begins: change the cycle if that was asked for, and let the tempo rise; True when
        the cycle changed.
        """
        core = self._core
        changed = core.settings.take_cycle()
        if changed:
            tell_brief(core)
        qpm = core.practice.ramp_qpm(core.brief.ramp, index)
        if qpm is not None and abs(qpm - core.brief.tempo.quarters_per_minute) > 1e-5:
            core.settings.change(tempo=written_tempo(qpm, core.brief.tempo.unit))
            core.transport.set_tempo(core.now_sec, core.brief.tempo.quarters_per_minute)
            tell_brief(core)
        return changed

    def _open(self, index: int, start_q: Fraction) -> None:
        """Begin a pass: its record, its clicks, its end."""
        core = self._core
        brief, stack, playback = core.brief, core.stack, core.playback
        record = core.recorder.open_pass(index, start_q, core.now_sec, brief.cycle.quarters, brief.slots)
        record.cycle = brief.cycle
        record.run_pass = record.index - core.practice.first_pass
        record.first_bar = core.practice.open(len(brief.cycle.meters))
        record.layered = core.state.name in (LAYERING, REPLACING)
        stack.replaced = stack.active[-1] if core.state.name == REPLACING and stack.active else None
        if stack.replaced is not None:
            playback.silence_layers(core.now_sec, (stack.replaced,))
        playback.begin_pass(record, stack, brief)
        playback.schedule.push(float(start_q + brief.cycle.quarters), Rank.BOUNDARY)
        core.transport.forget_before(core.recorder.oldest_sec() - 1.0)

    def after_click(self) -> None:
        """A stroke has sounded: it may be the moment to say how far the player had drifted in a
        silence.
        """
        if self._core.brief.clicks.off_bars:
            self._tell_drift()

    def _tell_drift(self) -> None:
        """Say how far the player had drifted in silences that are over."""
        core = self._core
        records = [core.recorder.passes[index] for index in sorted(core.recorder.passes)]
        for drift in core.practice.drifts(core.brief, records, core.now_q()):
            core.say(Answer(drift_words(drift), "pass"))


def _comes_early(played: Played, from_sec: float) -> bool:
    """True for a held note of no pass that began at ``from_sec`` or later."""
    return played.pass_index == FREE and played.stamp_sec >= from_sec and played.end_q is None
