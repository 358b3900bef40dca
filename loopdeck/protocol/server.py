"""The engine's end of the link: a thread that listens, reads and writes, so that the engine waits
for nobody.

Theory of operation
    ``send`` only puts messages into a queue; the thread encodes and writes them. Every client is on
    its own: one that says what is not in the protocol, does not greet in time, says too much, or
    does not read, is dropped with a sentence, and all others go on. A program may connect and then
    say nothing; when there are too many connections the one that has been silent longest has to go,
    one that never greeted first, so that there is always room for the window.
    What waits for a client is written in one piece. A client that looks only at whole passes (see
    ``PATIENT_ROLES``) is not woken for every note: its messages wait for the next ``ClockChanged``.

Conventions: clients are numbered from 1. Seconds are those of ``time.monotonic``.
"""

import os
import secrets
import selectors
import socket
import threading
import time
import traceback
from collections import deque
from collections.abc import Callable, Iterable
from contextlib import suppress

from loopdeck import __version__
from loopdeck.protocol.address import Endpoint, LinkError, place_of
from loopdeck.protocol.fields import MessageError
from loopdeck.protocol.messages import (
    FROM_WINDOW,
    LISTENER,
    PROTOCOL,
    Bye,
    ClockChanged,
    Hello,
    Message,
    NoteStarted,
    Welcome,
)
from loopdeck.protocol.wire import FrameReader, encode

#: What may wait for a client that does not read, before it is dropped.
MAX_WAITING_BYTES = 8 << 20
MAX_CLIENTS = 8
#: How long a client may take to greet.
GREET_SEC = 5.0
#: The most messages a client may send in a second; a player's hands and feet come to some dozens.
MOST_MESSAGES = 2000
#: The same complaint is not repeated sooner.
COMPLAIN_EVERY_SEC = 10.0
#: Clients that are written to once a pass, or when so many bytes wait for them.
PATIENT_ROLES = (LISTENER,)
PATIENT_BYTES = 4096
_READ_BYTES = 1 << 16


def _is_urgent(one: Message) -> bool:
    """A message that a patient client gets at once, with what waits for it: a pass may have ended
    by it, or it was played while there are no passes.
    """
    return isinstance(one, ClockChanged | Bye) or (isinstance(one, NoteStarted) and one.pass_index < 0)


class _Client:
    """One connection as the server sees it.

    ``open`` once it has been welcomed; ``bye`` once it said so.
    """

    def __init__(self, number: int, sock: socket.socket, now: float) -> None:
        self.number = number
        self.sock = sock
        self.reader = FrameReader(FROM_WINDOW)
        #: Frames not yet written, one behind the other.
        self.waiting = bytearray()
        #: What the selector looks for.
        self.wanted = selectors.EVENT_READ
        self.greeted = False
        self.open = False
        self.bye = False
        self.role = ""
        self.heard_sec = now
        self._second, self._messages = now, 0

    @property
    def patient(self) -> bool:
        """True while what waits may go on waiting for the end of the pass."""
        return self.role in PATIENT_ROLES and len(self.waiting) < PATIENT_BYTES

    def too_many(self, count: int, now: float) -> bool:
        """Count messages that came; True when there are too many in this second."""
        if now - self._second >= 1.0:
            self._second, self._messages = now, 0
        self._messages += count
        return self._messages > MOST_MESSAGES


