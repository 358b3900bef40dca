"""The lists of foreign ports that are looked at again and again while an engine plays.

JACK wakes every client once a cycle, so clients that only list would cost two wake-ups in every
1.33 ms of a server with 64 frames at 48 kHz. There the client that is told of the server's death
lists as well; other systems need a client of RtMidi's for each list.
"""

from collections.abc import Callable
from typing import Any

from loopdeck.midi.jack_client import JackClient
from loopdeck.midi.systems import foreign, names_seen


class _JackList:
    """One list, asked for as RtMidi's clients are."""

    def __init__(self, jack: JackClient, is_output: bool) -> None:
        self._jack, self._is_output = jack, is_output

    def get_ports(self) -> list[str]:
        return self._jack.ports_that_take(self._is_output)


class PortLists:
    """``jack`` is a client of the JACK server, if there is one; ``new_client(is_output)`` makes one
    of RtMidi's.
    """

    def __init__(self, jack: JackClient | None, new_client: Callable[[bool], Any]) -> None:
        #: RtMidi's clients, which have to be closed.
        self.clients: list[Any] = []
        if jack is None:
            for is_output in (False, True):
                self.clients.append(new_client(is_output))
        self._lists = self.clients if jack is None else [_JackList(jack, False), _JackList(jack, True)]

    def names(self) -> tuple[list[str], list[str]]:
        """Foreign inputs and outputs; RtMidi raises when a port goes while it is making a list."""
        into, out = (foreign(one.get_ports()) for one in self._lists)
        return into, out

    def seen(self, is_output: bool) -> list[str]:
        """Foreign inputs or outputs, tried again where a port went meanwhile."""
        return names_seen(self._lists[is_output])
