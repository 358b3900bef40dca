"""The window's end of the link: no thread, and nothing waits."""

import socket
import time

from loopdeck.protocol.address import LinkError, place_of
from loopdeck.protocol.fields import MessageError
from loopdeck.protocol.messages import FROM_ENGINE, PROTOCOL, Bye, Hello, Message, Welcome
from loopdeck.protocol.wire import FrameReader, encode

#: What may wait for an engine that does not read.
MAX_WAITING_BYTES = 8 << 20
_READ_BYTES = 1 << 16


class LinkClient:
    """A connection to the engine. ``closed`` turns True when the engine is gone; ``connect`` may be
    tried again.

    ``engine_pid`` is known after the engine's Welcome. Raises LinkError when nobody answers within
    ``wait_sec``; with None nothing is tried yet, and the owner calls ``connect`` when it likes.
    """

    def __init__(self, address: str, role: str = "window", wait_sec: float | None = 5.0) -> None:
        self._place = place_of(address)
        self._role = role
        self._sock: socket.socket | None = None
        self._reader = FrameReader(FROM_ENGINE)
        self._unsent = bytearray()
        self.closed = True
        self.engine_pid = 0
        until = time.monotonic() + (wait_sec or 0.0)
        while wait_sec is not None and not self.connect():
            if time.monotonic() > until:
                raise LinkError("The engine does not answer; restart loopdeck.")
            time.sleep(0.02)

    def connect(self) -> bool:
        """Try once to reach the engine (again). Returns at once; True when connected."""
        self._hang_up()
        sock = socket.socket(self._place.family, socket.SOCK_STREAM)
        try:
            sock.connect(self._place.where)
        except OSError:
            sock.close()
            return False
        sock.setblocking(False)
        self._sock, self._reader, self.closed = sock, FrameReader(FROM_ENGINE), False
        self._unsent.clear()
        self.send(Hello(protocol=PROTOCOL, role=self._role, token=self._place.token))
        return not self.closed

    def fileno(self) -> int:
        """For ``select``: readable when ``poll`` has something. -1 when closed."""
        return -1 if self._sock is None else self._sock.fileno()

    def poll(self) -> list[Message]:
        """The messages that have come since the last call; never waits. An engine that speaks
        another language is hung up on.
        """
        found: list[Message] = []
        self._flush()
        while self._sock is not None:
            try:
                data = self._sock.recv(_READ_BYTES)
            except BlockingIOError:
                break
            except OSError:
                data = b""
            if not data:
                self._hang_up()
                break
            try:
                found += self._reader.feed(data)
            except MessageError:
                self._hang_up()
        for one in found:
            if isinstance(one, Welcome):
                self.engine_pid = one.pid
        return found

    def send(self, message: Message) -> None:
        """Send a message; dropped when the engine is gone. Never waits. Raises MessageError for one
        that cannot be encoded.
        """
        if self._sock is None:
            return
        self._unsent += encode(message)
        self._flush()

    def _flush(self) -> None:
        while self._sock is not None and self._unsent:
            try:
                sent = self._sock.send(self._unsent)
            except BlockingIOError:
                if len(self._unsent) > MAX_WAITING_BYTES:
                    self._hang_up()
                return
            except OSError:
                self._hang_up()
                return
            del self._unsent[:sent]

    def close(self, bye: bool = True) -> None:
        """Hang up; with ``bye`` the engine is told that this is meant."""
        if self._sock is not None and bye:
            self.send(Bye(time_sec=time.perf_counter()))
        self._hang_up()

    def _hang_up(self) -> None:
        if self._sock is not None:
            self._sock.close()
        self._sock = None
        self.closed = True
