"""What reaches the thread that plays: one type for each thing that other threads hand to it, and
the inbox they put it into.

Conventions: seconds on the session's clock. Any thread may put; only the thread that plays takes.
"""

import select
import socket
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from typing import Any, NamedTuple

from loopdeck.protocol.messages import Message


class MidiArrived(NamedTuple):
    """Bytes of an input, as the driver gave them, with its delta time."""

    port: int
    data: bytes
    delta_sec: float
    arrived_sec: float


class MessageArrived(NamedTuple):
    """A message of a client of the link."""

    client: int
    message: Message
    arrived_sec: float


class ClientJoined(NamedTuple):
    """A client of the link has greeted."""

    client: int
    role: str


class ClientLeft(NamedTuple):
    """A client of the link has gone."""

    client: int
    role: str
    said_bye: bool


class PortChanged(NamedTuple):
    """A MIDI port has come or gone; ``number`` is that of an input."""

    role: str
    number: int
    live: bool
    name: str
    sentence: str


class SoundChanged(NamedTuple):
    """The sound device has come or gone."""

    text: str
    wrong: bool


class ToSay(NamedTuple):
    """Something another thread has to say to the player."""

    text: str
    wrong: bool


class ToDo(NamedTuple):
    """Something another thread wants done in the thread that plays; it must not wait for
    anything.
    """

    act: Callable[[], None]


class TakeSaved(NamedTuple):
    """A take is on the shelf: its row, and the identity of its keep."""

    row: dict[str, Any]
    identity: str


class TakeListed(NamedTuple):
    """A take stands on the shelf as its row says: a lost session, or one by another name."""

    row: dict[str, Any]


class SessionOffered(NamedTuple):
    """A lost session waits for the player's answer; "" when none does any more."""

    text: str


class CommandGiven(NamedTuple):
    """A command of the built-in player."""

    name: str
    args: dict[str, Any]


class SignalArrived(NamedTuple):
    """A signal of the system."""

    number: int


Event = (
    MidiArrived | MessageArrived | ClientJoined | ClientLeft | PortChanged | SoundChanged | ToSay | ToDo | TakeSaved
    | TakeListed | SessionOffered | CommandGiven | SignalArrived
)  # fmt: skip


class Waker:
    """Wakes a sleeping thread from any other one."""

    def __init__(self) -> None:
        self._read_socket, self._write_socket = socket.socketpair()
        self._read_socket.setblocking(False)
        self._write_socket.setblocking(False)

    def wake(self) -> None:
        """Wake it; harmless when it is awake."""
        # A full socket: it has been woken often enough.
        with suppress(OSError):
            self._write_socket.send(b"!")

    def fileno(self) -> int:
        """For ``signal.set_wakeup_fd``: writing to it wakes, too."""
        return self._write_socket.fileno()

    def sleep(self, sec: float) -> bool:
        """Sleep; True when woken before the time was over."""
        if not select.select((self._read_socket,), (), (), max(sec, 0.0))[0]:
            return False
        with suppress(OSError):
            self._read_socket.recv(4096)
        return True

    def close(self) -> None:
        """Close the sockets."""
        self._read_socket.close()
        self._write_socket.close()


class Inbox:
    """Events in the order in which they came; putting one wakes the thread that plays."""

    def __init__(self) -> None:
        self._events: deque[Event] = deque()
        self.waker = Waker()

    def put(self, event: Event) -> None:
        """Hand something to the thread that plays."""
        self._events.append(event)
        self.waker.wake()

    def take(self) -> Event | None:
        """Take the oldest event out; None if the inbox is empty."""
        return self._events.popleft() if self._events else None

    def __len__(self) -> int:
        return len(self._events)
