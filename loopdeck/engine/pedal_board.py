"""The pedals of an engine: a map that can be changed while playing, on an input of their own or on
those one plays; and a switch that is being learned.

Conventions: called in the thread that plays; seconds on the session's clock. A ``Timer``.
"""

from collections.abc import Callable

from loopdeck.midi.controls import ControlMap, Order, Pedals

#: The pedals come on the inputs one plays.
SHARED = -1


class PedalBoard:
    """``port`` is the pedals' own input, or SHARED. ``apply`` does what a pedal asks for.

    ``learn``, while a switch is learned, is given every message and keeps it from anything else
    when it returns True.
    """

    def __init__(self, controls: ControlMap | None, port: int = SHARED) -> None:
        self.port = port
        self.apply: Callable[[Order], None] = lambda order: None
        self.learn: Callable[[int, float, bytes], bool] | None = None
        self._pedals = Pedals(controls) if controls is not None else None

    @property
    def controls(self) -> ControlMap | None:
        """The map in force."""
        return self._pedals.controls if self._pedals is not None else None

    def use(self, controls: ControlMap | None) -> None:
        """Use another map from now on; nothing counts as held down."""
        self._pedals = Pedals(controls) if controls is not None else None

    def hears(self, port: int) -> bool:
        """Whether pedals are listened for on this input."""
        return self.port in (SHARED, port)

    def message(self, port: int, sec: float, data: bytes) -> tuple[bool, list[Order]]:
        """A message of an input: whether it is a pedal's (then it is not played), and what follows
        from it.
        """
        if self.learn is not None and self.learn(port, sec, data):
            return True, []
        if self._pedals is None or not self.hears(port):
            return port == self.port, []
        taken, orders = self._pedals.message(sec, data)
        return taken or port == self.port, orders

    def let_go(self) -> None:
        """The pedal board has gone: nothing is held down any more."""
        if self._pedals is not None:
            self._pedals.let_go()

    def next_due(self) -> float | None:
        """When the pedals are to be asked."""
        return self._pedals.next_due() if self._pedals is not None else None

    def run(self, now: float) -> None:
        """Do what has become certain by waiting."""
        if self._pedals is not None:
            for order in self._pedals.tick(now):
                self.apply(order)
