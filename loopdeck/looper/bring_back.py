"""The command bring-back: layers that were kept come back as the loop, with the brief they were
played in.

Theory of operation
    While time stands it is done at once. While time runs the loop changes where a cycle begins:
    ``State.loop_to_come`` holds what is to be done, and ``Passes`` asks for it before the next pass
    is opened, so that brief, cycle and layers change at one and the same moment. It is one step of
    the undo, which brings back the layers of before and the fields of the brief that were changed.
    An undo that changes the cycle waits for the next start in the same way.
"""

from collections.abc import Mapping
from typing import Any

from loopdeck.brief.spec import CYCLE
from loopdeck.looper.commands import START
from loopdeck.looper.core import Core
from loopdeck.looper.given_layers import layer_from
from loopdeck.looper.layer_stack import Fields
from loopdeck.looper.news import Answer, tell_brief, tell_clock, tell_layer, tell_layers
from loopdeck.looper.state import LAYERING, LISTENING, REPLACING, Waiting, plans

BRING_BACK, UNDO, REDO = "bring_back", "undo", "redo"


class BringBack:
    """Acts on the parts of one looper."""

    def __init__(self, core: Core) -> None:
        self._core = core

    @plans(START, CYCLE)
    def bring_back(
        self,
        at_once: bool,
        layers: list[dict[str, Any]],
        beside: bool,
        name: str,
        fields: Mapping[str, Any] | None = None,
    ) -> Answer:
        """These layers are the loop, or stand ``beside`` it; with the brief's ``fields``."""
        core, words = self._core, name or "what was kept"
        if not at_once:
            args = {"layers": layers, "beside": beside, "name": name, "fields": dict(fields or {})}
            core.state.loop_to_come = Waiting(BRING_BACK, args)
            tell_clock(core)
            says = f"Beside the loop from the next cycle on: {words}." if beside else f"The next cycle is {words}."
            return Answer(says, "state")
        end_layering(core, beside)
        before = changed(core, fields or {})
        now = core.brief.to_dict()
        if before:
            change_fields(core, {key: str((fields or {})[key]) for key in before})
        stack = core.stack
        numbers = stack.free_numbers(len(layers)) if beside else range(1, len(layers) + 1)
        made = [layer_from(given, number) for given, number in zip(layers, numbers, strict=True)]
        identities, gone = stack.exchange(made, beside, {key: now[key] for key in before})
        stack.muted |= {identity for identity, given in zip(identities, layers, strict=True) if given["muted"]}
        core.playback.silence_layers(core.now_sec, gone)
        core.lay_out()
        for layer in made:
            tell_layer(core, layer)
        tell_layers(core)
        tell_clock(core)
        count = f"{len(made)} layer{'' if len(made) == 1 else 's'}"
        return Answer(f"{'Beside the loop:' if beside else 'The loop is'} {words}, {count}; undo takes it back.")


def end_layering(core: Core, beside: bool) -> None:
    """Another loop takes the place of this one: no pass of this one is layered any more."""
    state = core.state
    if beside:
        return
    state.coming = None
    core.stack.replaced = None
    if state.name in (LAYERING, REPLACING):
        state.enter(LISTENING)
        record = core.record()
        # One that has just ended is a layer of the loop before, and its early downbeat as well.
        record.layered = record.layered and record.finished


def changed(core: Core, fields: Mapping[str, Any]) -> list[str]:
    """The names of the fields that are not in the brief as they are given, in the brief's order.

    Raises UserError if one is not a field.
    """
    now, wanted = core.brief.to_dict(), core.brief.replace(**dict(fields)).to_dict()
    return [name for name in now if now[name] != wanted[name]]


def change_fields(core: Core, fields: Fields) -> None:
    """Change fields of the brief at this very moment: a cycle begins, or no time runs."""
    settings = core.settings
    if "cycle" in fields:
        settings.next_cycle = None
    settings.next_beat = {key: text for key, text in settings.next_beat.items() if key not in fields}
    settings.change(**fields)
    qpm = core.brief.tempo.quarters_per_minute
    if core.state.running and "tempo" in fields:
        core.transport.set_tempo(core.now_sec, qpm)
    if {"tempo", "ramp"} & set(fields):
        record = core.recorder.current
        core.practice.steady(qpm, record.index if record is not None else -1)
    tell_brief(core)
