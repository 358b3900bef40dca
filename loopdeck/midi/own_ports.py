"""Ports of our own: those that others connect to, with what the system calls them, and who is
connected, noted and restored (with JACK only, so far); and our ends of connections to devices.
"""

import re
from collections.abc import Callable, Sequence
from typing import Any

from loopdeck.midi.connections import ConnectionFile, Connections
from loopdeck.midi.jack_client import JackClient, open_jack_client
from loopdeck.midi.port import open_by_name
from loopdeck.midi.systems import CLIENT

#: A port of a client that ends are opened with; the one that silences listeners has a longer name.
_END = re.compile(rf"{CLIENT}(-\d+)?:")


class OwnPorts:
    """``memory`` is where connections are noted; None where that is not wanted. ``system`` is the
    MIDI system's name.
    """

    def __init__(self, system: str, memory: ConnectionFile | None = None) -> None:
        self.memory = memory
        self._system = system
        self._jack: JackClient | None = None
        self._inputs: dict[str, str] = {}
        self._outputs: dict[str, str] = {}

    def begin(self, on_death: Callable[[], None]) -> None:
        """Reach the MIDI server; ``on_death`` is called when it dies."""
        self._jack = open_jack_client(on_death) if self._system == "JACK" else None
        self._inputs, self._outputs = {}, {}

    def opened(self, name: str, is_output: bool, open_port: Callable[[], None]) -> None:
        """Open a port of our own by ``open_port``, and find out what it is called in full: the one
        that was not there before.
        """
        before = self._jack.ports_named(name) if self._jack is not None else set()
        open_port()
        if self._jack is not None:
            found = self._outputs if is_output else self._inputs
            found[name] = min(self._jack.ports_named(name) - before, default=name)

    def open_end(self, handle: Any, name: str, title: str, is_output: bool) -> bool:
        """Connect a port of our own, called ``title``, with the foreign port of this full name;
        False, with nothing open, when that cannot be done now.

        JACK refuses, for one, a program that has made its ports and does not run yet, and RtMidi
        does not pass that on: so JACK is asked to connect the two once more, and says.
        """
        before = self._jack.ports_named(title) if self._jack is not None else set()
        if not open_by_name(handle, name, title):
            return False
        if self._jack is None:
            return True
        ours = next((one for one in self._jack.ports_named(title) - before if _END.match(one)), None)
        if ours is None or self._jack.connect(*((ours, name) if is_output else (name, ours))):
            return True
        handle.close_port()
        return False

    def closed(self, name: str) -> None:
        """A port of our own is closed and not wanted any more."""
        self._inputs.pop(name, None)
        self._outputs.pop(name, None)

    def restore(self) -> None:
        """Who was connected, in the engine before this one or before the MIDI server died, is
        connected again.
        """
        if self.memory is None or self._jack is None:
            return
        before = self.memory.read()
        for short, full in self._inputs.items():
            for name in before.into.get(short, ()):
                self._jack.connect(name, full)
        for short, full in self._outputs.items():
            for name in before.out.get(short, ()):
                self._jack.connect(full, name)

    def is_connected(self, name: str) -> bool | None:
        """Whether anybody is connected to an input of our own; None where the system does not
        tell.
        """
        full = self._inputs.get(name)
        return bool(self._jack.connected(full)) if self._jack is not None and full is not None else None

    def note(self, named_outs: Sequence[str]) -> None:
        """Note who is connected now; ``named_outs`` are the outputs that we connected to by
        name.
        """
        if self.memory is None:
            return
        into: dict[str, tuple[str, ...]] = {}
        out: dict[str, tuple[str, ...]] = {}
        if self._jack is not None:
            into = {short: self._jack.connected(full) for short, full in self._inputs.items()}
            out = {short: self._jack.connected(full) for short, full in self._outputs.items()}
        listeners = (*named_outs, *(name for names in out.values() for name in names))
        self.memory.write(Connections(self._system, into, out, listeners))

    def leave_dead_server(self) -> Any:
        """The server has died: forget our client of it, which must not be touched. Returns it."""
        jack, self._jack = self._jack, None
        return jack

    def close(self) -> None:
        """Close our client of the server."""
        if self._jack is not None:
            self._jack.close()

    def leave(self) -> None:
        """Forget who was connected: the session has ended in order."""
        if self.memory is not None:
            self.memory.remove()
