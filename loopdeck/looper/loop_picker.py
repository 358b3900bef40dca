"""Which pass "loop that" means: the choice among all that was played.

Theory of operation
    The first press takes the newest pass in which something was played and that is not a layer yet.
    Pressing on in the same pass (or while time still stands) steps further back: the layer is then
    made of the pass before that one instead, up to sixteen passes back, and before the first one
    into what was played while no time ran. A press in a later pass begins anew, with a layer of its
    own. Only after a press at the very end of a pass of rest, where nothing newer can be meant, the
    player hears what came of it in the next one, and presses on there.
"""

from typing import NamedTuple

from loopdeck.looper.commands import MOST_PASSES
from loopdeck.looper.layer_stack import LayerStack
from loopdeck.looper.pass_layer import can_be_layer
from loopdeck.looper.recorder import FREE, PassRecord, Recorder
from loopdeck.looper.state import State

#: Who pressed so short a time before the end of a pass of rest presses on in the next one. Our own
#: choice.
PRESSING_ON_SEC = 1.0


class Pick(NamedTuple):
    """What was looped last: the id of the layer, when its pass began, in which moment of the
    session that was, and when.
    """

    layer: int
    start_sec: float
    moment: tuple[int, float]
    pressed_sec: float


class LoopPicker:
    """Reads the recorder, the layers and the state; remembers the last pick."""

    def __init__(self, recorder: Recorder, stack: LayerStack, state: State) -> None:
        self._recorder, self._stack, self._state = recorder, stack, state
        self._pick: Pick | None = None

    def picked(self, layer: int, record: PassRecord, now_sec: float) -> None:
        """The layer was made of this pass."""
        self._pick = Pick(layer, record.start_sec, self._moment(), now_sec)

    def turn(self, ended: PassRecord, now_sec: float) -> None:
        """A pass begins, the one after ``ended``: what was picked a moment ago is stepped on from
        in it, unless something newer was played in ``ended``.
        """
        pick = self._pick
        if pick is None or pick.moment[0] != ended.index or (ended.notes and ended.layer != pick.layer):
            return
        if now_sec - pick.pressed_sec <= PRESSING_ON_SEC:
            self._pick = pick._replace(moment=self._moment())

    def forget(self) -> None:
        """The next press begins anew."""
        self._pick = None

    def stepping(self) -> Pick | None:
        """The pick that a press steps back from now, if it does."""
        pick = self._pick
        if pick is None or pick.layer not in self._stack.active or pick.moment != self._moment():
            return None
        return pick

    def _moment(self) -> tuple[int, float]:
        """As long as this stays the same, pressing on steps further back."""
        recorder = self._recorder
        index = recorder.current.index if recorder.current is not None and self._state.running else FREE
        return index, recorder.free[-1].start_sec if recorder.free else 0.0

    def means_the_first(self, reach: int) -> bool:
        """True while the first pass runs and nothing was played before it that ``reach`` takes in:
        a press means this pass.
        """
        recorder = self._recorder
        return self._state.passing and not recorder.finished() and (reach == 1 or not self.candidates())

    def candidates(self) -> list[PassRecord]:
        """The passes in which something was played, newest first; if nothing was, those into which
        an early downbeat of the next one would wrap.
        """
        recorder = self._recorder
        finished = recorder.finished()[-MOST_PASSES:]
        everything = sorted([*recorder.free, *finished], key=lambda record: record.start_sec, reverse=True)
        own = [record for record in everything if record.notes]
        return own or [record for record in everything if can_be_layer(record, recorder.follower(record))]

    def next(self, reach: int = MOST_PASSES) -> PassRecord | None:
        """The pass that a press would take now; None if no pass is left. What was played while no
        time ran must have been cut.
        """
        pick, active = self.stepping(), self._stack.active
        finished = self._recorder.finished()
        oldest_sec = finished[-reach].start_sec if len(finished) >= reach else float("-inf")
        for record in self.candidates():
            if record.layer in active or record.start_sec < oldest_sec:
                continue
            if pick is None or record.start_sec < pick.start_sec:
                return record
        return None

    def is_out_of_reach(self) -> bool:
        """True where something was played further back than a press reaches, and is not a layer."""
        recorder, active = self._recorder, self._stack.active
        older = recorder.finished()[:-MOST_PASSES]
        return any(record.notes and record.layer not in active for record in older)

    def promise(self) -> int | None:
        """The pass that a press would take now, by its index; FREE for playing while no time ran,
        None for nothing.

        The pass that runs, where it is the first and nothing was played before: it becomes a layer
        when it ends.
        """
        recorder = self._recorder
        if not self._state.passing and recorder.played_free():
            return FREE
        record = self.next()
        if record is not None:
            return record.index
        waits = self.means_the_first(MOST_PASSES)
        return recorder.current.index if waits and recorder.current is not None else None

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        return tuple(self._pick) if self._pick is not None else ()
