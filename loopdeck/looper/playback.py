"""Playback: what is to sound and when, and the messages that make it sound.

Task
    Layers, click and groove are laid out into a schedule, pass by pass; when an item falls due,
    ``click`` and ``sound`` turn it into messages. Every note-on is entered in the voices and leaves
    again by its note-off.

Conventions
    Positions are quarters on the session's axis, moments seconds. ``outs`` collects the messages in
    order of time.
"""

from collections.abc import Collection
from fractions import Fraction

import numpy as np

from loopdeck.brief.brief import Brief
from loopdeck.capture.bend import bend_data, bend_offset, range_data
from loopdeck.looper.channel_values import ChannelValues
from loopdeck.looper.layer_stack import LayerStack
from loopdeck.looper.layers import Layer
from loopdeck.looper.recorder import PassRecord
from loopdeck.looper.schedule import Item, LayerPass, Rank, Schedule
from loopdeck.looper.string_channels import Channels, string_channels
from loopdeck.looper.strokes import PercussionStroke, strokes
from loopdeck.looper.touching import Touching
from loopdeck.looper.transport import Transport
from loopdeck.looper.voices import Out, Voice, Voices

CLICK_CHANNEL = 9
#: How long a click lasts, in quarters; percussion hardly cares.
CLICK_QUARTERS = 0.1
#: How long a string is held for a note that goes on from it, should that note not come after all.
HELD_QUARTERS = 0.02


