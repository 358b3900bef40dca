"""A layer changed while it sounds: ``vary`` with words such as ``octave -1`` or ``power-chords``.

A way that changes the riff puts a new layer in the old one's place; one that adds a voice puts a
new layer beside it. Either is one step of the undo. What belongs to the whole brief (swing, the
cycle) is changed there and not here, and so are tunings, which change no pitch of a layer.
"""

import numpy as np

from loopdeck.bass.variations.line import LINE_DTYPE, Line
from loopdeck.bass.variations.words import vary
from loopdeck.looper.core import Core
from loopdeck.looper.layers import LAYER_DTYPE, Layer, channel_of
from loopdeck.looper.news import Answer, tell_layer, tell_layers
from loopdeck.looper.state import Refused

#: Ways that are not of one layer, and where they belong.
ELSEWHERE = {
    "swing": "the brief's swing",
    "last-bar": "the brief's cycle",
    "retune": "the brief's tuning",
    "reshape": "the command vary, afterwards",
}


#: What power chords are played on: General MIDI level 1, overdriven guitar, counted from 1.
GUITAR = 30


class Varying:
    """Acts on the parts of one looper."""

    def __init__(self, core: Core) -> None:
        self._core = core

    def vary(self, how: str, layer: int | str | None = None) -> Answer:
        """Vary one layer, the newest if none is named. Raises Refused, UserError."""
        core, stack = self._core, self._core.stack
        picked = stack.picked(layer) if layer is not None else list(stack.active[-1:])
        if len(picked) != 1:
            raise Refused("There is no layer to vary." if not picked else "Choose one layer to vary, not all.")
        way = how.strip().lower().partition(" ")[0]
        if way in ELSEWHERE:
            raise Refused(f"{way.capitalize()} is not a matter of one layer; use {ELSEWHERE[way]}.")
        old = stack[picked[0]]
        before = _line_of(old, core)
        found = vary(before, how)
        made = found.layer if found.layer is not None else found.riff
        if not len(made):
            raise Refused("Nothing would be left of the layer.")
        beside = found.layer is not None
        number = stack.free_number() if beside else old.number
        new = _layer_of(made, old, number, GUITAR if way == "power-chords" else old.program)
        identity, gone = stack.add(new, None if beside else picked[0])
        core.playback.silence_layers(core.now_sec, gone)
        core.lay_out(only=identity)
        tell_layer(core, new)
        tell_layers(core)
        return Answer(f"Layer {number}: {found.says}")


def _line_of(layer: Layer, core: Core) -> Line:
    notes = np.zeros(len(layer), LINE_DTYPE)
    for name in ("onset_q", "duration_q", "pitch", "velocity", "string"):
        notes[name] = layer.notes[name]
    return Line(notes, layer.bends, core.brief)


def _layer_of(line: Line, old: Layer, number: int, program: int) -> Layer:
    notes = np.zeros(len(line), LAYER_DTYPE)
    for name in ("onset_q", "duration_q", "pitch", "velocity", "string"):
        notes[name] = line.notes[name]
    if len(old):
        notes["channel"], notes["first_pass"] = old.notes["channel"][0], old.notes["first_pass"].min()
    return Layer(
        number, notes, line.bends, old.pass_index, program, channel_of(number), tuple(range(len(line))), old.qpm
    )
