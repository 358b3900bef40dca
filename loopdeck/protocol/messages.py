"""The messages between the engine and the window, and the local socket they travel on.

Conventions
    A message is ``{"kind": str, "time_sec": float, "data": {...}}``, JSON-able through and through; seconds are those of the common
    monotonic clock. On the wire each is a frame: its length in bytes (4, big-endian), then JSON in UTF-8.
    An address is text: ``unix:/folder/link`` where the system has local sockets (the folder is for its owner only, 0700), else
    ``tcp:PORT:TOKEN`` on the loopback, where the first message of a client must name the token.
    A client begins with ``hello {protocol, role}``; the server answers ``hello {protocol, version, pid}`` and whatever its owner hands
    to ``welcome``; from then on the client gets every message sent.

The engine waits for nobody: ``LinkServer.send`` only puts the message into a queue; a thread encodes and writes. A client that does not
read, or breaks the framing, is dropped; a message that is no message is ignored, with a sentence. The window side has no thread:
``LinkClient.poll`` reads what is there and returns at once.
"""

import os
import secrets
import selectors
import socket
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable
from contextlib import suppress
from typing import Any

from loopdeck import __version__
from loopdeck.protocol.framing import (
    PROTOCOL,
    FrameReader,
    LinkError,
    Message,
    address_parts,
    encode,
    forget_address,
    message,
    new_address,
)

__all__ = ["LinkClient", "LinkError", "LinkServer", "Message", "encode", "forget_address", "message", "new_address"]

#: What may wait for a client that does not read, before it is dropped.
MAX_WAITING_BYTES = 8 << 20
MAX_CLIENTS = 8
_READ_BYTES = 1 << 16


# ---- the engine's side ------------------------------------------------------------------------------------------------------


class _Client:
    """One connection as the server sees it. ``open`` once it has been welcomed; ``bye`` once it said so."""

    def __init__(self, number: int, sock: socket.socket) -> None:
        self.number = number
        self.sock = sock
        self.reader = FrameReader()
        self.waiting: deque[bytes] = deque()
        self.waiting_bytes = 0
        self.greeted = False
        self.open = False
        self.bye = False
        self.role = ""


class LinkServer:
    """Listens at an address in a thread of its own.

    The callbacks are called in that thread and must return at once: ``on_message(client, message)``; ``on_joined(client, role)`` when a
    client said hello (answer with ``welcome``); ``on_left(client, role, said_bye)``; ``on_problem(sentence)``.
    Clients are numbered from 1.
    """

    def __init__(
        self,
        address: str,
        on_message: Callable[[int, Message], None],
        on_joined: Callable[[int, str], None],
        on_left: Callable[[int, str, bool], None],
        on_problem: Callable[[str], None] = lambda sentence: None,
    ) -> None:
        family, place, self._token = address_parts(address)
        self._on_message, self._on_joined, self._on_left = on_message, on_joined, on_left
        self._on_problem = on_problem
        if family != socket.AF_INET:
            # What a killed predecessor left behind.
            with suppress(FileNotFoundError):
                os.unlink(place)
        self._listener = socket.socket(family, socket.SOCK_STREAM)
        if family == socket.AF_INET:
            self._listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            self._listener.bind(place)
        except OSError as error:
            self._listener.close()
            raise LinkError(f"The engine cannot listen at {address.split(':')[0]} ({error.strerror}).") from error
        self._listener.listen(MAX_CLIENTS)
        self._listener.setblocking(False)
        self._wake_out, self._wake_in = socket.socketpair()
        self._wake_out.setblocking(False)
        self._wake_in.setblocking(False)
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._listener, selectors.EVENT_READ)
        self._selector.register(self._wake_in, selectors.EVENT_READ)
        self._clients: dict[int, _Client] = {}
        self._count = 0
        #: Orders for the thread: (client or 0 for all open ones, messages, does this welcome the client).
        self._orders: deque[tuple[int, tuple[Message, ...], bool]] = deque()
        self._stopping = False
        self._thread = threading.Thread(target=self._run, name="link", daemon=True)
        self._thread.start()

    # ---- for the engine: never waits ------------------------------------------------------------------------------------

    def send(self, *messages: Message) -> None:
        """Queue messages for every welcomed client."""
        self._order(0, messages, False)

    def welcome(self, client: int, messages: Iterable[Message]) -> None:
        """Queue what a new client is to know first; after that it gets what is sent to all."""
        self._order(client, tuple(messages), True)

    def close(self, wait_sec: float = 0.5) -> None:
        """Write what is queued, as far as the clients take it within ``wait_sec``, and hang up."""
        self._stopping = True
        self._wake()
        self._thread.join(wait_sec + 0.5)

    def _order(self, client: int, messages: tuple[Message, ...], welcome: bool) -> None:
        self._orders.append((client, messages, welcome))
        self._wake()

    def _wake(self) -> None:
        # A full socket means that the thread has been woken already; a closed one, that it has ended.
        with suppress(OSError):
            self._wake_out.send(b"!")

    # ---- the thread -----------------------------------------------------------------------------------------------------

    def _run(self) -> None:
        until: float | None = None
        while True:
            for key, events in self._selector.select(0.05 if self._stopping else None):
                if key.fileobj is self._wake_in:
                    with suppress(OSError):
                        self._wake_in.recv(4096)
                elif key.fileobj is self._listener:
                    self._accept()
                else:
                    client = key.data
                    if events & selectors.EVENT_READ:
                        self._read(client)
                    if events & selectors.EVENT_WRITE and client.number in self._clients:
                        self._write(client)
            self._take_orders()
            if self._stopping:
                until = until if until is not None else time.monotonic() + 0.5
                if not any(client.waiting for client in self._clients.values()) or time.monotonic() > until:
                    break
        for client in list(self._clients.values()):
            self._drop(client)
        for one in (self._listener, self._wake_in, self._wake_out):
            one.close()
        self._selector.close()

    def _accept(self) -> None:
        try:
            sock, _ = self._listener.accept()
        except OSError:
            return
        if len(self._clients) >= MAX_CLIENTS:
            sock.close()
            return
        sock.setblocking(False)
        self._count += 1
        client = _Client(self._count, sock)
        self._clients[client.number] = client
        self._selector.register(sock, selectors.EVENT_READ, client)

    def _read(self, client: _Client) -> None:
        try:
            data = client.sock.recv(_READ_BYTES)
        except BlockingIOError:
            return
        except OSError:
            data = b""
        if not data:
            self._drop(client)
            return
        try:
            messages = client.reader.feed(data)
        except ValueError as error:
            self._on_problem(str(error))
            self._drop(client)
            return
        for sentence in client.reader.problems:
            self._on_problem(sentence)
        client.reader.problems.clear()
        for one in messages:
            self._take(client, one)

    def _take(self, client: _Client, one: Message) -> None:
        if not client.greeted:
            data = one["data"]
            if one["kind"] != "hello" or not secrets.compare_digest(str(data.get("token", "")), self._token):
                self._on_problem("A program that did not greet as the window does was turned away.")
                self._drop(client)
                return
            if data.get("protocol") != PROTOCOL:
                self._on_problem("A window of another version was turned away; start loopdeck anew.")
                self._drop(client)
                return
            client.greeted, client.role = True, str(data.get("role", ""))[:40]
            self._put(client, encode(message("hello", protocol=PROTOCOL, version=__version__, pid=os.getpid())))
            self._on_joined(client.number, client.role)
        elif one["kind"] == "bye":
            client.bye = True
        else:
            self._on_message(client.number, one)

    def _take_orders(self) -> None:
        while self._orders:
            number, messages, welcome = self._orders.popleft()
            frames = []
            for one in messages:
                try:
                    frames.append(encode(one))
                except (ValueError, TypeError) as error:
                    self._on_problem(f"A message {one.get('kind')!r} could not be sent ({error}).")
            for client in list(self._clients.values()):
                if welcome and client.number == number:
                    client.open = True
                elif welcome or not client.open:
                    continue
                for frame in frames:
                    self._put(client, frame)
                self._write(client)

    @staticmethod
    def _put(client: _Client, frame: bytes) -> None:
        client.waiting.append(frame)
        client.waiting_bytes += len(frame)

    def _write(self, client: _Client) -> None:
        try:
            while client.waiting:
                frame = client.waiting[0]
                sent = client.sock.send(frame)
                client.waiting_bytes -= sent
                if sent < len(frame):
                    client.waiting[0] = frame[sent:]
                else:
                    client.waiting.popleft()
        except BlockingIOError:
            pass
        except OSError:
            self._drop(client)
            return
        if client.waiting_bytes > MAX_WAITING_BYTES:
            self._on_problem("The window does not read what it is told; it was cut off.")
            self._drop(client)
            return
        wanted = selectors.EVENT_READ | (selectors.EVENT_WRITE if client.waiting else 0)
        self._selector.modify(client.sock, wanted, client)

    def _drop(self, client: _Client) -> None:
        if self._clients.pop(client.number, None) is None:
            return
        with suppress(KeyError, ValueError):
            self._selector.unregister(client.sock)
        client.sock.close()
        if client.greeted:
            self._on_left(client.number, client.role, client.bye)