class Playback:
    """Nothing is laid out at first."""

    def __init__(self) -> None:
        self.outs: list[Out] = []
        self.voices = Voices(self.outs.append)
        self.schedule = Schedule()
        #: True once the layers are laid out in the next pass too, half a slot before its start or
        #: where the first of them begins, and where that is.
        self.lead_laid = False
        self._lead_q = float("inf")
        self._token = 0
        #: The place of the last stroke of click or groove.
        self._struck_q = float("-inf")
        #: The bend (-8192 to 8191) of each channel of the layers.
        self._bent = ChannelValues()
        #: Channel, program, bend range and home as they were last sent.
        self._prepared: set[tuple[int, int, int, int]] = set()
        #: The channels of the notes of these layers, by the layer's identity.
        self._layers: list[Layer] = []
        self._channels: dict[int, Channels] = {}
        self._touching = Touching()

    # ---- laying out ------------------------------------------------------------------------------

    def lay_strokes(self, brief: Brief, record: PassRecord) -> None:
        """Lay out the click and the groove of a pass that begins."""
        for stroke in strokes(brief, record.run_pass, record.first_bar):
            self.schedule.push(float(record.start_q) + stroke.quarter, Rank.CLICK, stroke)

    def lay_strokes_anew(
        self, brief: Brief, record: PassRecord, transport: Transport, now_sec: float, here_q: float | None = None
    ) -> None:
        """Lay out what is still to come of the click and the groove of a pass, and what stands at
        ``here_q``.

        What was struck is not struck again, however the moment of its place is rounded.
        """
        self.schedule.drop(Rank.CLICK)
        for stroke in strokes(brief, record.run_pass, record.first_bar):
            place = float(record.start_q) + stroke.quarter
            if place > self._struck_q and (place == here_q or transport.sec_at(place) > now_sec):
                self.schedule.push(place, Rank.CLICK, stroke)

    def lay_count_in(self, brief: Brief, base_q: Fraction, bars: int) -> None:
        """Lay out the click of a count-in that begins at ``base_q``."""
        bar_q = brief.cycle.meters[0].quarters
        for bar in range(bars):
            for stroke in strokes(brief, -1):
                if stroke.quarter < bar_q:
                    self.schedule.push(float(base_q + bar * bar_q) + stroke.quarter, Rank.CLICK, stroke)

    def lay_out(
        self, now_q: float, record: PassRecord, stack: LayerStack, brief: Brief, only: int | None = None
    ) -> None:
        """Lay out the active layers (or one of them) in the current pass and, near its end, in the
        next.
        """
        self.schedule.keep_only(stack.active)
        self._lay_out_pass(now_q, record.index, float(record.start_q), stack, brief, only)
        if self.lead_laid:
            self._lay_out_next(now_q, record, stack, brief, only)
        elif now_q >= float(record.start_q):
            self._lay_lead(record, stack, brief)

    def begin_pass(self, record: PassRecord, stack: LayerStack, brief: Brief) -> None:
        """A pass begins: its click and groove, and when the layers are laid out in the next one."""
        self.lead_laid, self._lead_q = False, float("inf")
        self.lay_strokes(brief, record)
        self._lay_lead(record, stack, brief)

    def _lay_lead(self, record: PassRecord, stack: LayerStack, brief: Brief) -> None:
        """Plan the lead for where the earliest note of the next pass sounds: in a finer grid than
        it was played in an early downbeat may be further off than half a slot.
        """
        places = [layer.places(brief) for layer in stack.layers()]
        early_q = max((-float(np.nanmin(one, initial=0.0)) for one in places), default=0.0)
        lead_q = float(record.start_q + record.cycle_q) - max(early_q, brief.slots.half_q)
        if lead_q < self._lead_q:
            self._lead_q = lead_q
            self.schedule.push(lead_q, Rank.LEAD)

    def lead(self, now_q: float, record: PassRecord, stack: LayerStack, brief: Brief) -> None:
        """The next pass is near: lay out the active layers in it, since a note may sound a little
        before its start.
        """
        if not self.lead_laid:
            self.lead_laid = True
            self._lay_out_next(now_q, record, stack, brief, None)

    def _lay_out_next(
        self, now_q: float, record: PassRecord, stack: LayerStack, brief: Brief, only: int | None
    ) -> None:
        start_q = float(record.start_q) + float(record.cycle_q)
        self._lay_out_pass(now_q, record.index + 1, start_q, stack, brief, only)

    def _lay_out_pass(
        self, now_q: float, pass_index: int, start_q: float, stack: LayerStack, brief: Brief, only: int | None
    ) -> None:
        for identity in stack.active if only is None else (only,):
            layer = stack[identity]
            # A downbeat that comes early had its place before the pass in which the layer was made:
            # it sounds late rather than not.
            new = only is not None and layer.pass_index == pass_index - 1 and now_q <= start_q
            urgent = _early(layer) if new else ()
            self.schedule.lay_out(now_q, pass_index, start_q, identity, layer, brief, urgent)

    # ---- sounding --------------------------------------------------------------------------------

    def click(self, now_sec: float, item: Item, click_level: int) -> bool:
        """Sound a stroke; False for one that is silent."""
        stroke: PercussionStroke = item.payload
        self._struck_q = item.quarter
        velocity = stroke.velocity if stroke.velocity is not None else round(click_level * stroke.weight)
        if velocity <= 0:
            return False
        self._token += 1
        self.voices.on(now_sec, CLICK_CHANNEL, stroke.note, velocity, Voice(stroke.part, self._token, 0))
        off = (CLICK_CHANNEL, stroke.note, self._token)
        self.schedule.push(item.quarter + CLICK_QUARTERS, Rank.OFF, off)
        return True

    def sound(self, now_sec: float, quarter: float, laid: LayerPass, row: int, stack: LayerStack) -> None:
        """Sound a note of a layer, as the layer is now."""
        identity = laid.identity
        if identity not in stack or stack.quiet(identity) or identity == stack.replaced:
            return
        layer = stack[identity]
        follower_q = laid.place_of(laid.layer.touch.follower(row))
        if layer is not laid.layer:
            # A late note has changed the layer since: the note may stand in another row, or belong
            # to it no longer.
            if laid.layer.ids[row] not in layer.ids:
                return
            row, follower_q = layer.ids.index(laid.layer.ids[row]), None
        self._sound_row(now_sec, quarter, identity, stack, row, follower_q)

    def _sound_row(
        self, now_sec: float, quarter: float, identity: int, stack: LayerStack, row: int, follower_q: float | None
    ) -> None:
        """``follower_q``: where the note stands that goes on from this one without a pluck."""
        layer = stack[identity]
        _, duration_q, pitch, velocity, *_ = layer.notes[row].item()
        channel = self._channel_of(stack, identity, row)
        home = layer.channel if channel != layer.channel else -1
        self._prepare(now_sec, layer, channel, home)
        self._token += 1
        token = self._token
        if not layer.bent and not self._bent.known(channel, home, 0):
            # The layer that had this channel before ended on a bend.
            self._bend(now_sec, channel, 0.0, layer.bend_range, home)
        if layer.bent:
            curve = layer.bends[row]
            self._bend(now_sec, channel, float(curve[0, 1]), layer.bend_range, home)
            for after_q, semitones in curve[1:].tolist():
                if after_q < duration_q:
                    payload = (channel, semitones, layer.bend_range, pitch, token)
                    self.schedule.push(quarter + after_q, Rank.BEND, payload)
        before, source = self._touching.before(layer, row, identity, self.voices, channel, home)
        self.outs += [Out(now_sec, data, "layer", home) for data in before]
        self.voices.on(now_sec, channel, pitch, velocity, Voice("layer", token, identity, home))
        if source is not None:
            self.voices.off(now_sec, *source)
        end_q = quarter + duration_q
        if follower_q is not None:
            # The string rings on until the other finger takes it.
            self._touching.hold(layer, row, identity, pitch, token)
            end_q = max(follower_q, quarter) + HELD_QUARTERS
        self.schedule.push(end_q, Rank.OFF, (channel, pitch, token))

    def _channel_of(self, stack: LayerStack, identity: int, row: int) -> int:
        """The channel of a note: its layer's, or its string's own."""
        layers = stack.layers()
        if self._layers != layers:
            self._layers, self._channels = layers, dict(zip(stack.active, string_channels(layers), strict=True))
        return int(self._channels[identity][row])

    def _prepare(self, now_sec: float, layer: Layer, channel: int, home: int) -> None:
        """Send the program and the bend range before the first note of a layer on a channel."""
        wanted = (channel, layer.program, layer.bend_range, home)
        if wanted in self._prepared:
            return
        self._prepared = {known for known in self._prepared if known[0] != channel} | {wanted}
        self.outs.append(Out(now_sec, bytes((0xC0 | channel, layer.program - 1)), "layer", home))
        self.outs += [Out(now_sec, data, "layer", home) for data in range_data(channel, layer.bend_range)]

    def bend(self, now_sec: float, channel: int, semitones: float, bend_range: int, pitch: int, token: int) -> None:
        """Bend a note of a layer, if it still sounds."""
        voice = self.voices.owner(channel, pitch, token)
        if voice is not None:
            self._bend(now_sec, channel, semitones, bend_range, voice.home)

    def _bend(self, now_sec: float, channel: int, semitones: float, bend_range: int, home: int) -> None:
        self._bent.tell(channel, home, bend_offset(semitones, bend_range))
        self.outs.append(Out(now_sec, bend_data(channel, semitones, bend_range), "layer", home))

    def silence_layers(self, now_sec: float, identities: Collection[int]) -> None:
        """End what sounds of these layers."""
        self.voices.silence(now_sec, lambda voice: voice.layer in identities)

    def stop(self, now_sec: float) -> None:
        """Forget what is to come, and end what sounds, except for live playing."""
        self.schedule.clear()
        self.voices.silence(now_sec, lambda voice: voice.part != "live")
        self.lead_laid = False
        self.outs += [Out(now_sec, data, "layer", home) for data, home in self._touching.end()]

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        laid = (self.voices.table(), self.schedule.waiting(), self.lead_laid, self._lead_q)
        sent = (self._token, self._bent.parts(), sorted(self._prepared), self._struck_q)
        return (*laid, *sent, self._touching.parts())


def _early(layer: Layer) -> list[int]:
    """The ids of the notes of a layer that were played before the start of their pass."""
    return [one for one, at_q in zip(layer.ids, layer.notes["onset_q"].tolist(), strict=True) if at_q < 0.0]