class LinkServer:
    """Listens at an address in a thread of its own.

    The callbacks are called in that thread and must return at once: ``on_message(client,
    message)``; ``on_joined(client, role)`` when a client said hello (answer with ``welcome``);
    ``on_left(client, role, said_bye)``; ``on_problem(sentence)``. Raises LinkError.
    """

    def __init__(
        self,
        address: str,
        on_message: Callable[[int, Message], None],
        on_joined: Callable[[int, str], None],
        on_left: Callable[[int, str, bool], None],
        on_problem: Callable[[str], None] = lambda sentence: None,
    ) -> None:
        place = place_of(address)
        self._token = place.token.encode()
        self._on_message, self._on_joined, self._on_left = on_message, on_joined, on_left
        self._on_problem = on_problem
        self._complained: dict[str, float] = {}
        self._listener = _listen(place)
        self._wake_out, self._wake_in = socket.socketpair()
        self._wake_out.setblocking(False)
        self._wake_in.setblocking(False)
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._listener, selectors.EVENT_READ)
        self._selector.register(self._wake_in, selectors.EVENT_READ)
        self._clients: dict[int, _Client] = {}
        self._count = 0
        #: Orders for the thread: (client or 0 for all open ones, messages, does this welcome the
        #: client).
        self._orders: deque[tuple[int, tuple[Message, ...], bool]] = deque()
        self._stopping = False
        self._thread = threading.Thread(target=self._run, name="link", daemon=True)
        self._thread.start()

    # ---- for the engine: never waits -------------------------------------------------------------

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
        # A full socket means that the thread has been woken already; a closed one, that it has
        # ended.
        with suppress(OSError):
            self._wake_out.send(b"!")

    # ---- the thread ------------------------------------------------------------------------------

    def _run(self) -> None:
        until: float | None = None
        while True:
            for key, events in self._selector.select(self._pause_sec()):
                if key.fileobj is self._wake_in:
                    with suppress(OSError):
                        self._wake_in.recv(4096)
                elif key.fileobj is self._listener:
                    self._accept()
                else:
                    self._isolate(key.data, events)
            self._take_orders()
            self._drop_silent()
            if self._stopping:
                until = until if until is not None else time.monotonic() + 0.5
                if not any(client.waiting for client in self._clients.values()) or time.monotonic() > until:
                    break
        for client in list(self._clients.values()):
            self._drop(client)
        for one in (self._listener, self._wake_in, self._wake_out):
            one.close()
        self._selector.close()

    def _pause_sec(self) -> float | None:
        if self._stopping:
            return 0.05
        return 0.5 if any(not client.greeted for client in self._clients.values()) else None

    def _isolate(self, client: _Client, events: int) -> None:
        """Serve a client; a mistake of ours that one of them brings to light must not silence the
        others.
        """
        try:
            self._serve(client, events)
        except Exception as error:
            traceback.print_exc()
            self._complain(f"The link to a client failed ({type(error).__name__}); it was cut off.")
            self._drop(client)

    def _serve(self, client: _Client, events: int) -> None:
        if client.number not in self._clients:
            return
        if events & selectors.EVENT_READ:
            self._read(client)
        if events & selectors.EVENT_WRITE and client.number in self._clients:
            self._write(client)

    def _accept(self) -> None:
        try:
            sock, _ = self._listener.accept()
        except OSError:
            # No room for another file, most likely: not at full speed again and again.
            time.sleep(0.02)
            return
        while len(self._clients) >= MAX_CLIENTS:
            self._complain("There are too many connections to the engine; the one that was silent longest was cut off.")
            self._drop(min(self._clients.values(), key=lambda one: (one.greeted, one.heard_sec)))
        sock.setblocking(False)
        self._count += 1
        client = _Client(self._count, sock, time.monotonic())
        self._clients[client.number] = client
        self._selector.register(sock, selectors.EVENT_READ, client)

    def _drop_silent(self) -> None:
        late = time.monotonic() - GREET_SEC
        for client in [one for one in self._clients.values() if not one.greeted and one.heard_sec < late]:
            self._drop(client)

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
        now = time.monotonic()
        try:
            messages = client.reader.feed(data)
            if client.too_many(len(messages), now):
                raise MessageError(f"A client that sent more than {MOST_MESSAGES} messages in a second was cut off.")
            for one in messages:
                if not self._take(client, one):
                    return
        except MessageError as error:
            self._complain(str(error))
            self._drop(client)
            return
        if client.greeted:
            client.heard_sec = now

    def _take(self, client: _Client, one: Message) -> bool:
        """One message of a client; False when that was its last one."""
        if not client.greeted:
            self._greet(client, one)
        elif isinstance(one, Bye):
            client.bye = True
            self._drop(client)
            return False
        elif isinstance(one, Hello):
            raise MessageError("A client that greeted twice was cut off.")
        else:
            self._on_message(client.number, one)
        return True

    def _greet(self, client: _Client, one: Message) -> None:
        if not isinstance(one, Hello) or not secrets.compare_digest(one.token.encode(), self._token):
            raise MessageError("A program that did not greet as the window does was turned away.")
        if one.protocol != PROTOCOL:
            raise MessageError("A window of another version was turned away; restart loopdeck.")
        client.greeted, client.role = True, one.role
        welcome = Welcome(time_sec=time.perf_counter(), protocol=PROTOCOL, version=__version__, pid=os.getpid())
        client.waiting += encode(welcome)
        self._on_joined(client.number, client.role)

    def _complain(self, sentence: str) -> None:
        now = time.monotonic()
        if now - self._complained.get(sentence, float("-inf")) < COMPLAIN_EVERY_SEC:
            return
        if len(self._complained) > 100:
            self._complained.clear()
        self._complained[sentence] = now
        self._on_problem(sentence)

    def _take_orders(self) -> None:
        while self._orders:
            number, messages, welcome = self._orders.popleft()
            frames = self._frames(messages) if self._clients else b""
            at_once = welcome or any(_is_urgent(one) for one in messages)
            for client in list(self._clients.values()):
                if welcome and client.number == number:
                    client.open = True
                elif welcome or not client.open:
                    continue
                client.waiting += frames
                if at_once or not client.patient:
                    self._write(client)
        if self._stopping:
            for client in list(self._clients.values()):
                self._write(client)

    def _frames(self, messages: Iterable[Message]) -> bytes:
        """The messages as frames, one behind the other."""
        frames = []
        for one in messages:
            try:
                frames.append(encode(one))
            except MessageError as error:
                self._complain(f"The window could not be told something: {error}")
        return b"".join(frames)

    def _write(self, client: _Client) -> None:
        try:
            while client.waiting:
                del client.waiting[: client.sock.send(client.waiting)]
        except BlockingIOError:
            pass
        except OSError:
            self._drop(client)
            return
        if len(client.waiting) > MAX_WAITING_BYTES:
            self._complain("The window does not read what it is told; it was cut off.")
            self._drop(client)
            return
        wanted = selectors.EVENT_READ | (selectors.EVENT_WRITE if client.waiting else 0)
        if wanted != client.wanted:
            client.wanted = wanted
            self._selector.modify(client.sock, wanted, client)

    def _drop(self, client: _Client) -> None:
        if self._clients.pop(client.number, None) is None:
            return
        with suppress(KeyError, ValueError):
            self._selector.unregister(client.sock)
        client.sock.close()
        if client.greeted:
            self._on_left(client.number, client.role, client.bye)


def _listen(place: Endpoint) -> socket.socket:
    if place.family != socket.AF_INET:
        # What a killed predecessor left behind.
        with suppress(FileNotFoundError):
            os.unlink(place.where)
    listener = socket.socket(place.family, socket.SOCK_STREAM)
    if place.family == socket.AF_INET and os.name != "nt":
        # On Windows this would let two programs listen at one port.
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(place.where)
    except OSError as error:
        listener.close()
        raise LinkError(f"The engine cannot listen at its socket ({error.strerror}).") from error
    listener.listen(MAX_CLIENTS)
    listener.setblocking(False)
    return listener
