"""The state of the looper: which one holds, which one comes with the next cycle, and what waits for
the end of the pass.

``commands`` says what each command does in each state. A state is entered by ``State.enter`` and
nowhere else.
"""

from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar

from loopdeck.errors import UserError

STOPPED = "STOPPED"
COUNTING_IN = "COUNTING IN"
LISTENING = "LISTENING"
LAYERING = "LAYERING"
REPLACING = "REPLACING"
STATES = (STOPPED, COUNTING_IN, LISTENING, LAYERING, REPLACING)

#: The states that may follow each one.
FOLLOWING = {
    STOPPED: (COUNTING_IN, LISTENING),
    COUNTING_IN: (LISTENING, STOPPED),
    LISTENING: (LAYERING, REPLACING, STOPPED),
    LAYERING: (LISTENING, REPLACING, STOPPED),
    REPLACING: (LISTENING, STOPPED),
}


class Refused(UserError):
    """A command does not apply now; ``str(error)`` is the sentence for the player."""


class Waiting(NamedTuple):
    """An action that was asked for and takes effect later, with its arguments."""

    action: str
    args: dict[str, Any]


_Action = TypeVar("_Action", bound=Callable[..., Any])


def plans(*moments: str) -> Callable[[_Action], _Action]:
    """Mark an action that plans its own change for these moments of the table: it takes
    ``at_once``, which is False where the change is to wait. All others, and this one at other
    moments, are called when their moment has come.
    """

    def marked(action: _Action) -> _Action:
        action.__dict__["moments"] = moments
        return action

    return marked


def planned_by(action: Callable[..., Any]) -> tuple[str, ...]:
    """The moments for which an action plans its own change; () for one that never does."""
    return tuple(getattr(action, "moments", ()))


class State:
    """STOPPED at first."""

    def __init__(self) -> None:
        self._name = STOPPED
        #: The state that begins with the next cycle, if one was asked for.
        self.coming: str | None = None
        #: What is to be done when the pass ends, in order.
        self.waiting: list[Waiting] = []
        #: The loop that takes the place of this one with the next cycle: one from the shelf, this
        #: one varied, or an undo or redo of either.
        self.loop_to_come: Waiting | None = None

    @property
    def name(self) -> str:
        """The state that holds."""
        return self._name

    @property
    def running(self) -> bool:
        """True while time runs."""
        return self._name != STOPPED

    @property
    def passing(self) -> bool:
        """True while passes go by: time runs, and the count-in is over."""
        return self._name not in (STOPPED, COUNTING_IN)

    def enter(self, name: str) -> None:
        """Another state holds from now on.

        Raises ValueError for one that cannot follow this one.
        """
        if name != self._name and name not in FOLLOWING[self._name]:
            raise ValueError(f"{name} cannot follow {self._name}.")
        self._name = name

    def enter_coming(self) -> None:
        """Enter the state that was asked for, if one was."""
        name, self.coming = self.coming, None
        if name is not None:
            self.enter(name)

    def take_waiting(self) -> list[Waiting]:
        """What waits for the end of the pass, which has come."""
        waiting, self.waiting = self.waiting, []
        return waiting

    def take_loop(self) -> Waiting | None:
        """The loop that was to come with the cycle, if one was; it waits no longer."""
        loop, self.loop_to_come = self.loop_to_come, None
        return loop

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        return (self._name, self.coming, [tuple(one) for one in self.waiting], self.loop_to_come)
