"""Making a bare client of RtMidi's and connecting it with a port by a part of its name, for senders
and receivers that share nothing with loopdeck.
"""

import contextlib
import time
from typing import Any

#: JACK's server waits 5 s for its graph to change, as after a client was killed, and then refuses
#: to run a new one, which RtMidi (1.5.8) does not say: a client that took so long to make may be
#: deaf.
STALLED_SEC = 2.0
#: A machine may also be that slow: then the last one is taken.
TRIES = 6


def client(kind: str, name: str, **more: Any) -> Any:
    """A client that runs; ``kind`` is ``MidiIn`` or ``MidiOut``."""
    import rtmidi

    for left in reversed(range(TRIES)):
        begun = time.perf_counter()
        made = getattr(rtmidi, kind)(rtmidi.API_UNIX_JACK, name=name, **more)
        if time.perf_counter() - begun < STALLED_SEC or not left:
            break
        made.delete()
    return made


def connect(one: Any, part: str, title: str, wait_sec: float = 90.0) -> str:
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
            names = one.get_ports()
            place = next((index for index, name in enumerate(names) if part in name), None)
            if place is not None:
                one.open_port(place, title)
                if one.get_ports()[place : place + 1] == [names[place]]:
                    return names[place]
        one.close_port()
        time.sleep(0.02)
    raise SystemExit(f"no port with {part!r} in its name; there are {names}")
