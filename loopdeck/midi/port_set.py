"""What an engine needs of MIDI ports, and the set that has none."""

from collections.abc import Callable
from typing import Any, Protocol

from loopdeck.midi.port import System


class PortSet(Protocol):
    """All ports of a session; ``ports.Ports`` is one."""

    #: Inputs have to be polled.
    polled: bool
    #: Clients that are not closed: of a MIDI server that died, or in use by a thread it holds up.
    abandoned: list[Any]

    @property
    def system(self) -> System | None:
        """The MIDI system that answered; None for none."""
        ...

    #: Told, in a thread of its own, what inputs and outputs there are.
    on_list: Callable[[list[str], list[str]], None]

    def choose(self, role: str, number: int, wanted: str, lasting: str) -> None:
        """Use another device from now on; returns at once (see ``Ports.choose``)."""
        ...

    def send(self, data: bytes) -> None:
        """Send to every output that is there; never waits."""
        ...

    def silence(self) -> None:
        """All sound and all notes off, on every channel of every output."""
        ...

    def poll(self) -> bool:
        """Take in what waits; True when there was something."""
        ...

    def open(self) -> None:
        """Connect what is there."""
        ...

    def watch(self) -> None:
        """Look for ports that go and come from now on."""
        ...

    def close(self) -> None:
        """Close every port."""
        ...

    def devices(self) -> list[dict[str, str]]:
        """Role, name and state of every port."""
        ...


class NoPorts:
    """No MIDI: the computer keyboard plays, and nothing is sent."""

    polled = False
    system: System | None = None

    def __init__(self) -> None:
        self.abandoned: list[Any] = []
        self.on_list: Callable[[list[str], list[str]], None] = lambda ins, outs: None

    def choose(self, role: str, number: int, wanted: str, lasting: str) -> None:
        """Nothing can be chosen."""

    def send(self, data: bytes) -> None:
        """Drop the message: there is no output."""

    def silence(self) -> None:
        """Do nothing: there is no output."""

    def poll(self) -> bool:
        """False: there is no input."""
        return False

    def open(self) -> None:
        """Do nothing: there is nothing to connect."""

    def watch(self) -> None:
        """Do nothing: there is nothing to look for."""

    def close(self) -> None:
        """Do nothing: there is nothing to close."""

    def devices(self) -> list[dict[str, str]]:
        """An input and an output that are not there."""
        return [{"role": role, "name": "", "state": "none"} for role in ("in", "out")]
