"""The link between engine and window: whole messages arrive, in order; a bad or idle client harms
nobody.
"""

import collections.abc
import contextlib
import dataclasses
import json
import math
import os
import socket
import stat
import statistics
import time
import types
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Union, get_args, get_origin, get_type_hints

import pytest

from loopdeck.protocol import address as addresses
from loopdeck.protocol import server, wire
from loopdeck.protocol.address import LinkError, forget_address, new_address
from loopdeck.protocol.client import LinkClient
from loopdeck.protocol.fields import MessageError
from loopdeck.protocol.messages import (
    FROM_ENGINE,
    FROM_WINDOW,
    LISTENER,
    PROTOCOL,
    BriefChanged,
    Bye,
    ClockChanged,
    Command,
    Hello,
    KeyPlayed,
    LayerNote,
    LayerNotes,
    Message,
    NoteEnded,
    NoteStarted,
    Said,
    Welcome,
    kinds_of,
)
from loopdeck.protocol.server import LinkServer
from loopdeck.protocol.wire import FrameReader, decode, encode
from tests.waiting import until


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
        self.server.welcome(client, [BriefChanged(time_sec=1.0, fields={"name": "first"})])

    def kinds(self) -> list[str]:
        return [one[0] for one in self.seen]


@pytest.fixture(params=["unix", "tcp"])
def address(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    if request.param == "tcp":
        monkeypatch.setattr(addresses, "LOCAL_SOCKETS", False)
    elif not addresses.LOCAL_SOCKETS:
        pytest.skip("this system has no local sockets")
    where = new_address()
    assert where.startswith(request.param)
    yield where
    forget_address(where)


def gather(client: LinkClient, count: int) -> list[Message]:
    found: list[Message] = []

    def enough() -> bool:
        found.extend(client.poll())
        return len(found) >= count

    until(enough)
    return found


def test_both_ways_in_order(address: str) -> None:
    engine = Engine(address)
    client = LinkClient(address)
    first = gather(client, 2)
    assert [type(one) for one in first] == [Welcome, BriefChanged]
    assert client.engine_pid == os.getpid()
    for number in range(300):
        engine.server.send(NoteEnded(time_sec=float(number), id=number, length_q=0.5))
    found = gather(client, 300)
    assert found == [NoteEnded(time_sec=float(number), id=number, length_q=0.5) for number in range(300)]
    client.send(Command(time_sec=2.5, name="keep", args={"passes": 4}))
    until(lambda: "message" in engine.kinds())
    assert engine.seen[-1][2] == Command(time_sec=2.5, name="keep", args={"passes": 4})
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
    client.send(Command(name="lost"))
    assert not client.connect()
    again = Engine(address)
    until(client.connect)
    assert [type(one) for one in gather(client, 2)] == [Welcome, BriefChanged]
    client.close()
    again.server.close()


def test_a_large_message_comes_whole(address: str) -> None:
    engine = Engine(address)
    client = LinkClient(address)
    gather(client, 2)
    layer = LayerNotes(number=1, notes=tuple(LayerNote(index / 7.0, 0.5, 40) for index in range(10_000)))
    engine.server.send(layer)
    assert gather(client, 1) == [layer]
    client.close()
    engine.server.close()


def test_a_client_that_does_not_read_is_dropped_and_the_engine_never_waits(
    address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(server, "MAX_WAITING_BYTES", 200_000)
    engine = Engine(address)
    sleeper, reader = LinkClient(address), LinkClient(address)
    gather(sleeper, 2)
    gather(reader, 2)
    text = "x" * 10_000
    took: list[float] = []
    for _ in range(400):
        before = time.perf_counter()
        engine.server.send(*(Said(text=text) for _ in range(5)))
        took.append(time.perf_counter() - before)
        reader.poll()
        time.sleep(0.001)
        if "left" in engine.kinds():
            break
    left = until(lambda: [one for one in engine.seen if one[0] == "left"])
    assert len(left) == 1
    assert not reader.closed
    assert statistics.median(took) < 0.5
    engine.server.close()


def test_a_listener_is_written_to_once_a_pass(address: str) -> None:
    """Notes wait for the end of the pass, for enough of them, or for the goodbye; a window gets
    them at once.
    """
    engine = Engine(address)
    window, listener = LinkClient(address), LinkClient(address, role=LISTENER)
    assert [type(one) for one in gather(listener, 2)] == [Welcome, BriefChanged]
    gather(window, 2)

    def notes(count: int) -> list[Message]:
        sent: list[Message] = [NoteEnded(id=number, length_q=0.5) for number in range(count)]
        for one in sent:
            engine.server.send(one)
        assert gather(window, count) == sent
        return sent

    # What is played while there are no passes is told at once.
    free = NoteStarted(id=9, pass_index=-1, at_q=0.0, slot_q=0.0, pitch=40, velocity=90, stamp_sec=1.0)
    engine.server.send(free)
    assert gather(listener, 1) == gather(window, 1) == [free]

    few = notes(5)
    assert listener.poll() == []
    engine.server.send(Bye())
    assert gather(listener, 6) == [*few, Bye()]
    gather(window, 1)
    many = notes(200)
    found = gather(listener, 1)
    assert len(found) * len(encode(many[0])) >= server.PATIENT_BYTES - 200
    clock = ClockChanged(
        state="looping", running=True, pass_index=3, anchor_sec=1.0, anchor_q=0.0, qpm=96.0, pass_start_q=12.0, cycle="4/4", cycle_q=4.0
    )  # fmt: skip
    engine.server.send(Said(text="so"), clock)
    assert found + gather(listener, 202 - len(found)) == [*many, Said(text="so"), clock]
    gather(window, 2)
    last = notes(1)
    engine.server.close()
    assert gather(listener, 1) == last
    window.close()


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
    return encode(Hello(protocol=PROTOCOL, role="test", token=token))


def frame(body: bytes) -> bytes:
    return wire.HEAD.pack(len(body)) + body


BAD = [
    b"not json", b"[1,2]", b'{"data":{}}', b'{"kind":"bye","data":3}', b"\xff\xfe", b'{"kind":7}', b'{"kind":"welcome"}',
    b'{"kind":"bye","time_sec":1' + b"0" * 400 + b"}", b'{"kind":"bye","time_sec":NaN}', b'{"kind":"bye","time_sec":1e999}',
    b'{"kind":"bye","time_sec":' + b"1" * 5000 + b"}", b'{"kind":"bye","more":1,"data":{"x":1}}', b"[" * 100_000,
    b'{"kind":"command","data":{"name":3}}', b'{"kind":"command","data":{"name":"x","args":[]}}',
    b'{"kind":"command","data":{"name":"x","args":{"a":1' + b"0" * 400 + b"}}}",
    b'{"kind":"command","data":{"name":"\\ud800"}}', b'{"kind":"hello","data":{"protocol":1}}',
    b'{"kind":"key_played","data":{"pitch":128,"on":true,"played_sec":0}}',
    b'{"kind":"key_played","data":{"pitch":true,"on":true,"played_sec":0}}',
]  # fmt: skip


@pytest.mark.parametrize("body", BAD, ids=range(len(BAD)))
def test_what_is_no_message_drops_only_that_client(address: str, body: bytes) -> None:
    """Before the greeting and after it; the other client goes on, and so does the next one."""
    engine = Engine(address)
    good = LinkClient(address)
    gather(good, 2)
    for first in (b"", hello(address)):
        with raw(address) as sock:
            sock.sendall(first + frame(body) + encode(Command(name="start")))
            while sock.recv(1 << 16):
                pass
    assert "message" not in engine.kinds()
    assert all(one[1].endswith(".") for one in engine.seen if one[0] == "problem") and "problem" in engine.kinds()
    engine.server.send(Said(text="still here"))
    assert gather(good, 1) == [Said(text="still here")]
    good.send(Command(name="stop"))
    until(lambda: ("message", 1, Command(name="stop")) in engine.seen)
    good.close()
    engine.server.close()


def test_a_token_in_other_letters_is_turned_away(address: str) -> None:
    engine = Engine(address)
    with raw(address) as sock:
        sock.sendall(encode(Hello(protocol=PROTOCOL, token="ключ")))
        assert sock.recv(100) == b""
    again = LinkClient(address)
    gather(again, 2)
    again.close()
    engine.server.close()


@pytest.mark.parametrize("greeted", [False, True])
def test_idle_connections_leave_room_for_the_window(address: str, greeted: bool) -> None:
    engine = Engine(address)
    idle = [raw(address) for _ in range(3 * server.MAX_CLIENTS)]
    if greeted:
        for sock in idle:
            with contextlib.suppress(OSError):
                sock.sendall(hello(address))
    client = LinkClient(address)
    gather(client, 2)
    for sock in idle:
        sock.close()
    client.close()
    engine.server.close()


def test_who_does_not_greet_is_dropped(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "GREET_SEC", 0.2)
    engine = Engine(address)
    with raw(address) as sock:
        assert sock.recv(100) == b""
    engine.server.close()


def test_who_says_too_much_is_dropped(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    # So few that they arrive within a second on a busy machine, too.
    monkeypatch.setattr(server, "MOST_MESSAGES", 100)
    engine = Engine(address)
    with raw(address) as sock, contextlib.suppress(OSError):
        sock.sendall(hello(address))
        until(lambda: "joined" in engine.kinds())
        sock.sendall(encode(Command(name="start")) * 2000)
        while sock.recv(1 << 16):
            pass
    until(lambda: "left" in engine.kinds())
    assert engine.kinds().count("message") <= server.MOST_MESSAGES
    engine.server.close()


def test_a_mistake_of_ours_with_one_client_leaves_the_others(address: str, capfd: pytest.CaptureFixture[str]) -> None:
    engine = Engine(address)
    good, other = LinkClient(address), LinkClient(address)
    gather(good, 2), gather(other, 2)

    def fail(client: int, one: Message) -> None:
        raise RuntimeError("on purpose")

    engine.server._on_message = fail
    other.send(Command(name="start"))
    until(lambda: other.poll() == [] and other.closed)
    engine.server.send(Said(text="still here"))
    assert gather(good, 1) == [Said(text="still here")]
    assert "on purpose" in capfd.readouterr().err
    good.close()
    engine.server.close()


def test_broken_framing_drops_only_that_client(address: str) -> None:
    engine = Engine(address)
    good = LinkClient(address)
    gather(good, 2)
    with raw(address) as sock:
        sock.sendall(hello(address))
        until(lambda: engine.kinds().count("joined") == 2)
        sock.sendall(wire.HEAD.pack(1 << 30) + b"xxxx")
        until(lambda: "left" in engine.kinds())
    engine.server.send(Said(text="still here"))
    assert gather(good, 1) == [Said(text="still here")]
    good.close()
    engine.server.close()


def test_a_stranger_is_turned_away(address: str) -> None:
    engine = Engine(address)
    with raw(address) as sock:
        wrong: Message = (
            Command(name="start") if address.startswith("unix") else Hello(protocol=PROTOCOL, token="wrong")
        )
        sock.sendall(encode(wrong))
        assert sock.recv(100) == b""
    assert engine.kinds() == ["problem"]
    engine.server.close()


def test_the_folder_is_for_its_owner_only() -> None:
    if not addresses.LOCAL_SOCKETS:
        pytest.skip("this system has no local sockets")
    where = new_address()
    folder = Path(where.partition(":")[2]).parent
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    forget_address(where)
    assert not folder.exists()


def test_frames_cut_anywhere() -> None:
    wanted: list[Message] = [Said(time_sec=1.0, text="♭"), NoteEnded(id=2, length_q=2.0), BriefChanged(fields={"a": 1})]
    stream = b"".join(map(encode, wanted))
    for size in (1, 2, 3, 7, 50, len(stream)):
        reader = FrameReader(FROM_ENGINE)
        found = [one for at in range(0, len(stream), size) for one in reader.feed(stream[at : at + size])]
        assert found == wanted


def test_what_json_cannot_say_is_refused() -> None:
    with pytest.raises(MessageError):
        encode(NoteEnded(id=1, length_q=math.nan))
    body = json.loads(encode(NoteEnded(time_sec=1.5, id=1, length_q=2.0))[4:])
    assert body == {"kind": "note_ended", "time_sec": 1.5, "data": {"id": 1, "length_q": 2.0, "bend": []}}


def test_a_whole_number_may_stand_for_any_number_but_not_the_other_way_round() -> None:
    kinds = kinds_of(FROM_WINDOW)
    body = '{"kind":"key_played","data":{"pitch":%s,"on":true,"played_sec":3}}'
    assert decode((body % 40).encode(), kinds) == KeyPlayed(pitch=40, on=True, played_sec=3.0)
    with pytest.raises(MessageError, match=r"key_played: pitch must be a whole number\.$"):
        decode((body % 40.0).encode(), kinds)
    with pytest.raises(MessageError, match=r"has no pitch\.$"):
        decode(b'{"kind":"key_played","data":{"on":true,"played_sec":3}}', kinds)


@pytest.mark.parametrize("kind", sorted({*FROM_ENGINE, *FROM_WINDOW}, key=lambda kind: kind.__name__))
def test_every_message_travels_unchanged(kind: type[Message]) -> None:
    one = example(kind)
    assert decode(encode(one)[wire.HEAD.size :], kinds_of((kind,))) == one


def example(kind: Any) -> Any:
    """A message, or a part of one, with something in every field."""
    values = {"bool": True, "int": 1, "float": 0.25, "str": "é"}

    def value(hint: Any) -> Any:
        origin, args = get_origin(hint), get_args(hint)
        if origin is Annotated:
            return value(args[0])
        if origin is tuple:
            return (value(args[0]),) * 2
        if origin is collections.abc.Mapping:
            return {"a": 1, "b": "x", "c": 0.5}
        if origin in (Union, types.UnionType):
            return value(args[0])
        return values[hint.__name__] if hint.__name__ in values else example(hint)

    hints = get_type_hints(kind, include_extras=True)
    names = [one.name for one in dataclasses.fields(kind)] if dataclasses.is_dataclass(kind) else kind._fields
    return kind(**{name: value(hints[name]) for name in names})


def test_a_wrong_address_is_a_sentence() -> None:
    with pytest.raises(LinkError, match="not an address"):
        LinkClient("somewhere", wait_sec=0.0)
    with pytest.raises(LinkError, match="does not answer"):
        LinkClient("unix:/nowhere/at/all" if addresses.LOCAL_SOCKETS else "tcp:1:a", wait_sec=0.01)
