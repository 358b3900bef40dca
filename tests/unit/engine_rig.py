"""An engine without a process, a port, a sound card or a socket: fakes that note, in one list, what
it does to the world, in order.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from loopdeck.audio.levels import Levels
from loopdeck.audio.output import NoSound
from loopdeck.audio.routes import Routes
from loopdeck.brief.brief import Brief
from loopdeck.engine.build import Devices, OnChange, OnMidi, build
from loopdeck.engine.engine import Engine
from loopdeck.engine.events import ClientJoined, ClientLeft, Event, Inbox, MessageArrived, MidiArrived
from loopdeck.looper.voices import Out
from loopdeck.midi.port import Port, System
from loopdeck.process.clock import Clock, SimClock
from loopdeck.process.options import MidiOptions, Options
from loopdeck.protocol.messages import Command, Message


class FakePorts:
    """One input and one output; ``sent`` has what went out, with its moment."""

    polled = False

    def __init__(self, did: list[str], clock: SimClock) -> None:
        self.did, self.clock = did, clock
        self.abandoned: list[Any] = []
        self.sent: list[tuple[float, bytes]] = []
        self.silenced = 0
        self.system: System | None = System(2, "Fake", True)
        self.on_list: Callable[[list[str], list[str]], None] = lambda ins, outs: None
        self.chosen: list[tuple[str, int, str, str]] = []
        self.state = "connected"
        self.on_midi: OnMidi = lambda port, data, delta_sec: None
        self.on_change: OnChange = lambda port, sentence: None

    def choose(self, role: str, number: int, wanted: str, lasting: str) -> None:
        self.chosen.append((role, number, wanted, lasting))

    def send(self, data: bytes) -> None:
        self.sent.append((self.clock.now(), data))

    def silence(self) -> None:
        self.silenced += 1
        self.did.append("ports silence")

    def poll(self) -> bool:
        return False

    def open(self) -> None:
        self.did.append("ports open")

    def watch(self) -> None: ...

    def close(self) -> None:
        self.did.append("ports close")

    def devices(self) -> list[dict[str, str]]:
        return [
            {"role": "in", "name": "bass", "state": self.state},
            {"role": "out", "name": "box", "state": "connected"},
        ]

    def change(self, role: str, live: bool, sentence: str) -> None:
        """A device goes or comes."""
        self.on_change(Port(role, "bass", 0 if role == "in" else -1, live=live, name="bass"), sentence)


class FakeSound(NoSound):
    """A sound that notes what it is handed."""

    present = True

    def __init__(self, did: list[str], clock: SimClock, route: str) -> None:
        super().__init__("", clock)
        self.did = did
        self.routes = Routes(route)
        self.handed: list[Out] = []

    def hand(self, out: Out) -> None:
        if self.routes.sound(out.part):
            self.handed.append(out)

    def apply(self, name: str, args: dict[str, Any]) -> tuple[str, bool]:
        return self.levels.apply(name, args)[1], False

    def set(self, levels: Levels) -> None:
        self.levels = levels

    def silence(self) -> None:
        self.did.append("sound silence")

    def report(self) -> dict[str, Any]:
        return {"late": 0}

    def end(self) -> None:
        self.did.append("sound end")


class FakeLink:
    """Notes what the window is told."""

    def __init__(self, did: list[str]) -> None:
        self.did = did
        self.told: list[Message] = []
        self.welcomed: dict[int, list[Message]] = {}

    def send(self, *messages: Message) -> None:
        self.told += messages

    def welcome(self, client: int, messages: list[Message]) -> None:
        self.welcomed[client] = messages

    def close(self) -> None:
        self.did.append("link close")


class FakeListener:
    """Notes when it is to listen."""

    def __init__(self, did: list[str]) -> None:
        self.did = did

    def start(self) -> None:
        self.did.append("listener start")

    def end(self) -> None:
        self.did.append("listener end")


class EngineRig:
    """An engine with fakes. ``did`` has, in order, what it did to the world."""

    def __init__(
        self, folder: Path, route: str = "midi", controls: str = "", first_come: bool = False, **more: Any
    ) -> None:
        self.did: list[str] = []
        self.clock = SimClock(100.0)
        self.ports = FakePorts(self.did, self.clock)
        self.sound = FakeSound(self.did, self.clock, route)
        self.link = FakeLink(self.did)
        self.listener = FakeListener(self.did)
        self.journal = folder / "one.journal"
        brief = Brief.default().replace(tempo="120", count_in=0, program=34)
        options = Options(
            address="", journal=str(self.journal), shelf=str(folder / "shelf.sqlite"), brief=brief.to_dict(),
            midi=MidiOptions(ins=("bass",), outs=("box",), controls=controls, first_come=first_come), recover="leave", **more,
        )  # fmt: skip

        def ports(options: Options, on_midi: OnMidi, on_change: OnChange) -> FakePorts:
            self.ports.on_midi, self.ports.on_change = on_midi, on_change
            return self.ports

        def link(address: str, inbox: Inbox, clock: Clock) -> FakeLink:
            return self.link

        devices = Devices(
            sound=lambda options, resume: (self.sound, ""),
            ports=ports,
            link=link,
            signals=lambda inbox: None,
            listener=lambda options, inbox: self.listener,
        )
        self.engine: Engine = build(options, devices)

    # ---- driving ---------------------------------------------------------------------------------

    def put(self, *events: Event) -> None:
        """Something arrives, and the engine has a turn."""
        for event in events:
            self.engine.parts.inbox.put(event)
        self.turn()

    def turn(self) -> None:
        self.engine.parts.inbox.waker.wake()
        self.engine.turn()

    def run_to(self, sec: float) -> None:
        """Let time pass in steps of a millisecond."""
        while self.clock.now() < sec:
            self.clock.move_to(min(self.clock.now() + 0.001, sec))
            self.turn()

    def command(self, name: str, /, **args: Any) -> None:
        self.put(MessageArrived(1, Command(name=name, args=args), self.clock.now()))

    def midi(self, data: bytes, port: int = 0) -> None:
        self.put(MidiArrived(port, data, 0.0, self.clock.now()))

    def join(self, client: int = 1, role: str = "window") -> None:
        self.put(ClientJoined(client, role))

    def leave(self, client: int = 1, bye: bool = False) -> None:
        self.put(ClientLeft(client, "window", bye))
