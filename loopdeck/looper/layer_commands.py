"""What can be done with layers: undo and redo, mute and solo, delete and clear."""

from loopdeck.looper.bring_back import REDO, UNDO, change_fields, changed, end_layering
from loopdeck.looper.commands import LOOP
from loopdeck.looper.core import Core
from loopdeck.looper.news import Answer, tell_clock, tell_layer, tell_layers
from loopdeck.looper.state import LAYERING, LISTENING, REPLACING, Refused, Waiting, plans


class LayerCommands:
    """Acts on the parts of one looper."""

    def __init__(self, core: Core) -> None:
        self._core = core

    # ---- steps -----------------------------------------------------------------------------------

    @plans(LOOP)
    def undo(self, at_once: bool) -> Answer | str:
        """Take one step back."""
        return self._step(UNDO, "Undone", at_once)

    @plans(LOOP)
    def redo(self, at_once: bool) -> Answer | str:
        """Take an undo back."""
        return self._step(REDO, "Redone", at_once)

    def _step(self, way: str, word: str, at_once: bool) -> Answer | str:
        core, state, stack = self._core, self._core.state, self._core.stack
        if not at_once and state.take_loop() is not None:
            tell_clock(core)
            return "The loop stays as it is."
        if not at_once and changed(core, stack.next_fields(way == UNDO)):
            state.loop_to_come = Waiting(way, {})
            tell_clock(core)
            return Answer("The loop changes back with the next cycle.", "state")
        now = core.brief.to_dict()
        moved = stack.undo(now) if way == UNDO else stack.redo(now)
        if fields := {name: moved.fields[name] for name in changed(core, moved.fields)}:
            end_layering(core, False)
            change_fields(core, fields)
            tell_clock(core)
        return self._moved(moved.gone, word)

    def _moved(self, gone: set[int], word: str) -> str:
        core = self._core
        core.playback.silence_layers(core.now_sec, gone)
        core.lay_out()
        for layer in core.stack.layers():
            tell_layer(core, layer)
        tell_layers(core)
        count = len(core.stack.active)
        return f"{word}: {count or 'no'} layer{'' if count == 1 else 's'}."

    def delete(self, layer: int | str) -> str:
        """Take one layer away, whichever it is."""
        core, stack = self._core, self._core.stack
        picked = stack.picked(layer)
        if not picked:
            raise Refused("There is no layer to delete.")
        gone = stack.activate(tuple(one for one in stack.active if one not in picked))
        core.playback.silence_layers(core.now_sec, gone)
        core.lay_out()
        tell_layers(core)
        return f"Deleted: {_words(layer)}; undo brings {'them' if layer == 'all' else 'it'} back."

    def clear(self) -> str:
        """Take all layers away; layering ends."""
        core, state, stack = self._core, self._core.state, self._core.stack
        if not stack.active:
            raise Refused("There is no layer to clear.")
        core.playback.silence_layers(core.now_sec, stack.activate(()))
        state.coming = None
        stack.replaced = None
        if state.name in (LAYERING, REPLACING):
            state.enter(LISTENING)
            core.record().layered = False
        core.lay_out()
        tell_clock(core)
        tell_layers(core)
        return "All layers are cleared; undo brings them back."

    # ---- what sounds -----------------------------------------------------------------------------

    def _picked(self, layer: int | str) -> set[int]:
        """The layers that are meant. Raises Refused where there is none."""
        picked = set(self._core.stack.picked(layer))
        if not picked:
            raise Refused("There is no layer yet.")
        return picked

    def mute(self, layer: int | str) -> str:
        """Silence one layer or all."""
        core, picked = self._core, self._picked(layer)
        core.stack.muted |= picked
        core.playback.silence_layers(core.now_sec, picked)
        tell_layers(core)
        return f"Muted: {_words(layer)}."

    def unmute(self, layer: int | str) -> str:
        """Let one layer or all sound again."""
        core = self._core
        core.stack.muted -= self._picked(layer)
        tell_layers(core)
        return f"Unmuted: {_words(layer)}."

    def mute_toggle(self, layer: int | str) -> str:
        """Mute, or let sound what is muted."""
        stack = self._core.stack
        return self.unmute(layer) if set(stack.picked(layer)) <= stack.muted else self.mute(layer)

    def solo(self, layer: int | str) -> str:
        """Only this layer sounds, even if it was muted; the same once more, or ``all``: every layer
        as before.
        """
        core, stack = self._core, self._core.stack
        picked = stack.picked(layer)
        if layer == "all" or picked == [stack.solo]:
            stack.solo = None
            tell_layers(core)
            return "No layer is soloed."
        stack.solo = picked[0]
        stack.muted.discard(picked[0])
        core.playback.silence_layers(core.now_sec, set(stack.active) - {picked[0]})
        tell_layers(core)
        return f"Solo: layer {layer}."


def _words(layer: int | str) -> str:
    return "all layers" if layer == "all" else f"layer {layer}"
