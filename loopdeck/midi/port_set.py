"""What an engine needs of MIDI ports, and the set that has none."""

from typing import Any, Protocol


class PortSet(Protocol):
    """All ports of a session; ``ports.Ports`` is one."""

    #: Inputs have to be polled.
    polled: bool
    #: Clients of a MIDI server that died: closing each would take a second.
    graveyard: list[Any]

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

    def __init__(self) -> None:
        self.graveyard: list[Any] = []

    def send(self, data: bytes) -> None:
        """Nobody hears it."""

    def silence(self) -> None:
        """Nothing sounds."""

    def poll(self) -> bool:
        """Nothing waits."""
        return False

    def open(self) -> None:
        """Nothing to connect."""

    def watch(self) -> None:
        """Nothing to look for."""

    def close(self) -> None:
        """Nothing to close."""

    def devices(self) -> list[dict[str, str]]:
        """An input and an output that are not there."""
        return [{"role": role, "name": "", "state": "none"} for role in ("in", "out")]
