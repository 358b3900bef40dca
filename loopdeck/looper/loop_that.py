"""The commands loop-that and loop-pass: a pass that was played becomes a layer, although nobody had
pressed anything before.
"""

from loopdeck.looper.commands import MOST_PASSES
from loopdeck.looper.core import Core
from loopdeck.looper.free_playing import take_free_playing
from loopdeck.looper.layering import Layering
from loopdeck.looper.news import Answer, instead_words, pass_words, tell_layers
from loopdeck.looper.pass_layer import can_be_layer
from loopdeck.looper.recorder import PassRecord
from loopdeck.looper.state import Refused

#: Which passes loop-pass takes, the player sees.
OUT_OF_REACH = f"This reaches {MOST_PASSES} passes back; choose an earlier pass to loop that."


class LoopThat:
    """Acts on the parts of one looper."""

    def __init__(self, core: Core, layering: Layering) -> None:
        self._core, self._layering = core, layering

    def loop_that(self, reach: int) -> Answer:
        """Make a pass a layer, at most ``reach`` passes back; ``reach`` 1 is the pass before and
        nothing else.
        """
        core, state, picker = self._core, self._core.state, self._core.picker
        if not state.passing and reach > 1:
            take_free_playing(core.recorder, core.brief, core.now_sec)
        stepping = picker.stepping() if reach > 1 else None
        record = self._newest() if reach == 1 else self._next(reach)
        identity = self._layering.make(record, stepping.layer if stepping is not None else None)
        if identity is None:
            raise Refused(f"Nothing was played in pass {record.index + 1}.")
        picker.picked(identity, record, core.now_sec)
        tell_layers(core)
        number = core.stack[identity].number
        if stepping is not None:
            return Answer(f"{instead_words(record, core.now_sec)} is layer {number} instead.")
        return Answer(f"{pass_words(record)} is layer {number}.")

    def loop_pass(self, number: int) -> Answer:
        """Make the pass of this number (counted from 1) a layer of its own. Raises Refused."""
        core = self._core
        record = core.recorder.passes.get(number - 1)
        if record is None:
            raise Refused(f"Pass {number} is not among the passes of the last minutes.")
        if not record.finished:
            raise Refused(f"Pass {number} has not begun yet.")
        if record.layer is not None and record.layer in core.stack.active:
            raise Refused(f"Pass {number} is layer {core.stack[record.layer].number} already.")
        identity = self._layering.make(record)
        if identity is None:
            raise Refused(f"Nothing was played in pass {number}.")
        # The next loop-that begins anew, with a layer of its own.
        core.picker.forget()
        tell_layers(core)
        return Answer(f"Pass {number} is layer {core.stack[identity].number}.")

    def _next(self, reach: int) -> PassRecord:
        """The pass that this press means. Raises Refused if there is no such pass."""
        picker = self._core.picker
        record = picker.next(reach)
        if record is None and picker.stepping() is not None:
            raise Refused(OUT_OF_REACH if picker.is_out_of_reach() else "Nothing was played further back.")
        if record is None:
            raise Refused(self._nothing_left())
        return record

    def _nothing_left(self) -> str:
        """Why no pass is left to be looped, in a sentence."""
        core = self._core
        if core.picker.candidates() and core.picker.is_out_of_reach():
            return (
                f"Everything in the last {MOST_PASSES} passes is a layer already; choose an earlier pass to loop that."
            )
        if core.picker.candidates():
            return "Everything that was played is a layer already."
        if any(record.notes for record in core.recorder.finished()):
            return f"Nothing was played in the last {MOST_PASSES} passes."
        return "Nothing was played yet."

    def _newest(self) -> PassRecord:
        """The last pass that has ended. Raises Refused when it cannot be a layer."""
        recorder, active = self._core.recorder, self._core.stack.active
        finished = recorder.finished()
        if not finished:
            raise Refused("No pass has been played yet.")
        if finished[-1].layer in active:
            raise Refused("The pass before is a layer already.")
        if not can_be_layer(finished[-1], recorder.follower(finished[-1])):
            raise Refused("Nothing was played in the pass before.")
        return finished[-1]
