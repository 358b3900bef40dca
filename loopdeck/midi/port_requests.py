"""What the player asks of the ports while they are in use: which device each is to be. The thread
that plays only puts a request here; the thread that watches the ports grants it.
"""

import threading
from collections import deque
from collections.abc import Sequence
from typing import NamedTuple

from loopdeck.midi.port import Port


class PortRequest(NamedTuple):
    """The input ``number`` (or the pedals' input, or the output so counted) is to be ``wanted``:
    a name as the system has it, ``virtual``, or "" for none.
    """

    role: str
    number: int
    wanted: str
    #: What is looked for if it goes and comes again.
    lasting: str


class PortRequests:
    """Requests in order, and the sleep of the thread that grants them."""

    def __init__(self) -> None:
        self._waiting: deque[PortRequest] = deque()
        self._event = threading.Event()
        self.over = False

    def put(self, request: PortRequest) -> None:
        """Ask for something; never waits."""
        self._waiting.append(request)
        self._event.set()

    def stop(self) -> None:
        """End the sleep, now and from now on."""
        self.over = True
        self._event.set()

    def sleep(self, sec: float) -> bool:
        """Sleep for ``sec``, or until something is asked for; False at the end."""
        self._event.wait(sec)
        self._event.clear()
        return not self.over

    def take(self) -> PortRequest | None:
        """Take the oldest request out; None if nothing was asked for."""
        return self._waiting.popleft() if self._waiting else None


def row_of(request: PortRequest, ports: Sequence[Port]) -> Port | None:
    """The port that a request is for; None if it does not exist yet."""
    rows = [port for port in ports if port.role == request.role]
    if request.role == "out":
        return rows[request.number] if request.number < len(rows) else None
    return next((port for port in rows if port.number == request.number), None)


def gone_words(name: str, port: Port | None) -> str:
    """The sentence for a device that went while it was being chosen."""
    stays = f"; {port.shown} stays in use." if port is not None and port.live else ", and nothing was changed."
    return f"{name or 'That'} is not there any more{stays}"
