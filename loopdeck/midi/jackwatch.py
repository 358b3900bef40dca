"""Notice that a JACK server has died, which RtMidi does not tell.

Why: after the server's death RtMidi's port list still looks alive, and after some 2,300 messages ``send_message`` waits for ever with
the interpreter's lock held (measured with python-rtmidi 1.5.8: its ring buffer is never emptied again). libjack itself tells any client
by a callback (``jack_on_shutdown``, JACK API), so a client without ports is opened by ctypes, in the very library that rtmidi has loaded.
"""

import ctypes
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

_NO_START_SERVER = 1
_CALLBACK = ctypes.CFUNCTYPE(None, ctypes.c_void_p)


class ServerWatch:
    """A client that is told when the server ends. Keep it: the callback lives as long as this object."""

    def __init__(self, library: Any, client: int, on_death: Callable[[], None]) -> None:
        self._library, self._client = library, ctypes.c_void_p(client)
        self._callback = _CALLBACK(lambda _: on_death())
        library.jack_on_shutdown(self._client, self._callback, None)
        library.jack_activate(self._client)

    def close(self) -> None:
        """Leave a server that lives."""
        with suppress(Exception):
            self._library.jack_client_close(self._client)


def watch_server(on_death: Callable[[], None]) -> ServerWatch | None:
    """Call ``on_death`` (in a thread of libjack) when the server dies; None where that cannot be told."""
    path = _loaded_library()
    if path is None:
        return None
    with suppress(OSError, AttributeError):
        library = ctypes.CDLL(path)
        library.jack_client_open.restype = ctypes.c_void_p
        status = ctypes.c_int()
        client = library.jack_client_open(b"loopdeck watch", _NO_START_SERVER, ctypes.byref(status))
        if client:
            return ServerWatch(library, client, on_death)
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
