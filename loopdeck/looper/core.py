"""The looper's inside: what falls due, and how passes become layers. The door to it, and its theory, are in ``machine``."""

from fractions import Fraction
from typing import Any, NamedTuple

import numpy as np

from loopdeck.brief.brief import Brief
from loopdeck.capture.pairing import Ended, Pairer, Started
from loopdeck.looper.history import FREE, History, PassRecord, Played
from loopdeck.looper.layering import layer_of
from loopdeck.looper.layers import Layer
from loopdeck.looper.practising import Practice, Stroke, drift_words, strokes
from loopdeck.looper.schedule import Item, Order, Schedule, Track
from loopdeck.looper.state import COUNTING_IN, LAYERING, LISTENING, REPLACING, STOPPED
from loopdeck.looper.transport import Transport
from loopdeck.looper.voices import Out, Voice, Voices

CLICK_CHANNEL = 9
LIVE_CHANNEL = 0
#: How long a click lasts, in quarters; percussion hardly cares.
CLICK_QUARTERS = 0.1
UNDO_STEPS = 256


class Refused(ValueError):
    """A command does not apply now; ``str(error)`` is the sentence for the player."""

    one_sentence = True


class News(NamedTuple):
    """Something the display, the shelf or the journal wants to know. ``data`` is JSON-able, except a ``kept``."""

    kind: str
    time_sec: float
    data: dict[str, Any]


