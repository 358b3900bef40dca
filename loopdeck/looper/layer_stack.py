"""The layers that are active, and the ones that undo and redo lead to.

Conventions
    A layer is named inside by an id that is never used again, and to the player by its number, the
    lowest that was free. The active ids are a tuple, oldest first; undo and redo move through
    earlier tuples, so one undo takes away exactly one step. Mutes and the solo belong to a layer
    while it can be reached, and are not steps of the undo. A step that changed the brief as well
    remembers the fields that it changed, as they were.
"""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from loopdeck.looper.layers import Layer
from loopdeck.looper.state import Refused

UNDO_STEPS = 256

Fields = Mapping[str, str | int]


class UndoStep(NamedTuple):
    """Where an undo or a redo leads: the active ids, and fields of the brief that go with them."""

    active: tuple[int, ...]
    fields: Fields


class Moved(NamedTuple):
    """What a step did: the ids that are no longer active, and the fields of the brief that are to
    hold again.
    """

    gone: set[int]
    fields: Fields


class LayerStack:
    """No layer at first."""

    def __init__(self) -> None:
        self.active: tuple[int, ...] = ()
        self.muted: set[int] = set()
        #: The one layer that sounds alone, if one does.
        self.solo: int | None = None
        #: The layer that keeps silent for this pass, if one is being replaced.
        self.replaced: int | None = None
        self._layers: dict[int, Layer] = {}
        self._count = 0
        self._undo: list[UndoStep] = []
        self._redo: list[UndoStep] = []

    def __getitem__(self, identity: int) -> Layer:
        return self._layers[identity]

    def __contains__(self, identity: object) -> bool:
        return identity in self._layers

    def layers(self) -> list[Layer]:
        """The active layers, oldest first."""
        return [self._layers[identity] for identity in self.active]

    def rows(self) -> Iterator[tuple[int, Layer]]:
        """The active layers with their ids, oldest first."""
        return ((identity, self._layers[identity]) for identity in self.active)

    def free_number(self) -> int:
        """The lowest number that no active layer has."""
        return self.free_numbers(1)[0]

    def free_numbers(self, count: int) -> list[int]:
        """The lowest ``count`` numbers that no active layer has."""
        taken = {layer.number for layer in self.layers()}
        return [number for number in range(1, len(taken) + count + 1) if number not in taken][:count]

    def picked(self, which: int | str) -> list[int]:
        """The ids of the layers meant by a number or ``all``.

        Raises Refused for a layer that does not exist.
        """
        if which == "all":
            return list(self.active)
        found = [identity for identity, layer in self.rows() if layer.number == which]
        if not found:
            raise Refused(f"There is no layer {which}.")
        return found

    # ---- what sounds -----------------------------------------------------------------------------

    def quiet(self, identity: int) -> bool:
        """True for a layer that is muted, or that another one's solo silences."""
        return identity in self.muted or (self.solo is not None and identity != self.solo)

    def quiet_numbers(self) -> frozenset[int]:
        """The numbers of the active layers that are quiet."""
        return frozenset(layer.number for identity, layer in self.rows() if self.quiet(identity))

    # ---- what changes ----------------------------------------------------------------------------

    def add(self, layer: Layer, instead_of: int | None = None) -> tuple[int, set[int]]:
        """Make a layer active, as the newest or in the place of another one; returns its id, and
        the ids that are no longer active.
        """
        self._count += 1
        identity = self._count
        self._layers[identity] = layer
        if instead_of is None:
            return identity, self.activate((*self.active, identity))
        return identity, self.activate(tuple(identity if one == instead_of else one for one in self.active))

    def exchange(self, layers: list[Layer], beside: bool, before: Fields) -> tuple[list[int], set[int]]:
        """Make all of these active in one step, beside those that are or in their place; returns
        their ids, and the ids that are no longer active. ``before``: fields of the brief that an
        undo of this step brings back.
        """
        identities = list(range(self._count + 1, self._count + 1 + len(layers)))
        self._count += len(layers)
        self._layers.update(zip(identities, layers, strict=True))
        return identities, self.activate((*(self.active if beside else ()), *identities), before)

    def put(self, identity: int, layer: Layer) -> None:
        """Replace a layer's content: a late note belongs to it."""
        self._layers[identity] = layer

    def activate(self, active: tuple[int, ...], before: Fields | None = None) -> set[int]:
        """Make these layers the active ones, as a step that can be undone; returns the ids that are
        no longer active.
        """
        self._undo.append(UndoStep(self.active, dict(before or {})))
        del self._undo[:-UNDO_STEPS]
        self._redo.clear()
        return self._set(active)

    def next_fields(self, back: bool) -> Fields:
        """The fields of the brief that the next undo (``back``) or redo will bring back."""
        steps = self._undo if back else self._redo
        return steps[-1].fields if steps else {}

    def undo(self, brief: Fields | None = None) -> Moved:
        """One step back; ``brief`` is the one of the moment, which a redo brings back as far as
        the step changed it. Raises Refused at the first step.
        """
        return self._move(self._undo, self._redo, brief or {}, "There is nothing to undo.")

    def redo(self, brief: Fields | None = None) -> Moved:
        """Take an undo back. Raises Refused if nothing was undone."""
        return self._move(self._redo, self._undo, brief or {}, "There is nothing to redo.")

    def _move(self, source: list[UndoStep], target: list[UndoStep], brief: Fields, refusal: str) -> Moved:
        if not source:
            raise Refused(refusal)
        step = source.pop()
        target.append(UndoStep(self.active, {name: brief[name] for name in step.fields if name in brief}))
        return Moved(self._set(step.active), step.fields)

    def _set(self, active: tuple[int, ...]) -> set[int]:
        gone = set(self.active) - set(active)
        self.active = active
        reachable = {*active, *(identity for step in self._undo + self._redo for identity in step.active)}
        self._layers = {identity: layer for identity, layer in self._layers.items() if identity in reachable}
        self.muted &= reachable
        if self.solo not in active:
            self.solo = None
        return gone

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        layers = [(identity, layer.parts()) for identity, layer in sorted(self._layers.items())]
        return (layers, self.active, sorted(self.muted), self.solo, self.replaced, self._undo, self._redo, self._count)