# ---- the window's side ------------------------------------------------------------------------------------------------------


class LinkClient:
    """A connection to the engine, without a thread. ``closed`` turns True when the engine is gone; ``connect`` may be tried again.

    ``engine_pid`` is known after the engine's hello. Raises LinkError when nobody answers within ``wait_sec``.
    """

    def __init__(self, address: str, role: str = "window", wait_sec: float = 5.0) -> None:
        self._family, self._place, self._token = address_parts(address)
        self._role = role
        self._sock: socket.socket | None = None
        self._reader = FrameReader()
        self._unsent = bytearray()
        self.closed = True
        self.engine_pid = 0
        until = time.monotonic() + wait_sec
        while not self.connect():
            if time.monotonic() > until:
                raise LinkError("The engine does not answer; start loopdeck anew.")
            time.sleep(0.02)

    def connect(self) -> bool:
        """Try once to reach the engine (again). Returns at once; True when connected."""
        self._hang_up()
        sock = socket.socket(self._family, socket.SOCK_STREAM)
        try:
            sock.connect(self._place)
        except OSError:
            sock.close()
            return False
        sock.setblocking(False)
        self._sock, self._reader, self.closed = sock, FrameReader(), False
        self._unsent.clear()
        self.send("hello", protocol=PROTOCOL, role=self._role, token=self._token)
        return not self.closed

    def fileno(self) -> int:
        """For ``select``: readable when ``poll`` has something. -1 when closed."""
        return -1 if self._sock is None else self._sock.fileno()

    def poll(self) -> list[Message]:
        """The messages that have come since the last call; never waits."""
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
            except ValueError:
                self._hang_up()
        self._reader.problems.clear()
        for one in found:
            if one["kind"] == "hello" and isinstance(one["data"].get("pid"), int):
                self.engine_pid = one["data"]["pid"]
        return found

    def send(self, kind: str, time_sec: float = 0.0, /, **data: Any) -> None:
        """Send a message; dropped when the engine is gone. Never waits."""
        if self._sock is None:
            return
        self._unsent += encode(message(kind, time_sec, **data))
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
            self.send("bye")
        self._hang_up()

    def _hang_up(self) -> None:
        if self._sock is not None:
            self._sock.close()
        self._sock = None
        self.closed = True
