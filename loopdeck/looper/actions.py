"""What the commands do: one method for every action named in ``commands.COMMANDS``. The door to them is in ``machine``.

An action returns the sentence that says what was done, and raises ``Refused`` with a sentence when it does not apply.
"""

from dataclasses import replace
from fractions import Fraction
from math import ceil
from typing import Any

from loopdeck.brief.spec import BEAT, CYCLE, NOW
from loopdeck.looper.commands import FIELD_WHEN
from loopdeck.looper.core import Core, Refused
from loopdeck.looper.history import FREE, PassRecord, Played
from loopdeck.looper.keeping import keep_of
from loopdeck.looper.layering import notes_of
from loopdeck.looper.practising import strokes
from loopdeck.looper.schedule import Order
from loopdeck.looper.state import COUNTING_IN, LAYERING, LISTENING, REPLACING, STOPPED
from loopdeck.rhythm.practice import TapTempo
from loopdeck.rhythm.tempo import said_tempo


class Actions(Core):
    """The core with everything a command can do to it."""

    # ---- start and stop -------------------------------------------------------------------------------------------------

    def _begin(self, bars: int | None = None) -> str:
        brief = self.brief
        bars = brief.count_in if bars is None else bars
        bar_q = brief.cycle.meters[0].quarters
        base = Fraction(ceil(self._stopped_q) + 1 if self.transport.anchors else 0)
        start_q = base + bars * bar_q
        index = max(self.history.passes, default=FREE) + 1
        self._run_start_q = start_q
        self._lead_laid = False
        self._practice.begin(index, brief.tempo.quarters_per_minute)
        self.transport.start(self._now, float(base), brief.tempo.quarters_per_minute)
        if not bars:
            self.state = LISTENING
            self._open(index, start_q)
            self._adopt_early()
            self._lay_out(float(start_q))
        else:
            self.state = COUNTING_IN
            self._pass = self.history.open_pass(index, start_q, self._now, brief.cycle.quarters, brief.slots)
            for bar in range(bars):
                for stroke in strokes(brief, -1):
                    if stroke.quarter < bar_q:
                        self._schedule.push(float(base + bar * bar_q) + stroke.quarter, Order.CLICK, stroke)
            self._schedule.push(float(start_q), Order.BOUNDARY)
            self._lay_out(float(base))
        self._tell_clock()
        self._tell_layers()
        return f"Counting in, {bars} bar{'s' if bars > 1 else ''}." if bars else "Started."

    def _begin_now(self) -> str:
        """Start without a count-in, at the tempo the transport was last told."""
        return self._begin(0)

    def _follow(self, qpm: float, ms: float = 0.0) -> str:
        """Take another machine's tempo, and move the grid by ``ms`` (later above 0), without a word."""
        tempo = round(float(qpm), 1)
        if abs(tempo - self.brief.tempo.quarters_per_minute) >= 0.05 or self.state == STOPPED:
            shown = f"{tempo:g}" if self.state != STOPPED else f"{float(qpm):.3f}"
            self.brief = self.brief.replace(tempo=shown)
            self._tell_brief()
        if self.state != STOPPED:
            self.transport.set_tempo(self._now, float(qpm))
            self.transport.nudge(self._now, float(ms) / 1000.0)
            self._tell_clock()
        return ""

    def _begin_layering(self) -> str:
        sentence = self._begin()
        if self.state == COUNTING_IN:
            self._next_state = LAYERING
        elif self._pass is not None:
            self.state = LAYERING
            self._pass.layered = True
        self._tell_clock()
        return f"{sentence[:-1]}; the first pass is layered."

    def _adopt_early(self) -> None:
        """A downbeat played a little before the foot came down belongs to the pass that starts."""
        record = self._pass
        assert record is not None
        early_sec = record.slots.half_q * 60.0 / self.transport.qpm
        for played in list(self.history.notes.values()):
            if played.pass_index == FREE and played.stamp_sec >= self._now - early_sec and played.end_q is None:
                self._place(played)

    def _halt(self) -> str:
        record, was = self._pass, self.state
        assert record is not None
        now_q = self.transport.quarter_at(self._now)
        follower = self.history.passes.pop(record.index + 1, None)
        if was == COUNTING_IN:
            follower = self.history.passes.pop(record.index)
        else:
            record.end_q, record.end_sec = now_q, self._now
        for played in follower.notes if follower is not None else []:
            self._settle(played, record if was != COUNTING_IN else None)
        for played in self.history.held():
            owner = self.history.passes.get(played.pass_index)
            if owner is not None:
                played.end_q = max(now_q - float(owner.start_q), played.at_q)
                self._tell("note_off", id=played.id, length_q=played.end_q - played.at_q)
        if was == LAYERING:
            self._make(record)
        for name, args in self._take_all_deferred():
            getattr(self, f"_{name}_now")(*args)
        if was != COUNTING_IN:
            self._tell_drift()
        self.state, self._next_state = STOPPED, None
        self.transport.stop()
        self._stopped_q = now_q
        self._schedule.clear()
        self._voices.silence(self._now, lambda voice: voice.part != "live")
        coming = {**self._feel, **({"cycle": self._cycle} if self._cycle is not None else {})}
        self._feel, self._cycle = {}, None
        if coming:
            self.brief = self.brief.replace(**coming)
            self._tell_brief()
        if was == COUNTING_IN:
            self._pass = self.history.passes.get(max(self.history.passes, default=FREE))
        self._tell_clock()
        self._tell_layers()
        return "Stopped."

    def _settle(self, played: Played, record: PassRecord | None) -> None:
        """Find a home for a note that was played early for a pass that never began."""
        if record is not None and not any(note.slot == 0 for note in record.notes):
            played.pass_index = record.index
            record.notes.append(played)
        else:
            played.pass_index = FREE

    # ---- layering -------------------------------------------------------------------------------------------------------

    def _in_pass_q(self) -> float:
        assert self._pass is not None
        return self.transport.quarter_at(self._now) - float(self._pass.start_q)

    def _foot_is_late(self) -> bool:
        """At most half a beat after the start of a pass: the foot meant the start."""
        clicks = self.brief.cycle.clicks
        beat = clicks[1].position if len(clicks) > 1 else self.brief.cycle.quarters
        return self.state != COUNTING_IN and self._in_pass_q() <= float(beat) / 2.0

    def _foot_is_early(self) -> bool:
        """At most half a beat before the end of a pass: the foot meant the end."""
        if self.state in (STOPPED, COUNTING_IN) or self._pass is None:
            return False
        beat = self._pass.cycle_q - self.brief.cycle.clicks[-1].position
        return self._in_pass_q() >= float(self._pass.cycle_q) - float(beat) / 2.0

    def _layer_on(self) -> str:
        record = self._pass
        assert record is not None
        if self.state == LAYERING:
            going_on = self._next_state is not None
            self._next_state = None
            sentence = "Layering goes on." if going_on else "Passes are being layered already."
        elif self.state == LISTENING and self._foot_is_late():
            self.state, record.layered, self._next_state = LAYERING, True, None
            sentence = "Layering this pass."
        else:
            self._next_state = LAYERING
            sentence = "Layering from the next cycle."
        self._tell_clock()
        return sentence

    def _layer_off(self) -> str:
        record = self._pass
        assert record is not None
        if self.state == LAYERING and self._foot_is_late():
            self.state, record.layered, self._next_state = LISTENING, False, None
            self._remake(record)
            sentence = "The pass before was the last one layered."
        elif self.state == LAYERING:
            self._next_state = LISTENING
            sentence = "This pass is the last one layered."
        elif self._next_state in (LAYERING, REPLACING):
            self._next_state = None
            sentence = "No pass will be layered."
        elif self.state == REPLACING:
            sentence = "Replacing ends with this pass."
        else:
            sentence = "No pass is being layered."
        self._tell_clock()
        return sentence

    def _layer_toggle(self) -> str:
        coming = self._next_state if self._next_state is not None else self.state
        return self._layer_off() if coming in (LAYERING, REPLACING) else self._layer_on()

    def _replace(self) -> str:
        if not self._standing:
            raise Refused("There is no layer to replace.")
        self._next_state = REPLACING
        self._tell_clock()
        return f"Layer {self.layers()[-1].number} is replaced by the next pass."

    def _loop_that(self) -> str:
        done = self.history.finished()
        if self._foot_is_early() or (not done and self.state not in (STOPPED, COUNTING_IN)):
            self._deferred.append(("loop_that", ()))
            return "This pass becomes a layer when it ends."
        return self._loop_that_now()

    def _loop_that_now(self) -> str:
        done = self.history.finished()
        if not done:
            raise Refused("No pass has been played yet.")
        record = done[-1]
        if record.layer in self._standing:
            raise Refused("The pass before is a layer already.")
        if not notes_of(record, self.history.passes.get(record.index + 1)):
            raise Refused("Nothing was played in the pass before.")
        self._make(record)
        self._tell_layers()
        return f"The pass before is layer {self.layers()[-1].number}."

    def _take_all_deferred(self) -> list[tuple[str, tuple[Any, ...]]]:
        waiting, self._deferred = self._deferred, []
        return waiting

    def _take_deferred(self) -> None:
        for name, args in self._take_all_deferred():
            try:
                self._say(getattr(self, f"_{name}_now")(*args))
            except Refused as error:
                self._say(str(error), wrong=True)

    # ---- layers that stand ----------------------------------------------------------------------------------------------

    def _undo(self) -> str:
        if not self._undo_stack:
            raise Refused("There is nothing to undo.")
        return self._move(self._undo_stack, self._redo_stack, "Undone")

    def _redo(self) -> str:
        if not self._redo_stack:
            raise Refused("There is nothing to redo.")
        return self._move(self._redo_stack, self._undo_stack, "Redone")

    def _move(self, source: list[tuple[int, ...]], target: list[tuple[int, ...]], word: str) -> str:
        target.append(self._standing)
        self._set_standing(source.pop())
        self._lay_out(self._now_q() if self.transport.anchors else 0.0)
        for layer in self.layers():
            self._tell_layer(layer)
        self._tell_layers()
        count = len(self._standing)
        return f"{word}: {count} layer{'' if count == 1 else 's'} stand{'s' if count == 1 else ''}."

    def _picked(self, layer: int | str) -> list[int]:
        """The ids of the layers meant by a number or ``all``."""
        if str(layer) == "all":
            return list(self._standing)
        found = [one for one in self._standing if str(self._layers[one].number) == str(layer)]
        if not found:
            raise Refused(f"There is no layer {layer}.")
        return found

    def _mute(self, layer: int | str = "all") -> str:
        picked = set(self._picked(layer))
        self._muted |= picked
        self._voices.silence(self._now, lambda voice: voice.layer in picked)
        self._tell_layers()
        return f"Muted: {self._words(layer)}."

    def _unmute(self, layer: int | str = "all") -> str:
        self._muted -= set(self._picked(layer))
        self._tell_layers()
        return f"Sounding: {self._words(layer)}."

    def _mute_toggle(self, layer: int | str = "all") -> str:
        return self._unmute(layer) if set(self._picked(layer)) <= self._muted else self._mute(layer)

    @staticmethod
    def _words(layer: int | str) -> str:
        return "all layers" if str(layer) == "all" else f"layer {layer}"

    def _clear(self) -> str:
        if not self._standing:
            raise Refused("There is no layer to clear.")
        self._stand(())
        self._next_state = None
        if self.state in (LAYERING, REPLACING):
            self.state = LISTENING
            if self._pass is not None:
                self._pass.layered = False
        self._lay_out(self._now_q())
        self._tell_clock()
        self._tell_layers()
        return "All layers are cleared; undo brings them back."

    # ---- keeping --------------------------------------------------------------------------------------------------------

    def _keep(self, passes: int = 1, name: str = "") -> str:
        if self._foot_is_early():
            self._deferred.append(("keep", (passes, name)))
            return "Kept when this pass ends."
        return self._keep_now(passes, name)

    def _keep_now(self, passes: int, name: str) -> str:
        records = self.history.finished()[-passes:]
        if not records and self._pass is not None and self.state not in (STOPPED, COUNTING_IN):
            records = [self._pass]
        keep = keep_of(
            self.history, self.transport, records, self.brief, str(name), self.layers(), self.muted, self._now
        )
        if not keep.events and not keep.layers:
            raise Refused("Nothing was played yet that could be kept.")
        self._tell("kept", keep=replace(keep, late=tuple(sorted(self._late_sec.items()))))
        count = len(records)
        return f"Kept {count} pass{'' if count == 1 else 'es'}." if count else "Kept what was played so far."

    # ---- the brief ------------------------------------------------------------------------------------------------------

    def _count_in(self, bars: int = 1) -> str:
        return self._change_brief({"count_in": bars})

    def _tempo(self, tempo: str = "") -> str:
        return self._change_brief({"tempo": tempo})

    def _clicks(self, clicks: str = "all") -> str:
        return self._change_brief({"clicks": clicks})

    def _groove(self, groove: str = "medium") -> str:
        return self._change_brief({"groove": groove})

    def _ramp(self, ramp: str = "off") -> str:
        return self._change_brief({"ramp": ramp})

    def _tap(self, sec: float | None = None) -> str:
        """A tap on the beat: a dotted quarter in meters of groups of three eighths, else a quarter."""
        groups = self.brief.cycle.groups
        beat_q = Fraction(3, 2) if groups[0].length == Fraction(3, 2) else Fraction(1)
        if self._practice.tap is None or self._practice.tap.beat_q != float(beat_q):
            self._practice.tap = TapTempo(beat_q)
        qpm = self._practice.tap.tap(self._now if sec is None else float(sec))
        if qpm is None:
            return "Tap on."
        return self._change_brief({"tempo": said_tempo(qpm, beat_q, self.brief.tempo.unit)})

    def _nudge(self, ms: float = 0.0) -> str:
        """Move the whole grid: later above 0, earlier below."""
        shift_ms = float(ms)
        if self.state == STOPPED:
            raise Refused("Nothing runs that could be nudged.")
        self.transport.nudge(self._now, shift_ms / 1000.0)
        self._tell_clock()
        return f"Nudged {abs(shift_ms):g} ms {'later' if shift_ms > 0 else 'earlier'}."

    def _half(self) -> str:
        return self._change_brief({"cycle": str(self._for_length().half())})

    def _double(self) -> str:
        return self._change_brief({"cycle": str(self._for_length().double())})

    def _for_length(self) -> Any:
        if self._standing:
            raise Refused("The cycle keeps its length while layers stand; clear them first.")
        return self.brief.cycle if self._cycle is None else self.brief.replace(cycle=self._cycle).cycle

    def _change_brief(self, fields: dict[str, Any]) -> str:
        texts = {str(key): str(value) for key, value in fields.items()}
        whole = self.brief.replace(**texts)
        running = self.state != STOPPED
        when = {key: FIELD_WHEN.get(key, NOW) if running else NOW for key in texts}
        now = {key: text for key, text in texts.items() if when[key] == NOW}
        if now:
            self.brief = self.brief.replace(**now)
            if running and "tempo" in now:
                self.transport.set_tempo(self._now, self.brief.tempo.quarters_per_minute)
            if {"tempo", "ramp"} & set(now):
                self._practice.steady(self.brief.tempo.quarters_per_minute, self.pass_index)
            if running and self.state != COUNTING_IN and {"clicks", "groove"} & set(now):
                self._lay_strokes(anew=True)
            self._tell_brief()
        feel = {key: text for key, text in texts.items() if when[key] == BEAT}
        if feel:
            if not self._feel:
                self._schedule.push(self._next_beat_q(), Order.FEEL)
            self._feel.update(feel)
        if CYCLE in when.values():
            self._cycle = texts["cycle"]
        self._tell_clock()
        words = ". ".join(whole.sentence(key) for key in texts)
        late = "next cycle" if CYCLE in when.values() else "next beat" if feel else ""
        return f"{words}, from the {late} on." if late else f"{words}."

    def _next_beat_q(self) -> float:
        """The next place of the click from now on."""
        record = self._pass
        assert record is not None
        start_q = float(record.start_q)
        places = [start_q + float(place.position) for place in self.brief.cycle.clicks]
        to_come = (place for place in places if self.transport.sec_at(place) > self._now)
        return next(to_come, start_q + float(record.cycle_q))

    # ---- the rest -------------------------------------------------------------------------------------------------------

    def _thru(self, port: int = 0, on: bool = True) -> str:
        (self._thru_ports.add if on else self._thru_ports.discard)(int(port))
        return f"Input {int(port) + 1} sounds through." if on else f"Input {int(port) + 1} does not sound through."

    def _late(self, port: int = 0, sec: float = 0.0) -> str:
        self._late_sec[int(port)] = float(sec)
        return f"Input {int(port) + 1} is judged {float(sec) * 1000.0:.1f} ms earlier than it arrives."

    def _silence(self) -> str:
        self._voices.silence(self._now)
        return "Silence."
