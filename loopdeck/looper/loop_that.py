"""Loop that: a pass that was played becomes a layer, although nobody had pressed anything before.

Theory of operation
    The first press takes the newest pass in which something was played and that is no layer yet. Pressing on in the same pass (or while
    time still stands) steps further back: the layer is then made of the pass before that one instead, as far as REACH passes back and,
    beyond the first one, into what was played while no time ran. A press in a later pass begins anew, with a layer of its own.
"""

from typing import NamedTuple

from loopdeck.looper.core import Core
from loopdeck.looper.free_playing import take_free_playing
from loopdeck.looper.layering import Layering
from loopdeck.looper.news import Said, pass_words, tell_layers
from loopdeck.looper.pass_layer import notes_of
from loopdeck.looper.recorder import PassRecord
from loopdeck.looper.state import Refused, Waiting


class Pick(NamedTuple):
    """What was looped last: the layer, when its pass began, and the moment of the session in which it was picked."""

    layer: int
    start_sec: float
    moment: tuple[int, float]


class LoopThat:
    """Nothing is picked at first."""

    def __init__(self, core: Core, layering: Layering) -> None:
        self._core, self._layering = core, layering
        self._pick: Pick | None = None

    def loop_that(self, reach: int) -> Said:
        """Make a pass a layer, at most ``reach`` passes back; ``reach`` 1 is the pass before and nothing else."""
        core, state = self._core, self._core.state
        candidates = self._candidates(reach)
        if not candidates and not core.recorder.finished() and state.passing:
            # The first pass still runs, and nothing was played before it.
            index = core.record().index
            state.waiting.append(Waiting("loop_that", {"reach": reach}))
            return Said(f"Pass {index + 1} becomes a layer when it ends.", "pass")
        stepping = self._stepping(reach)
        record = self._next(candidates, stepping, reach)
        identity = self._layering.make(record, stepping.layer if stepping is not None else None)
        if identity is None:
            raise Refused(f"Nothing was played in pass {record.index + 1}.")
        self._pick = Pick(identity, record.start_sec, self._moment())
        tell_layers(core)
        number = core.stack[identity].number
        return Said(f"{pass_words(record)} is layer {number}{' instead' if stepping is not None else ''}.")

    def _moment(self) -> tuple[int, float]:
        """As long as this stays the same, pressing on steps further back."""
        core = self._core
        record = core.recorder.current
        index = record.index if record is not None and core.state.running else -1
        return index, core.recorder.free[-1].start_sec if core.recorder.free else 0.0

    def _stepping(self, reach: int) -> Pick | None:
        """The pick that this press steps back from, if it does."""
        pick = self._pick
        if reach == 1 or pick is None or pick.layer not in self._core.stack.active or pick.moment != self._moment():
            return None
        return pick

    def _candidates(self, reach: int) -> list[PassRecord]:
        """The passes that can be looped, newest first; with a reach of 1 only the last one that has ended."""
        core = self._core
        finished = core.recorder.finished()[::-1][:reach]
        if reach == 1:
            return finished
        if not core.state.passing:
            take_free_playing(core.recorder, core.brief, core.now_sec)
        everything = sorted([*finished, *core.recorder.free], key=lambda record: record.start_sec, reverse=True)
        return [record for record in everything if self._played(record)]

    def _played(self, record: PassRecord) -> bool:
        return bool(notes_of(record, self._core.recorder.follower(record)))

    def _next(self, candidates: list[PassRecord], stepping: Pick | None, reach: int) -> PassRecord:
        """The pass that this press means. Raises Refused when there is none."""
        if reach == 1:
            return self._newest(candidates)
        if stepping is not None:
            candidates = [record for record in candidates if record.start_sec < stepping.start_sec]
        active = self._core.stack.active
        found = next((record for record in candidates if record.layer not in active), None)
        if found is None:
            if stepping is not None:
                raise Refused("Nothing that was played lies further back.")
            raise Refused("Everything that was played is a layer already." if candidates else "Nothing was played yet.")
        return found

    def _newest(self, candidates: list[PassRecord]) -> PassRecord:
        if not candidates:
            raise Refused("No pass has been played yet.")
        if candidates[0].layer in self._core.stack.active:
            raise Refused("The pass before is a layer already.")
        if not self._played(candidates[0]):
            raise Refused("Nothing was played in the pass before.")
        return candidates[0]

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        return tuple(self._pick) if self._pick is not None else ()
