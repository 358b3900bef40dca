"""A JACK client without ports, by ctypes: it is told when the server dies, sees who is connected to
us, and connects them again.

Why: RtMidi tells neither. After the server's death its port list still looks alive, and after some
2,300 messages ``send_message`` waits for ever with the interpreter's lock held (measured with
python-rtmidi 1.5.8: its ring buffer is never emptied again). libjack tells any client
(``jack_on_shutdown``, JACK API). The client is opened in the very library that rtmidi has loaded.
"""

import ctypes
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

_NO_START_SERVER = 1
_CALLBACK = ctypes.CFUNCTYPE(None, ctypes.c_void_p)
ACTIVATE_TRIES = 4
_MIDI = b"8 bit raw midi"


class JackClient:
    """Keep it: the callback lives as long as this object."""

    def __init__(self, library: Any, client: int, on_death: Callable[[], None]) -> None:
        self._library, self._client = library, ctypes.c_void_p(client)
        self._callback = _CALLBACK(lambda _: on_death())
        for name in ("jack_get_ports", "jack_port_get_all_connections"):
            getattr(library, name).restype = ctypes.POINTER(ctypes.c_char_p)
        library.jack_port_by_name.restype = ctypes.c_void_p
        library.jack_on_shutdown(self._client, self._callback, None)
        for _ in range(ACTIVATE_TRIES):
            # The server refuses when its graph has not changed for seconds, as after a client was
            # killed.
            if library.jack_activate(self._client) == 0:
                break

    def ports_named(self, short: str) -> set[str]:
        """The full names (``client:port``) of the MIDI ports with this short name, of all
        clients.
        """
        names = self._names(self._library.jack_get_ports(self._client, None, _MIDI, ctypes.c_ulong(0)))
        return {name for name in names if name.partition(":")[2] == short}

    def connected(self, port: str) -> tuple[str, ...]:
        """The full names of the ports that a port, by its full name, is connected to; in order of
        name.
        """
        handle = self._library.jack_port_by_name(self._client, port.encode())
        if not handle:
            return ()
        answer = self._library.jack_port_get_all_connections(self._client, ctypes.c_void_p(handle))
        return tuple(sorted(self._names(answer)))

    def connect(self, source: str, destination: str) -> bool:
        """Connect two ports by their full names; True when they are connected now."""
        already_there = 17  # EEXIST
        return self._library.jack_connect(self._client, source.encode(), destination.encode()) in (0, already_there)

    def close(self) -> None:
        """Close our client of a server that is alive."""
        with suppress(Exception):
            self._library.jack_client_close(self._client)

    def _names(self, answer: Any) -> Iterator[str]:
        if not answer:
            return
        index = 0
        while (name := answer[index]) is not None:
            yield name.decode(errors="replace")
            index += 1
        self._library.jack_free(answer)


def open_jack_client(on_death: Callable[[], None]) -> JackClient | None:
    """Call ``on_death`` (in a thread of libjack) when the server dies; None where that cannot be
    told.
    """
    path = _loaded_library()
    if path is None:
        return None
    with suppress(OSError, AttributeError):
        library = ctypes.CDLL(path)
        library.jack_client_open.restype = ctypes.c_void_p
        status = ctypes.c_int()
        client = library.jack_client_open(b"loopdeck watch", _NO_START_SERVER, ctypes.byref(status))
        if client:
            return JackClient(library, client, on_death)
    return None


def _loaded_library() -> str | None:
    """The path of the libjack that this process has loaded."""
    if not sys.platform.startswith("linux"):
        return None
    with suppress(OSError):
        for line in Path("/proc/self/maps").read_text().splitlines():
            words = line.split(maxsplit=5)
            if len(words) == 6 and "libjack" in words[5]:
                return words[5]
    return None
