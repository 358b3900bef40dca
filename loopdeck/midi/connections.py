"""Who is connected to ports of our own: noted while an engine lives, so that after its death they
are silenced at once and connected again.

Task
    Named ports are opened again by their names. Who connected to a *virtual* port of ours is known
    to the MIDI system alone, and forgotten by it the moment our process dies. So the names are kept
    in a small file beside the link's socket: the surviving half reads whom to silence, the engine
    that comes next whom to connect.

Format: ``{"version": 1, "system": "JACK", "into": {"loopdeck in": [NAME]}, "from": {"loopdeck out":
[NAME]}, "listeners": [NAME]}``; names as the MIDI system has them. ``listeners`` are all ports that
hear us, those of named outputs among them.
"""

import json
import tempfile
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from loopdeck.midi.port import ALL_OFF, open_by_name
from loopdeck.midi.systems import find_system, new_client, quiet
from loopdeck.protocol.address import place_of

VERSION = 1
SUFFIX = ".connections"
MOST_BYTES = 1 << 16
#: A JACK client's messages leave with its next cycle; so long is waited before its port is closed
#: again.
LEAVE_SEC = 0.03


@dataclass(frozen=True)
class Connections:
    """Names of foreign ports: what is connected ``into`` each input of ours, what each output of
    ours goes ``out`` to, and who hears us.
    """

    system: str = ""
    into: Mapping[str, Sequence[str]] = field(default_factory=dict)
    out: Mapping[str, Sequence[str]] = field(default_factory=dict)
    listeners: Sequence[str] = ()


class ConnectionFile:
    """The file of the two halves that meet at an ``address`` (see ``protocol.address``)."""

    def __init__(self, address: str) -> None:
        place = place_of(address)
        where = place.where
        folder = Path(where).parent if isinstance(where, str) else Path(tempfile.gettempdir())
        name = Path(where).name if isinstance(where, str) else f"loopdeck-{where[1]}"
        self.path = folder / f"{name}{SUFFIX}"
        self._written: Connections | None = None

    def write(self, connections: Connections) -> None:
        """Write it if it has changed, whole or not at all; a disk that does not take it is not
        complained about here.
        """
        if connections == self._written:
            return
        new = self.path.with_suffix(f"{SUFFIX}-new")
        with suppress(OSError):
            new.write_text(json.dumps({"version": VERSION, **asdict(connections)}), encoding="utf-8")
            new.replace(self.path)
            self._written = connections

    def read(self) -> Connections:
        """What was written last; nothing connected where the file is missing or makes no sense."""
        try:
            with self.path.open("rb") as file:
                found = json.loads(file.read(MOST_BYTES))
        except (OSError, ValueError, RecursionError):
            return Connections()
        if not isinstance(found, dict) or found.get("version") != VERSION:
            return Connections()
        system = found.get("system")
        return Connections(
            system if isinstance(system, str) else "",
            _table(found.get("into")),
            _table(found.get("out")),
            _names(found.get("listeners")),
        )

    def remove(self) -> None:
        """The session has ended in order."""
        with suppress(OSError):
            self.path.unlink()


def _names(value: Any) -> tuple[str, ...]:
    return tuple(one for one in value if isinstance(one, str)) if isinstance(value, list) else ()


def _table(value: Any) -> dict[str, tuple[str, ...]]:
    return {key: _names(names) for key, names in value.items()} if isinstance(value, dict) else {}


def silence_listeners(connections: Connections) -> int:
    """All sound and all notes off (MIDI 1.0, channel mode messages 120 and 123) to everybody who
    heard us; returns to how many.
    """
    if not connections.listeners:
        return 0
    system = find_system(connections.system.lower())
    if system is None:
        return 0
    count = 0
    with quiet(), suppress(Exception):
        out = new_client(system, "MidiOut", "loopdeck silence")
        for name in connections.listeners:
            with suppress(Exception):
                if not open_by_name(out, name, "out"):
                    continue
                for message in ALL_OFF:
                    out.send_message(message)
                time.sleep(LEAVE_SEC)
                out.close_port()
                count += 1
        out.delete()
    return count
