"""How passes become layers: while LAYERING each one, and "loop that" afterwards.

A layer is a view of one pass. It is made when the pass ends, or when it is asked for, and made anew
while late events still belong to that pass.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from loopdeck.brief.spec import CYCLE
from loopdeck.looper.commands import START
from loopdeck.looper.core import Core
from loopdeck.looper.layers import Layer
from loopdeck.looper.news import Answer, tell_clock, tell_layer, tell_layers, tell_note_on
from loopdeck.looper.pass_layer import layer_of
from loopdeck.looper.recorder import PassRecord, Played
from loopdeck.looper.state import LAYERING, LISTENING, REPLACING, Refused, plans


class Layering:
    """Acts on the parts of one looper."""

    def __init__(self, core: Core) -> None:
        self._core = core

    # ---- notes and layers ------------------------------------------------------------------------

    def place(self, played: Played) -> None:
        """Enter a note that was played before, now that its pass is known. One that is out of view
        stays so, and comes into view there.
        """
        core = self._core
        record = core.recorder.place(played, core.transport.quarter_at)
        if played.hidden:
            core.recorder.hide(played, played.hidden)
            return
        tell_note_on(core, played)
        if record is not None:
            self.remake(record, played)

    def make(self, record: PassRecord, instead_of: int | None = None) -> int | None:
        """Make a pass an active layer; returns its id, or None when nothing was played in it."""
        core, stack = self._core, self._core.stack
        if instead_of not in stack.active:
            # It was taken away meanwhile: the pass is a layer of its own.
            instead_of = None
        number = stack[instead_of].number if instead_of is not None else stack.free_number()
        layer = self.layer_of(record, number)
        if not len(layer):
            return None
        identity, gone = stack.add(layer, instead_of)
        core.playback.silence_layers(core.now_sec, gone)
        record.layer = identity
        core.lay_out(only=identity)
        tell_layer(core, layer)
        return identity

    def remake(self, record: PassRecord, note: Played | None = None) -> None:
        """A late event belongs to a pass of which a layer was made already: make the layer
        again.

        ``note``: the one that has changed, where it is only one.
        """
        before = self._core.recorder.passes.get(record.index - 1)
        if before is not None and note is not None and not self._reaches_back(record, before):
            before = None
        for owner in (record, before):
            if owner is None:
                continue
            if owner.layer in self._core.stack:
                self._remake(owner, owner.layer)
            elif owner.layered and owner.finished and owner.layer is None and self.make(owner) is not None:
                tell_layers(self._core)

    def _reaches_back(self, record: PassRecord, before: PassRecord) -> bool:
        """True where a note of a pass may change the layer of the one before: an early downbeat,
        now or until now; and any note where notes of that layer are held or bent, since nobody is
        told when a stop ends them, or how they bend.
        """
        if before.layer is None or before.layer not in self._core.stack:
            return True
        layer, sounding = self._core.stack[before.layer], self._core.recorder.pairer.sounding()
        if layer.bent or any(one in layer.ids for one in sounding) or any(note.at_q < 0.0 for note in record.notes):
            return True
        held = layer.notes["duration_q"] >= float(before.cycle_q) - 1e-6
        return bool((held | (layer.notes["first_pass"] > before.index + 1)).any())

    def _remake(self, owner: PassRecord, identity: int | None) -> None:
        core, stack = self._core, self._core.stack
        if identity is None:
            return
        old = stack[identity]
        new = self.layer_of(owner, old.number)
        if new.ids == old.ids and np.array_equal(new.notes, old.notes) and _same(new.bends, old.bends):
            return
        stack.put(identity, replace(new, program=old.program, channel=old.channel))
        if identity in stack.active:
            core.lay_out(only=identity)
            tell_layer(core, new)
        tell_layers(core)

    def layer_of(self, record: PassRecord, number: int) -> Layer:
        """The layer of a pass as it stands now, by this number."""
        core = self._core
        qpm = record.qpm if record.qpm is not None else core.transport.since(record.start_sec)[0].qpm
        follower = core.recorder.follower(record)
        return layer_of(record, follower, number, core.brief.program, core.recorder, qpm)

    # ---- layering on and off ---------------------------------------------------------------------

    @plans(START, CYCLE)
    def layer_on(self, at_once: bool) -> Answer:
        """Layer this pass (``at_once``) or the passes from the next cycle on."""
        core, state, record = self._core, self._core.state, self._core.record()
        if state.name == LAYERING:
            going_on, state.coming = state.coming is not None, None
            said = Answer("Layering goes on." if going_on else "Passes are being layered already.", "state")
        elif state.name == LISTENING and at_once:
            state.enter(LAYERING)
            record.layered, state.coming = True, None
            said = Answer(f"Layering pass {record.index + 1}.", "pass")
        else:
            state.coming = LAYERING
            said = Answer("Layering from the next cycle.", "state")
        tell_clock(core)
        return said

    @plans(START, CYCLE)
    def layer_off(self, at_once: bool) -> Answer:
        """End layering with the pass before (``at_once``) or with this one; or call it off."""
        core, state, record = self._core, self._core.state, self._core.record()
        if state.name == LAYERING and at_once:
            state.enter(LISTENING)
            record.layered, state.coming = False, None
            self.remake(record)
            said = Answer(_last_layered(record), "pass")
        elif state.name == LAYERING:
            state.coming = LISTENING
            said = Answer(f"Pass {record.index + 1} is the last one layered.", "state")
        elif state.coming in (LAYERING, REPLACING):
            state.coming = None
            said = Answer("No pass will be layered.", "state")
        elif state.name == REPLACING:
            said = Answer(f"Replacing ends with pass {record.index + 1}.", "state")
        else:
            said = Answer("No pass is being layered.", "state")
        tell_clock(core)
        return said

    @plans(START, CYCLE)
    def layer_toggle(self, at_once: bool) -> Answer:
        """Layering on, or off where a pass is being layered or is about to be."""
        state = self._core.state
        coming = state.coming if state.coming is not None else state.name
        return self.layer_off(at_once) if coming in (LAYERING, REPLACING) else self.layer_on(at_once)

    @plans(START, CYCLE)
    def replace(self, at_once: bool) -> Answer:
        """The newest layer is replaced by the next pass; or, ``at_once``, by this one from
        here on.
        """
        core, stack = self._core, self._core.stack
        if not stack.active:
            raise Refused("There is no layer to replace.")
        number = stack.layers()[-1].number
        if at_once and core.state.passing:
            core.state.enter(LISTENING)
            core.state.enter(REPLACING)
            core.record().layered, stack.replaced = True, stack.active[-1]
            core.playback.silence_layers(core.now_sec, (stack.replaced,))
            said = Answer(f"Layer {number} is replaced by this pass.", "state")
        else:
            core.state.coming = REPLACING
            said = Answer(f"Layer {number} is replaced by the next pass.", "state")
        tell_clock(core)
        return said


def _same(new: tuple[NDArray[np.float64], ...], old: tuple[NDArray[np.float64], ...]) -> bool:
    """True where bend curves are the same."""
    return all(one is other or np.array_equal(one, other) for one, other in zip(new, old, strict=True))


def _last_layered(record: PassRecord) -> str:
    """Layering has ended with the pass before ``record``, if the run had one."""
    return f"Pass {record.index} was the last one layered." if record.run_pass else "No pass is layered."
