"""The layers that are active, and the ones that undo and redo lead to.

Conventions
    A layer is named inside by an id that is never used again, and to the player by its number, the
    lowest that was free. The active ids are a tuple, oldest first; undo and redo move through
    earlier tuples, so one undo takes away exactly one step. Mutes and the solo belong to a layer
    while it can be reached, and are not steps of the undo.
"""

from collections.abc import Iterator

from loopdeck.looper.layers import Layer
from loopdeck.looper.state import Refused

UNDO_STEPS = 256


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
        self._undo: list[tuple[int, ...]] = []
        self._redo: list[tuple[int, ...]] = []

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
        taken = {layer.number for layer in self.layers()}
        return next(number for number in range(1, len(taken) + 2) if number not in taken)

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

    # ---- what sounds ----------------------------------------------------------------------------------------------------

    def quiet(self, identity: int) -> bool:
        """True for a layer that is muted, or that another one's solo silences."""
        return identity in self.muted or (self.solo is not None and identity != self.solo)

    def quiet_numbers(self) -> frozenset[int]:
        """The numbers of the active layers that are quiet."""
        return frozenset(layer.number for identity, layer in self.rows() if self.quiet(identity))

    # ---- what changes ---------------------------------------------------------------------------------------------------

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

    def put(self, identity: int, layer: Layer) -> None:
        """The same layer with other content: a late note belongs to it."""
        self._layers[identity] = layer

    def activate(self, active: tuple[int, ...]) -> set[int]:
        """Make these layers the active ones, as a step that can be undone; returns the ids that are
        no longer active.
        """
        self._undo.append(self.active)
        del self._undo[:-UNDO_STEPS]
        self._redo.clear()
        return self._set(active)

    def undo(self) -> set[int]:
        """One step back; returns the ids that are no longer active. Raises Refused at the first
        step.
        """
        return self._move(self._undo, self._redo, "There is nothing to undo.")

    def redo(self) -> set[int]:
        """One undo taken back. Raises Refused where there is none."""
        return self._move(self._redo, self._undo, "There is nothing to redo.")

    def _move(self, source: list[tuple[int, ...]], target: list[tuple[int, ...]], refusal: str) -> set[int]:
        if not source:
            raise Refused(refusal)
        target.append(self.active)
        return self._set(source.pop())

    def _set(self, active: tuple[int, ...]) -> set[int]:
        gone = set(self.active) - set(active)
        self.active = active
        reachable = {*active, *(identity for step in self._undo + self._redo for identity in step)}
        self._layers = {identity: layer for identity, layer in self._layers.items() if identity in reachable}
        self.muted &= reachable
        if self.solo not in active:
            self.solo = None
        return gone

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        layers = [(identity, layer.parts()) for identity, layer in sorted(self._layers.items())]
        return (layers, self.active, sorted(self.muted), self.solo, self.replaced, self._undo, self._redo, self._count)
