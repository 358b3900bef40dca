"""Any bytes, in any order, by any number of clients: one is dropped, and the window next to it goes
on, and so does one that comes later.
"""

import json
import random
import socket
import time
from contextlib import suppress
from pathlib import Path

from loopdeck.protocol import wire
from loopdeck.protocol.address import place_of
from loopdeck.protocol.client import LinkClient
from loopdeck.protocol.messages import FROM_ENGINE, FROM_WINDOW, PROTOCOL, Command, Hello, Message, Said, kind_of
from loopdeck.protocol.server import LinkServer
from loopdeck.protocol.wire import encode
from tests.attack.attack import Attack
from tests.waiting import until

NUMBERS = (
    "0",
    "-1",
    "1e999",
    "NaN",
    "-Infinity",
    "1" + "0" * 400,
    "9" * 5000,
    "true",
    "0.5",
    "1e308",
    "-0.0",
    "127",
    "128",
)
TEXTS = ("", "start", "♭", "\ud800", "\x00", "x" * 20_000, "\x1b]0;x\x07", "ключ")


class Listener:
    """A server that welcomes everybody, and keeps what it was told by its clients."""

    def __init__(self, address: str) -> None:
        self.commands: list[tuple[int, Message]] = []
        self.server = LinkServer(
            address,
            on_message=lambda client, message: self.commands.append((client, message)),
            on_joined=lambda client, role: self.server.welcome(client, [Said(text="welcome")]),
            on_left=lambda client, role, bye: None,
        )


def value(rng: random.Random, depth: int = 0) -> str:
    """Some JSON, as text: of the kind that is not expected, mostly."""
    kind = rng.randrange(7 if depth < 4 else 3)
    if kind == 0:
        return rng.choice(NUMBERS)
    if kind == 1:
        return json.dumps(rng.choice(TEXTS))
    if kind == 2:
        return rng.choice(("null", "true", "[]", "{}"))
    if kind == 3:
        return "[" * rng.choice((1, 50, 5000)) + "]" * rng.choice((0, 1, 50))
    inner = [value(rng, depth + 1) for _ in range(rng.randrange(4))]
    if kind == 4:
        return f"[{','.join(inner)}]"
    return "{" + ",".join(f"{json.dumps(rng.choice(TEXTS))}:{one}" for one in inner) + "}"


def body(rng: random.Random) -> bytes:
    """The body of a frame: almost a message, in one way or another."""
    if rng.random() < 0.1:
        return rng.randbytes(rng.randrange(200))
    kind = kind_of(rng.choice((*FROM_WINDOW, *FROM_ENGINE))) if rng.random() < 0.9 else rng.choice(TEXTS)
    names = (
        "name",
        "args",
        "pitch",
        "on",
        "velocity",
        "string",
        "played_sec",
        "protocol",
        "role",
        "token",
        "text",
        "more",
    )
    fields = {name: value(rng) for name in rng.sample(names, rng.randrange(5))}
    data = "{" + ",".join(f'"{name}":{one}' for name, one in fields.items()) + "}"
    sec = rng.choice(NUMBERS) if rng.random() < 0.5 else "1.0"
    text = f'{{"kind":{json.dumps(kind)},"time_sec":{sec},"data":{data if rng.random() < 0.8 else value(rng)}}}'
    return text.encode("utf-8", "surrogatepass")


def stream(rng: random.Random, greeting: bytes) -> bytes:
    """What one hostile client sends: greeted or not, whole frames, wrong lengths, noise, things in
    the wrong order.
    """
    pieces = [greeting] if rng.random() < 0.6 else []
    for _ in range(rng.randint(0, 6)):
        kind = rng.random()
        one = body(rng)
        if kind < 0.6:
            pieces.append(wire.HEAD.pack(len(one)) + one)
        elif kind < 0.7:
            pieces.append(wire.HEAD.pack(rng.choice((0, 1, 1 << 20, (1 << 20) + 1, (1 << 32) - 1))) + one)
        elif kind < 0.8:
            pieces.append(encode(Command(name="start", args={"bars": 1})))
        elif kind < 0.85:
            pieces.append(encode(Command(name="start")) * 3000)
        elif kind < 0.9:
            pieces.append(greeting)
        else:
            pieces.append(rng.randbytes(rng.randrange(100)))
    if rng.random() < 0.2:
        rng.shuffle(pieces)
    return b"".join(pieces)


def any_frame(rng: random.Random, folder: Path) -> float:
    """Hostile clients beside a good one; returns how long the good one waited for an answer
    afterwards, in ms.
    """
    address = f"unix:{folder}/link"
    one = Listener(address)
    good = LinkClient(address)
    heard: list[Message] = []
    until(lambda: heard.extend(good.poll()) or len(heard) >= 2, "the welcome of the good client")
    place = place_of(address)
    open_ones: list[socket.socket] = []
    for _ in range(rng.randint(1, 12)):
        sock = socket.socket(place.family)
        sock.settimeout(0.05)
        with suppress(OSError):
            sock.connect(place.where)
            data = stream(rng, encode(Hello(protocol=PROTOCOL, role=rng.choice(("window", "front", "")))))
            at = 0
            while at < len(data):
                size = rng.choice((1, 3, 700, 100_000))
                sock.sendall(data[at : at + size])
                at += size
        # Some hang up at once, some later, some never read.
        (sock.close if rng.random() < 0.5 else lambda kept=sock: open_ones.append(kept))()
    took = answer_ms(one, good)
    late = LinkClient(address)
    answer_ms(one, late)
    assert all(isinstance(message, FROM_WINDOW) for _, message in one.commands)
    for sock in open_ones:
        sock.close()
    late.close()
    good.close()
    one.server.close()
    return took


def answer_ms(one: Listener, client: LinkClient) -> float:
    """A message of the client arrives, and what is told to all reaches it; reconnects as the window
    does when it was cut off for room.
    """
    heard: list[Message] = []
    begin = time.perf_counter()
    mark = Command(name="mark", args={"at": begin})

    def there() -> bool:
        if client.closed and client.connect():
            client.send(mark)
        one.server.send(Said(text="still here"))
        heard.extend(client.poll())
        return any(isinstance(told, Said) for told in heard) and any(given == mark for _, given in one.commands)

    client.send(mark)
    until(there, "the answer of the link")
    return (time.perf_counter() - begin) * 1000.0


ATTACKS = (
    Attack(
        "link: any frame, any order",
        "one client is dropped, the rest goes on",
        any_frame,
        short=60,
        nightly=3000,
        figure="ms until the window was answered",
        needs=lambda: "" if hasattr(socket, "AF_UNIX") else "this system has no local sockets",
    ),
)