class Core:
    """The state, and all that happens to it by the passing of time and by playing."""

    def __init__(self, brief: Brief, start_sec: float = 0.0) -> None:
        self.brief = brief
        self.state = STOPPED
        self.transport = Transport()
        self.history = History()
        self._now = start_sec
        self._outs: list[Out] = []
        self._news: list[News] = []
        self._voices = Voices(self._outs.append)
        self._schedule = Schedule()
        self._pairer = Pairer()
        self._token = 0
        self._pass: PassRecord | None = None
        self._lead_laid = False
        self._next_state: str | None = None
        self._feel: dict[str, str] = {}
        self._cycle: str | None = None
        self._deferred: list[tuple[str, tuple[Any, ...]]] = []
        self._stopped_q = 0.0
        self._run_start_q = Fraction(0)
        self._layers: dict[int, Layer] = {}
        self._layer_ids = 0
        self._standing: tuple[int, ...] = ()
        self._muted: set[int] = set()
        self._undo_stack: list[tuple[int, ...]] = []
        self._redo_stack: list[tuple[int, ...]] = []
        self._replaced: int | None = None
        self._thru_ports: set[int] = set()
        #: The bend (-8192 to 8191) each layers' channel was last sent.
        self._bent: dict[int, int] = {}
        #: Of each input, the channel whose note began last: its bends sound through.
        self._bending: dict[int, int] = {}
        #: The place of the last stroke of click or groove.
        self._struck_q = float("-inf")
        self._late_sec: dict[int, float] = {}
        self._practice = Practice()
        self._prepared: set[tuple[int, int, int]] = set()

    # ---- what stands ----------------------------------------------------------------------------------------------------

    def layers(self) -> list[Layer]:
        """The layers that stand, oldest first."""
        return [self._layers[identity] for identity in self._standing]

    @property
    def muted(self) -> frozenset[int]:
        """The numbers of the standing layers that are muted."""
        return frozenset(self._layers[identity].number for identity in self._standing if identity in self._muted)

    @property
    def pass_index(self) -> int:
        """The pass that runs, or ran last; FREE before the first."""
        return self._pass.index if self._pass is not None else FREE

    @property
    def pass_start_q(self) -> Fraction:
        """Where the pass that runs began (or, in a count-in, where the first one will), on the session's axis."""
        return self._pass.start_q if self._pass is not None else Fraction(0)

    @property
    def run_start_q(self) -> Fraction:
        """Where the first pass since the last start began, on the session's axis."""
        return self._run_start_q

    # ---- playing --------------------------------------------------------------------------------------------------------

    def _started(self, note: Started) -> None:
        played = Played(
            note.id, FREE, 0.0, None, note.pitch, note.velocity, note.channel, note.port, note.string, note.time_sec
        )
        self._place(played)
        if note.port in self._thru_ports:
            # Live tokens are negative, so that no layer's note-off can meet them.
            self._bending[note.port] = note.channel
            self._voices.on(self._now, LIVE_CHANNEL, note.pitch, note.velocity, Voice("live", -1 - note.id, 0))

    def _bend_through(self, port: int, data: bytes) -> None:
        """A bend or a bend range that is played sounds through as notes do, on the one live channel.

        Of an input with a channel for each string only that of the newest note bends: the others may rest on some bend of their own.
        """
        kind = data[0] & 0xF0
        if port not in self._thru_ports or len(data) != 3 or self._bending.get(port, data[0] & 0x0F) != data[0] & 0x0F:
            return
        if kind == 0xE0 or (kind == 0xB0 and data[1] in (6, 38, 100, 101)):
            self._outs.append(Out(self._now, bytes((kind | LIVE_CHANNEL, *data[1:])), "live"))

    def _place(self, played: Played) -> None:
        record: PassRecord | None = None
        if self._pass is not None and self.state != STOPPED:
            position_q = self.transport.quarter_at(played.stamp_sec - self._late_sec.get(played.port, 0.0))
            record = self.history.note(played, position_q, self._pass)
        else:
            self.history.notes[played.id] = played
        self._tell(
            "note_on",
            id=played.id,
            **{"pass": played.pass_index},
            at_q=played.at_q,
            slot=played.slot,
            slot_q=played.slot_q,
            pitch=played.pitch,
            velocity=played.velocity,
            channel=played.channel,
            string=played.string,
            stamp_sec=played.stamp_sec,
        )
        if record is not None:
            self._remake(record)

    def _ended(self, note: Ended) -> None:
        self._voices.silence(self._now, lambda voice: voice.token == -1 - note.id)
        played = self.history.notes.get(note.id)
        if played is None or played.end_q is not None:
            return
        record = self.history.passes.get(played.pass_index)
        if record is not None and self.state != STOPPED:
            late = self._late_sec.get(played.port, 0.0)
            end_q = self.transport.quarter_at(note.time_sec - late) - float(record.start_q)
            played.end_q = max(end_q, played.at_q)
        else:
            # No time ran: the length is counted at the brief's tempo.
            length = max(note.time_sec - played.stamp_sec, 0.0)
            played.end_q = played.at_q + length * self.brief.tempo.quarters_per_minute / 60.0
        self._tell("note_off", id=played.id, length_q=played.end_q - played.at_q)
        if record is not None:
            self._remake(record)

    # ---- what falls due -------------------------------------------------------------------------------------------------

    def _perform(self, item: Item, row: int) -> None:
        if item.order is Order.NOTE:
            self._sound(item.quarter, item.payload, row)
        elif item.order is Order.OFF:
            self._voices.off(self._now, *item.payload)
        elif item.order is Order.CLICK:
            self._click(item)
        elif item.order is Order.BEND:
            self._bend(*item.payload)
        elif item.order is Order.LEAD:
            self._lead_laid = True
            self._lay_out_pass(item.quarter, *self._passes()[1])
        elif item.order is Order.FEEL:
            self._take_feel(item.quarter)
        else:
            self._boundary()

    def _token_for(self) -> int:
        self._token += 1
        return self._token

    def _click(self, item: Item) -> None:
        stroke: Stroke = item.payload
        self._struck_q = item.quarter
        velocity = stroke.velocity if stroke.velocity is not None else round(self.brief.click_level * stroke.weight)
        if velocity <= 0:
            return
        token = self._token_for()
        self._voices.on(self._now, CLICK_CHANNEL, stroke.note, velocity, Voice(stroke.part, token, 0))
        self._schedule.push(item.quarter + CLICK_QUARTERS, Order.OFF, (CLICK_CHANNEL, stroke.note, token))
        if self.brief.clicks.off_bars:
            # The stroke after the return may be the moment to say how far one had drifted.
            self._tell_drift()

    def _sound(self, quarter: float, track: Track, row: int) -> None:
        identity = track.layer
        if identity in self._muted or (self.state == REPLACING and identity == self._replaced):
            return
        layer = self._layers[identity]
        _, duration_q, pitch, velocity, *_ = layer.notes[row].item()
        self._prepare(layer)
        token = self._token_for()
        if not layer.bent and self._bent.get(layer.channel, 0):
            # The layer that had this channel before ended on a bend.
            self._bend(layer.channel, 0.0, layer.bend_range, None, 0)
        if layer.bent:
            curve = layer.bends[row]
            self._bend(layer.channel, float(curve[0, 1]), layer.bend_range, None, 0)
            for after_q, semitones in curve[1:].tolist():
                if after_q < duration_q:
                    payload = (layer.channel, semitones, layer.bend_range, pitch, token)
                    self._schedule.push(quarter + after_q, Order.BEND, payload)
        self._voices.on(self._now, layer.channel, pitch, velocity, Voice("layer", token, identity))
        self._schedule.push(quarter + duration_q, Order.OFF, (layer.channel, pitch, token))

    def _prepare(self, layer: Layer) -> None:
        """Send the program, and the bend range where it is not the usual one, before the first note of a layer on its channel."""
        wanted = (layer.channel, layer.program, layer.bend_range)
        if wanted in self._prepared:
            return
        self._prepared = {known for known in self._prepared if known[0] != layer.channel} | {wanted}
        self._outs.append(Out(self._now, bytes((0xC0 | layer.channel, layer.program - 1)), "layer"))
        for controller, value in ((101, 0), (100, 0), (6, layer.bend_range), (38, 0)):
            self._outs.append(Out(self._now, bytes((0xB0 | layer.channel, controller, value)), "layer"))

    def _bend(self, channel: int, semitones: float, bend_range: int, pitch: int | None, token: int) -> None:
        if pitch is not None and not self._voices.owns(channel, pitch, token):
            return
        value = min(max(8192 + round(semitones / bend_range * 8192), 0), 16383)
        self._bent[channel] = value - 8192
        self._outs.append(Out(self._now, bytes((0xE0 | channel, value & 0x7F, value >> 7)), "layer"))

    def _take_feel(self, quarter: float) -> None:
        fields, self._feel = self._feel, {}
        if fields:
            self.brief = self.brief.replace(**fields)
            self._tell_brief()
            self._lay_out(quarter)
            # The groove swings with the brief; what stands at this very place is still to come.
            self._lay_strokes(anew=True, here_q=quarter)

    # ---- passes ---------------------------------------------------------------------------------------------------------

    def _boundary(self) -> None:
        """The end of a pass (or of the count-in) and the start of the next."""
        ended, start_q = self._pass, Fraction(0)
        changed = self._cycle is not None
        assert ended is not None
        if self.state == COUNTING_IN:
            self.state = LISTENING
            index, start_q = ended.index, ended.start_q
        else:
            index, start_q = ended.index + 1, ended.start_q + ended.cycle_q
            ended.end_q, ended.end_sec = float(start_q), self._now
        if self._cycle is not None:
            self.brief = self.brief.replace(cycle=self._cycle)
            self._cycle = None
            self._tell_brief()
        qpm = self._practice.ramp_qpm(self.brief.ramp, index)
        if qpm is not None and abs(qpm - self.brief.tempo.quarters_per_minute) > 1e-6:
            self.brief = self.brief.replace(tempo=f"{qpm:.6f}".rstrip("0").rstrip("."))
            self.transport.set_tempo(self._now, self.brief.tempo.quarters_per_minute)
            self._tell_brief()
        was, replaced = self.state, self._replaced
        if was == REPLACING:
            self.state = LISTENING
        if self._next_state is not None:
            self.state, self._next_state = self._next_state, None
        self._open(index, start_q)
        self._schedule.forget_before(index)
        if changed:
            self._lay_out(float(start_q))
        if was in (LAYERING, REPLACING) and index != ended.index:
            self._make(ended, replaced if was == REPLACING else None)
        self._take_deferred()
        self._tell_drift()
        self._tell_clock()
        self._tell_layers()

    def _open(self, index: int, start_q: Fraction) -> None:
        """Begin a pass: its record, its clicks, its end."""
        brief = self.brief
        record = self.history.open_pass(index, start_q, self._now, brief.cycle.quarters, brief.slots)
        record.run_pass = record.index - self._practice.first_pass
        record.first_bar, record.bar_starts = self._practice.open(len(brief.cycle.meters)), brief.cycle.bar_starts
        record.layered = self.state in (LAYERING, REPLACING)
        self._pass = record
        self._lead_laid = False
        self._replaced = self._standing[-1] if self.state == REPLACING and self._standing else None
        if self._replaced is not None:
            self._voices.silence(self._now, lambda voice: voice.layer == self._replaced)
        self._lay_strokes()
        end_q = float(start_q + brief.cycle.quarters)
        self._schedule.push(end_q - brief.slots.half_q, Order.LEAD)
        self._schedule.push(end_q, Order.BOUNDARY)
        oldest = min(self.history.passes)
        self.transport.forget_before(self.history.passes[oldest].start_sec - 1.0)

    def _lay_strokes(self, anew: bool = False, here_q: float | None = None) -> None:
        """Lay out the click and the groove of this pass; ``anew`` what is still to come of it, and what stands at ``here_q``.

        What was struck is not struck again, however the moment of its place is rounded.
        """
        record = self._pass
        assert record is not None
        if anew:
            self._schedule.drop(Order.CLICK)
        start_q = float(record.start_q)
        for stroke in strokes(self.brief, record.run_pass, record.first_bar):
            place = start_q + stroke.quarter
            to_come = place > self._struck_q and (place == here_q or self.transport.sec_at(place) > self._now)
            if not anew or to_come:
                self._schedule.push(place, Order.CLICK, stroke)

    def _passes(self) -> list[tuple[int, float]]:
        """This pass and the next: (index, start)."""
        record = self._pass
        assert record is not None
        start_q = float(record.start_q)
        return [(record.index, start_q), (record.index + 1, start_q + float(record.cycle_q))]

    def _lay_out(self, now_q: float, only: int | None = None) -> None:
        """Lay out the layers that stand (or one of them), in this pass and, near its end, in the next."""
        if self._pass is None or self.state == STOPPED:
            return
        self._schedule.keep_only(self._standing)
        for pass_index, start_q in self._passes()[: 2 if self._lead_laid else 1]:
            self._lay_out_pass(now_q, pass_index, start_q, only)

    def _lay_out_pass(self, now_q: float, pass_index: int, start_q: float, only: int | None = None) -> None:
        for identity in self._standing if only is None else (only,):
            layer = self._layers[identity]
            # A downbeat that comes early had its place before the pass in which the layer was made: it sounds late rather than not.
            new = only is not None and layer.pass_index == pass_index - 1 and now_q <= start_q
            urgent = [
                one for one, at_q in zip(layer.ids, layer.notes["onset_q"].tolist(), strict=True) if new and at_q < 0.0
            ]
            self._schedule.lay_out(now_q, pass_index, start_q, identity, layer, self.brief, urgent)

    def _make(self, record: PassRecord, instead_of: int | None = None) -> int | None:
        """Make a pass a layer that stands; returns its id, or None when nothing was played in it."""
        if instead_of not in self._standing:
            # It was taken away meanwhile: the pass is a layer of its own.
            instead_of = None
        number = self._layers[instead_of].number if instead_of is not None else self._free_number()
        layer = self._layer_of(record, number)
        if not len(layer):
            return None
        self._layer_ids += 1
        identity = self._layer_ids
        self._layers[identity] = layer
        record.layer = identity
        standing = tuple(identity if one == instead_of else one for one in self._standing)
        self._stand(standing if instead_of is not None else (*self._standing, identity))
        if self._pass is not None and self.state != STOPPED:
            self._lay_out(self._now_q(), identity)
        self._tell_layer(layer)
        return identity

    def _layer_of(self, record: PassRecord, number: int) -> Layer:
        follower = self.history.passes.get(record.index + 1)
        qpm = self.transport.since(record.start_sec)[0].qpm
        return layer_of(record, follower, number, self.brief.program, self._pairer, qpm)

    def _free_number(self) -> int:
        taken = {self._layers[identity].number for identity in self._standing}
        return next(number for number in range(1, len(taken) + 2) if number not in taken)

    def _stand(self, standing: tuple[int, ...]) -> None:
        """Let these layers stand from now on; the ones before can be brought back by an undo."""
        self._undo_stack.append(self._standing)
        del self._undo_stack[:-UNDO_STEPS]
        self._redo_stack.clear()
        self._set_standing(standing)

    def _set_standing(self, standing: tuple[int, ...]) -> None:
        gone = set(self._standing) - set(standing)
        self._standing = standing
        self._voices.silence(self._now, lambda voice: voice.layer in gone)
        reachable = {*standing, *(i for step in self._undo_stack + self._redo_stack for i in step)}
        self._layers = {identity: layer for identity, layer in self._layers.items() if identity in reachable}
        self._muted &= reachable

    def _remake(self, record: PassRecord) -> None:
        """A late event belongs to a pass of which a layer was made already: make the layer again."""
        for owner in (record, self.history.passes.get(record.index - 1)):
            if owner is None:
                continue
            if owner.layer in self._layers:
                old = self._layers[owner.layer]
                new = self._layer_of(owner, old.number)
                if new.ids == old.ids and np.array_equal(new.notes, old.notes):
                    continue
                self._layers[owner.layer] = Layer(
                    old.number, new.notes, new.bends, old.pass_index, old.program, old.channel, new.ids
                )
                if owner.layer in self._standing:
                    self._lay_out(self._now_q(), owner.layer)
                self._tell_layer(new)
                self._tell_layers()
            elif owner.layered and owner.finished and owner.layer is None and self._make(owner) is not None:
                self._tell_layers()

    def _now_q(self) -> float:
        return self.transport.quarter_at(self._now)

    def _tell_drift(self) -> None:
        """Say how far the player had drifted in silences that are over."""
        records = [self.history.passes[index] for index in sorted(self.history.passes)]
        for drift in self._practice.drifts(self.brief, records, self._now_q()):
            self._tell("drift", **drift._asdict())
            self._say(drift_words(drift))

    def _take_deferred(self) -> None:
        """Do what was asked for just before the end of the pass; overridden where the commands live."""
        self._deferred.clear()

    # ---- telling --------------------------------------------------------------------------------------------------------

    def _tell(self, kind: str, **data: Any) -> None:
        self._news.append(News(kind, self._now, data))

    def _say(self, text: str, wrong: bool = False) -> str:
        self._tell("say", text=text, wrong=wrong)
        return text

    def _tell_brief(self) -> None:
        self._news.append(News("brief", self._now, self.brief.to_dict()))

    def _tell_layer(self, layer: Layer) -> None:
        rows = zip(
            layer.notes["onset_q"].tolist(),
            layer.notes["duration_q"].tolist(),
            layer.notes["pitch"].tolist(),
            strict=True,
        )
        self._tell("layer", number=layer.number, notes=[list(row) for row in rows])

    def _tell_layers(self) -> None:
        rows = []
        for identity in self._standing:
            layer = self._layers[identity]
            muted = identity in self._muted
            rows.append(
                {
                    "number": layer.number,
                    "muted": muted,
                    "sounding": self.state != STOPPED and not muted,
                    "passes": 1,
                    "pass": layer.pass_index,
                    "notes": len(layer),
                    "channel": layer.channel,
                    "program": layer.program,
                }
            )
        self._tell("layers", layers=rows)

    def _tell_clock(self) -> None:
        record = self._pass
        anchor = self.transport.anchors[-1] if self.transport.anchors else None
        coming = [f"{self._next_state} at the next cycle"] if self._next_state is not None else []
        if self._cycle is not None:
            coming.append(f"{self._cycle} at the next cycle")
        if self._feel:
            coming.append("a new feel at the next beat")
        self._tell(
            "clock",
            state=self.state,
            next=", ".join(coming),
            anchor_sec=anchor.sec if anchor is not None else self._now,
            anchor_q=anchor.quarter if anchor is not None else 0.0,
            qpm=self.transport.qpm if self.state != STOPPED else self.brief.tempo.quarters_per_minute,
            pass_start_q=float(record.start_q) if record is not None else 0.0,
            cycle=str(self.brief.cycle),
            cycle_q=float(self.brief.cycle.quarters),
            running=self.state != STOPPED,
            **{"pass": record.index if record is not None and self.state != COUNTING_IN else FREE},
        )
