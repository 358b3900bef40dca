"""Connecting a bare client of RtMidi's with a port by a part of its name, for senders and receivers
that share nothing with loopdeck.
"""

import contextlib
import time
from typing import Any


def connect(client: Any, part: str, title: str, wait_sec: float = 90.0) -> str:
    """Open the first port with ``part`` in its name, waiting until there is one; its full name.

    RtMidi opens by the place in a list that others change meanwhile, and then connects to another
    port or to none without a word: so the place is looked up again afterwards. SystemExit when
    there is no such port in all that time.
    """
    import rtmidi

    end, names = time.perf_counter() + wait_sec, list[str]()
    while time.perf_counter() < end:
        # A port may go while a list is being made.
        with contextlib.suppress(rtmidi.InvalidPortError):
            names = client.get_ports()
            place = next((index for index, name in enumerate(names) if part in name), None)
            if place is not None:
                client.open_port(place, title)
                if client.get_ports()[place : place + 1] == [names[place]]:
                    return names[place]
        client.close_port()
        time.sleep(0.02)
    raise SystemExit(f"no port with {part!r} in its name; there are {names}")
