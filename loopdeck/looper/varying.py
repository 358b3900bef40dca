"""A layer changed while it sounds: ``vary`` with words such as ``octave -1`` or ``power-chords``.

A way that changes the riff puts a new layer in the old one's place; one that adds a voice puts a
new layer beside it. Either is one step of the undo. What belongs to the whole loop (swing, the last
bar, the tuning; or any way that changes the riff, for all layers) changes every layer and the
fields of the brief that go with it, where the cycle begins, as one step of the undo. Several of
these that are asked for before one start of the cycle are all done there, in their order, on what
the loop is by then.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np

from loopdeck.bass.variations.line import LINE_DTYPE, Line
from loopdeck.bass.variations.ways import vary
from loopdeck.looper.arguments import ALL
from loopdeck.looper.bring_back import BringBack
from loopdeck.looper.commands import LOOP
from loopdeck.looper.core import Core
from loopdeck.looper.given_layers import given_from
from loopdeck.looper.layers import LAYER_DTYPE, Layer, channel_of
from loopdeck.looper.news import Answer, tell_clock, tell_layer, tell_layers
from loopdeck.looper.state import Refused, Waiting, plans
from loopdeck.theory.tuning import Tuning

#: Ways that are of the whole loop, and not of one layer.
WHOLE = ("swing", "last-bar", "retune", "reshape")
VARY = "vary"
#: What of the brief goes with the riff.
FIELDS = ("swing", "cycle", "tuning", "scale")
#: What a line and a layer know alike of a note.
_SHARED = ("onset_q", "duration_q", "pitch", "velocity", "string", "channel")


class Varying:
    """Acts on the parts of one looper."""

    def __init__(self, core: Core, bring_back: BringBack) -> None:
        self._core, self._bring_back = core, bring_back

    @plans(LOOP)
    def vary(self, how: str, at_once: bool, layer: int | str | None = None, earlier: Sequence[str] = ()) -> Answer:
        """Vary one layer, the newest if none is named, or all; ``at_once`` also where the brief
        changes. ``earlier``: the ways that waited for this start of the cycle too. Raises Refused,
        UserError.
        """
        core, stack = self._core, self._core.stack
        way = how.strip().lower().partition(" ")[0]
        if way in WHOLE or layer == ALL:
            return self._whole(how, earlier, at_once)
        picked = stack.picked(layer) if layer is not None else list(stack.active[-1:])
        if len(picked) != 1:
            raise Refused("There is no layer to vary.")
        old = stack[picked[0]]
        before = _line_of(old, core)
        found = vary(before, how, self._tuning)
        made = found.layer if found.layer is not None else found.riff
        if not len(made):
            raise Refused("Nothing would be left of the layer.")
        beside = found.layer is not None
        number = stack.free_number() if beside else old.number
        new = _layer_of(made, old, number, found.program or old.program)
        identity, gone = stack.add(new, None if beside else picked[0])
        core.playback.silence_layers(core.now_sec, gone)
        core.lay_out(only=identity)
        tell_layer(core, new)
        tell_layers(core)
        return Answer(f"Layer {number}: {found.says}")

    def _tuning(self, words: str) -> Tuning:
        """A tuning as the brief reads it."""
        return self._core.brief.replace(tuning=words).tuning

    def _whole(self, how: str, earlier: Sequence[str], at_once: bool) -> Answer:
        """Vary every layer, and the brief with them, where the cycle begins."""
        state = self._core.state
        given, fields, says = self._varied((*earlier, how))
        if at_once or not fields:
            answer = self._bring_back.bring_back(True, given, False, "The varied loop", fields)
            return Answer(f"{says} Undo takes it back.", answer.about)
        waits = state.loop_to_come
        if waits is not None and waits.action != VARY:
            raise Refused("Another loop comes with the next cycle; vary it then.")
        if waits is not None:
            earlier = (*waits.args["earlier"], waits.args["how"])
            given, fields, says = self._varied((*earlier, how))
        state.loop_to_come = Waiting(VARY, {"how": how, "layer": ALL, "earlier": list(earlier)})
        tell_clock(self._core)
        return Answer(f"{says} From the next cycle on. Undo takes it back.", "state")

    def _varied(self, ways: Sequence[str]) -> tuple[list[dict[str, Any]], dict[str, str | int], str]:
        """The layers after these ways, the fields of the brief that change, and what is said."""
        core, stack = self._core, self._core.stack
        if not stack.active:
            raise Refused("There is no layer to vary.")
        given: list[dict[str, Any]] = []
        brief, told = core.brief, list[str]()
        for identity, old in stack.rows():
            line, says = _line_of(old, core), []
            for how in ways:
                found = vary(line, how, self._tuning)
                if found.layer is not None:
                    raise Refused("A voice is added to one layer; choose which.")
                line = found.riff
                says.append(found.says)
                if not len(line):
                    break
            if len(line):
                brief, told = line.brief, told or says
                given.append(given_from(_layer_of(line, old, old.number, old.program), identity in stack.muted))
        if not given:
            raise Refused("Nothing would be left of the loop.")
        now, wanted = core.brief.to_dict(), brief.to_dict()
        return given, {name: wanted[name] for name in FIELDS if wanted[name] != now[name]}, " ".join(told)


def _line_of(layer: Layer, core: Core) -> Line:
    notes = np.zeros(len(layer), LINE_DTYPE)
    for name in _SHARED:
        notes[name] = layer.notes[name]
    return Line(notes, layer.bends, core.brief)


def _layer_of(line: Line, old: Layer, number: int, program: int) -> Layer:
    notes = np.zeros(len(line), LAYER_DTYPE)
    for name in _SHARED:
        notes[name] = line.notes[name]
    if len(old):
        notes["first_pass"] = old.notes["first_pass"].min()
    return Layer(
        number, notes, line.bends, old.pass_index, program, channel_of(number), tuple(range(len(line))), old.qpm
    )
