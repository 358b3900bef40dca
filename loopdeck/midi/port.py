"""The MIDI system, one wanted port of it, and the words for its state."""

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, NamedTuple

VIRTUAL = {"in": "loopdeck in", "out": "loopdeck out", "controls": "loopdeck controls"}
#: All sound off and all notes off on every channel (MIDI 1.0, channel mode messages 120 and 123).
ALL_OFF = tuple(bytes((0xB0 | channel, mode, 0)) for channel in range(16) for mode in (120, 123))

#: A list that moves again and again is not waited for: the next look is soon.
OPEN_TRIES = 5
CONNECTED, LOOKING, NONE, OPEN = "connected", "not found, looking", "none", "open to others"


class System(NamedTuple):
    """A MIDI system that answers: RtMidi's number for it, and its name."""

    api: int
    name: str
    virtual: bool


@dataclass
class Port:
    """One wanted port.

    ``number`` is that of an input; ``name`` the full name of what it is connected to.
    """

    role: str
    wanted: str
    number: int = -1
    #: Our client; it is kept while the port is lost, since making one takes longer than opening a
    #: port with it.
    handle: Any = None
    live: bool = False
    name: str = ""
    state: str = LOOKING

    @property
    def shown(self) -> str:
        return VIRTUAL[self.role] if self.wanted == "virtual" else self.name or self.wanted or "none"


def open_by_name(handle: Any, name: str, title: str) -> bool:
    """Open the port of this full name with a client of RtMidi's, our end of it called ``title``;
    False, with nothing open, when it has gone.

    RtMidi opens a port by its place in the list. A port that comes or goes in that very moment
    moves the others, and RtMidi then connects to another one, or to nothing, and says neither. So
    the place is looked up again afterwards, and where it has moved, the port is opened anew.
    """
    for _ in range(OPEN_TRIES):
        try:
            place = handle.get_ports().index(name)
            handle.open_port(place, title)
            if handle.get_ports().index(name) == place:
                return True
        except Exception:
            # It went, or the list changed while RtMidi was making it: look again.
            pass
        with suppress(Exception):
            handle.close_port()
    return False


def first_device(names: Iterable[str]) -> str | None:
    """The first port that is a device; not one that only passes on what is sent to it."""
    return next((name for name in names if "through" not in name.lower()), None)
