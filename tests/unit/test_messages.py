"""The link between engine and window: whole messages arrive, in order; a bad or idle client harms nobody."""

import json
import os
import socket
import stat
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from loopdeck.protocol import framing, messages
from loopdeck.protocol.framing import FrameReader
from loopdeck.protocol.messages import (
    LinkClient,
    LinkError,
    LinkServer,
    encode,
    forget_address,
    message,
    new_address,
)


class Engine:
    """A server that welcomes everybody and writes down what happens."""

    def __init__(self, address: str) -> None:
        self.seen: list[Any] = []
        self.server = LinkServer(
            address,
            on_message=lambda client, one: self.seen.append(("message", client, one)),
            on_joined=self._joined,
            on_left=lambda client, role, bye: self.seen.append(("left", client, role, bye)),
            on_problem=lambda sentence: self.seen.append(("problem", sentence)),
        )

    def _joined(self, client: int, role: str) -> None:
        self.seen.append(("joined", client, role))
        self.server.welcome(client, [message("brief", 1.0, name="first")])

    def kinds(self) -> list[str]:
        return [one[0] for one in self.seen]


@pytest.fixture(params=["unix", "tcp"])
def address(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    if request.param == "tcp":
        monkeypatch.setattr(framing, "LOCAL_SOCKETS", False)
    elif not framing.LOCAL_SOCKETS:
        pytest.skip("this system has no local sockets")
    where = new_address()
    assert where.startswith(request.param)
    yield where
    forget_address(where)


def until(condition: Callable[[], Any], sec: float = 3.0) -> Any:
    end = time.monotonic() + sec
    while not (found := condition()):
        assert time.monotonic() < end, "it did not happen in time"
        time.sleep(0.005)
    return found


def gather(client: LinkClient, count: int) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []

    def enough() -> bool:
        found.extend(client.poll())
        return len(found) >= count

    until(enough)
    return found


def test_both_ways_in_order(address: str) -> None:
    engine = Engine(address)
    client = LinkClient(address)
    first = gather(client, 2)
    assert [one["kind"] for one in first] == ["hello", "brief"]
    assert client.engine_pid == os.getpid()
    for number in range(300):
        engine.server.send(message("note_on", float(number), id=number))
    found = gather(client, 300)
    assert [one["data"]["id"] for one in found] == list(range(300))
    client.send("command", 2.5, name="start", args={})
    until(lambda: "message" in engine.kinds())
    assert engine.seen[-1][2] == {"kind": "command", "time_sec": 2.5, "data": {"name": "start", "args": {}}}
    client.close()
    until(lambda: "left" in engine.kinds())
    assert engine.seen[-1][2:] == ("window", True)
    engine.server.close()


def test_hanging_up_without_bye_is_told_apart(address: str) -> None:
    engine = Engine(address)
    client = LinkClient(address, role="window")
    gather(client, 1)
    client.close(bye=False)
    until(lambda: "left" in engine.kinds())
    assert engine.seen[-1][3] is False
    engine.server.close()


def test_the_client_notices_that_the_engine_is_gone_and_finds_a_new_one(address: str) -> None:
    engine = Engine(address)
    client = LinkClient(address)
    gather(client, 1)
    engine.server.close()
    until(lambda: client.poll() == [] and client.closed)
    client.send("command", name="lost")
    assert not client.connect()
    again = Engine(address)
    until(client.connect)
    assert [one["kind"] for one in gather(client, 2)] == ["hello", "brief"]
    client.close()
    again.server.close()


def test_a_large_message_comes_whole(address: str) -> None:
    engine = Engine(address)
    client = LinkClient(address)
    gather(client, 2)
    notes = [[index / 7.0, 0.5, 40] for index in range(10_000)]
    engine.server.send(message("layer", 0.0, number=1, notes=notes))
    assert gather(client, 1)[0]["data"]["notes"] == notes
    client.close()
    engine.server.close()


def test_a_client_that_does_not_read_is_dropped_and_the_engine_never_waits(
    address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(messages, "MAX_WAITING_BYTES", 200_000)
    engine = Engine(address)
    sleeper, reader = LinkClient(address), LinkClient(address)
    gather(sleeper, 2)
    gather(reader, 2)
    text = "x" * 50_000
    slowest = 0.0
    for number in range(400):
        before = time.perf_counter()
        engine.server.send(message("say", 0.0, text=text, number=number))
        slowest = max(slowest, time.perf_counter() - before)
        reader.poll()
        time.sleep(0.001)
        if "left" in engine.kinds():
            break
    left = until(lambda: [one for one in engine.seen if one[0] == "left"])
    assert len(left) == 1
    assert not reader.closed
    assert slowest < 0.5
    engine.server.close()


def raw(address: str) -> socket.socket:
    kind, _, rest = address.partition(":")
    if kind == "unix":
        sock = socket.socket(socket.AF_UNIX)
        sock.connect(rest)
    else:
        sock = socket.create_connection(("127.0.0.1", int(rest.split(":")[0])))
    sock.settimeout(3.0)
    return sock


def hello(address: str) -> bytes:
    token = address.split(":")[2] if address.startswith("tcp") else ""
    return encode(message("hello", protocol=framing.PROTOCOL, role="test", token=token))


def frame(body: bytes) -> bytes:
    return framing.HEAD.pack(len(body)) + body


def test_malformed_messages_are_ignored_with_a_sentence(address: str) -> None:
    engine = Engine(address)
    with raw(address) as sock:
        bad = [b"not json", b"[1,2]", b'{"data":{}}', b'{"kind":"a","data":3}', b"\xff\xfe", b'{"kind":7}']
        sock.sendall(hello(address) + b"".join(map(frame, bad)) + encode(message("command", name="start")))
        until(lambda: "message" in engine.kinds())
        assert engine.kinds().count("problem") == len(bad)
        assert all(one[1].endswith(".") for one in engine.seen if one[0] == "problem")
    engine.server.close()


def test_broken_framing_drops_only_that_client(address: str) -> None:
    engine = Engine(address)
    good = LinkClient(address)
    gather(good, 2)
    with raw(address) as sock:
        sock.sendall(hello(address))
        until(lambda: engine.kinds().count("joined") == 2)
        sock.sendall(framing.HEAD.pack(1 << 30) + b"xxxx")
        until(lambda: "left" in engine.kinds())
    engine.server.send(message("say", 0.0, text="still here"))
    assert gather(good, 1)[0]["data"]["text"] == "still here"
    good.close()
    engine.server.close()


def test_a_stranger_is_turned_away(address: str) -> None:
    engine = Engine(address)
    with raw(address) as sock:
        first = "command" if address.startswith("unix") else "hello"
        sock.sendall(encode(message(first, name="start", protocol=framing.PROTOCOL, token="wrong")))
        assert sock.recv(100) == b""
    assert engine.kinds() == ["problem"]
    engine.server.close()


def test_the_folder_is_for_its_owner_only() -> None:
    if not framing.LOCAL_SOCKETS:
        pytest.skip("this system has no local sockets")
    where = new_address()
    folder = Path(where.partition(":")[2]).parent
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    forget_address(where)
    assert not folder.exists()


def test_frames_cut_anywhere() -> None:
    wanted = [message("a", 1.0, text="♭"), message("b", 2.0), message("c", 3.0, rows=[[1, 2], [3, 4]])]
    stream = b"".join(map(encode, wanted))
    for size in (1, 2, 3, 7, 50, len(stream)):
        reader = FrameReader()
        found = [one for at in range(0, len(stream), size) for one in reader.feed(stream[at : at + size])]
        assert found == wanted
        assert reader.problems == []


def test_what_json_cannot_say_is_refused() -> None:
    with pytest.raises(ValueError):
        encode(message("clock", 0.0, qpm=float("nan")))
    assert json.loads(encode(message("x", 1.5, a=1))[4:]) == {"kind": "x", "time_sec": 1.5, "data": {"a": 1}}


def test_a_wrong_address_is_a_sentence() -> None:
    with pytest.raises(LinkError, match="not an address"):
        LinkClient("somewhere", wait_sec=0.0)
    with pytest.raises(LinkError, match="does not answer"):
        LinkClient("unix:/nowhere/at/all" if framing.LOCAL_SOCKETS else "tcp:1:a", wait_sec=0.0)
